// The bench of the part Measure: the picture of a clip and the drafts of the
// animals in it, and what keys and buttons do to them.
import type { Clip } from '$lib/api/footage';
import { around, fixAt, type Moment, type Pixel } from '$lib/footage/draft';
import type { Player } from '$lib/footage/player.svelte';
import type { FramePicture } from '$lib/footage/source';
import { words } from '$lib/words';
import type { PassBook } from './footage-book.svelte';
import type { MeasureState } from './footage-measure.svelte';

const w = words.footageMeasure;

/** Step is what carrying answers: where the point is now, or why that is not sure. */
export interface Step {
  pixel: Pixel;
  why: string;
}

/** Carrying takes one point from picture to picture. */
export interface Carrying {
  step(picture: FramePicture): Step;
}

/** LoadCarrying gives what begins a carrying, from a picture with the point in it. */
export type LoadCarrying = () => Promise<(picture: FramePicture, clipWidth: number, pixel: Pixel) => Carrying>;

export class Bench {
  /** The crosshair of the keyboard. */
  cursor = $state<[number, number]>();
  carrying = $state(false);
  #stop = false;

  constructor(
    readonly state: MeasureState,
    readonly player: Player,
    readonly clip: Clip,
    private readonly load: LoadCarrying,
  ) {}

  get book(): PassBook | undefined {
    return this.state.book;
  }

  get frame(): number {
    return this.player.frame;
  }

  #say(text: string): void {
    this.state.said = text;
  }

  get #name(): string {
    return w.point(this.state.point);
  }

  choose(point: string): void {
    this.halt();
    this.state.point = point;
    // With the crosshair in use, it goes to where the new point is or may be.
    if (this.cursor) this.cursor = this.#expected() ?? this.cursor;
    this.#say(w.said.chosen(this.#name));
  }

  /** place fixes the point in the frame that is seen, and goes on. */
  place(pixel: Pixel): void {
    const { book, player } = this;
    if (!book?.draft) return;
    this.halt();
    // What is clicked is the picture that is seen, not one that is still to come.
    const frame = player.shown ?? player.frame;
    book.rest();
    book.place(this.state.point, frame, pixel);
    this.#say(w.said.placed(this.#name, frame));
    const to = player.times.within(frame + this.state.advance);
    if (to === frame) return;
    player.seek(to);
    if (this.cursor) this.cursor = this.#expected() ?? this.cursor;
  }

  /** aim puts the crosshair on the fix of this frame, or to where the point may be; again: away. */
  aim(): boolean {
    if (this.cursor) return false;
    const at = this.#expected();
    if (!at) return false; // the viewer's own place
    this.cursor = at;
    return true;
  }

  /** Where the point is or may be in this frame: its fix, between two fixes, or on from the last two. */
  #expected(): [number, number] | undefined {
    const { book, state, player } = this;
    const draft = book?.draft;
    if (!draft) return undefined;
    const here = fixAt(draft, state.point, player.frame);
    if (here) return [here.pixel[0], here.pixel[1]];
    const { before, after } = around(draft.fixes, state.point, player.frame);
    const near = before ?? after;
    if (!near) return undefined;
    const other = before && after ? after : before ? around(draft.fixes, state.point, before.frame).before : undefined;
    if (!other || Math.abs(player.frame - near.frame) > 60) return [near.pixel[0], near.pixel[1]];
    const s = (player.frame - near.frame) / (other.frame - near.frame);
    const [width, height] = [this.clip.width_px, this.clip.height_px];
    const x = near.pixel[0] + s * (other.pixel[0] - near.pixel[0]);
    const y = near.pixel[1] + s * (other.pixel[1] - near.pixel[1]);
    return [Math.min(width - 1, Math.max(0, x)), Math.min(height - 1, Math.max(0, y))];
  }

  remove(): void {
    this.halt();
    const done = this.book?.remove(this.state.point, this.frame) ?? false;
    this.#say(done ? w.said.removed(this.#name, this.frame) : w.said.nothing(this.#name, this.frame));
  }

  undo(): void {
    this.halt();
    if (this.book?.undo()) this.#say(w.said.undone);
  }

  redo(): void {
    this.halt();
    if (this.book?.redo()) this.#say(w.said.redone);
  }

  /** mark sets a moment to this frame. */
  mark(moment: Moment): void {
    const draft = this.book?.draft;
    if (!draft) return;
    if (draft[moment] !== this.frame) this.book?.mark(moment, this.frame);
    this.#say(w.said.moment(w.tools[moment], this.frame));
  }

  fill(everywhere: boolean): void {
    if (!this.book) return;
    this.halt();
    const { added, tooLong, most } = this.book.fill(this.state.point, everywhere ? null : this.frame);
    const parts = [
      added > 0 ? w.said.filled(added) : '',
      tooLong !== undefined ? w.said.fillLong(tooLong, most) : added === 0 ? w.said.fillNone : '',
    ];
    this.#say(parts.filter(Boolean).join(' '));
  }

  /** jump goes to the fix of the point before or after this frame. */
  jump(by: 1 | -1): void {
    const draft = this.book?.draft;
    if (!draft) return;
    const { before, after } = around(draft.fixes, this.state.point, this.frame);
    const to = by > 0 ? after : before;
    if (to) this.player.seek(to.frame);
  }

  /** halt ends carrying. */
  halt(): void {
    this.#stop = true;
  }

  /** carry takes the point on from its fix here, else from the last one before, until it is no longer sure; called while it does, it stops. */
  async carry(): Promise<void> {
    if (this.carrying) return this.halt();
    const { book, player, state } = this;
    const point = state.point;
    // Placing goes on by some frames: what was placed last is where to begin.
    const from =
      book?.draft && (fixAt(book.draft, point, player.frame) ?? around(book.draft.fixes, point, player.frame).before);
    if (!book || !from) return this.#say(w.said.carryNone(w.point(point)));
    this.carrying = true;
    this.#stop = false;
    this.cursor = undefined;
    book.rest();
    this.#say(w.said.carrying(w.point(point)));
    let n = 0;
    try {
      player.seek(from.frame);
      const last = Math.min(player.times.count - 1, book.draft?.end ?? Infinity);
      const start = await this.load();
      const first = await player.source.picture(from.frame);
      const carrying = start(first, this.clip.width_px, from.pixel);
      this.#say(await this.#carryOn(book, point, from.frame, last, carrying, () => n++));
    } catch {
      this.#say(w.said.carried(n, w.said.carryWhy.lost ?? ''));
    } finally {
      book.rest();
      this.carrying = false;
    }
  }

  /** #carryOn answers why it ended. */
  async #carryOn(
    book: PassBook,
    point: string,
    from: number,
    last: number,
    carrying: Carrying,
    count: () => void,
  ): Promise<string> {
    const { player } = this;
    let n = 0;
    for (let frame = from + 1; frame <= last; frame++) {
      const picture = await player.source.picture(frame);
      if (this.#stop) return w.said.carryStopped(n);
      const { pixel, why } = carrying.step(picture);
      if (why) {
        player.seek(frame);
        return w.said.carried(n, w.said.carryWhy[why] ?? why);
      }
      n++;
      count();
      const met = book.draft && fixAt(book.draft, point, frame);
      player.seek(frame);
      if (met?.how === 'placed') {
        const apart = Math.hypot(met.pixel[0] - pixel[0], met.pixel[1] - pixel[1]);
        return w.said.carryMet(n, apart);
      }
      book.carried(point, frame, pixel);
      // The picture and the keys come first.
      await new Promise((done) => setTimeout(done));
    }
    return last === player.times.count - 1 ? w.said.carryEnd(n) : w.said.carryPassEnd(n);
  }
}

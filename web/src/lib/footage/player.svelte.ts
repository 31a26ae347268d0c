// The player: which frame is asked for, which is shown, and whether time goes on.
// Marks are those of the pass that is looked at.
import { PictureError, type FramePicture, type FrameSource } from './source';
import { sheetOf, type Piece } from './strip';
import type { ClipTimes } from './times';

/** How fast it can play, times the clip's own speed. */
export const rates = [0.1, 0.25, 0.5, 1, 2, 4, 8] as const;

export interface Marks {
  start: number | undefined;
  onset: number | undefined;
  end: number | undefined;
}

export class Player {
  /** The frame that is asked for. */
  frame = $state(0);
  /** The frame whose picture is on the screen; undefined before the first. */
  shown = $state<number>();
  playing = $state(false);
  /** Times the clip's own speed; negative: backwards. */
  rate = $state(1);
  /** Set when the picture that is asked for has not come for a while. */
  late = $state(false);
  problem = $state.raw<PictureError>();
  marks = $state<Marks>({ start: undefined, onset: undefined, end: undefined });
  /** Told when a mark was set here. */
  onmark: ((marks: Marks) => void) | undefined;
  /** Draws a picture when it comes: the viewer's. */
  paint: ((picture: FramePicture, frame: number) => void) | undefined;

  readonly seconds = $derived.by(() => this.times.secondsOf(this.frame));
  /** The span that Home, End and the strip of pictures mean: the pass, or the whole clip. */
  readonly span = $derived.by((): [number, number] => {
    const from = this.marks.start ?? 0;
    const to = this.marks.end ?? this.times.count - 1;
    return from <= to ? [from, to] : [0, this.times.count - 1];
  });

  /** The spans of the sheet of pictures, from the widest on; none: it is not shown. */
  #spans = $state.raw<[number, number][]>([]);
  readonly sheet = $derived(this.#spans.at(-1));
  readonly pieces = $derived.by((): Piece[] => (this.sheet ? sheetOf(this.sheet, this.times) : []));
  readonly sheetDepth = $derived(this.#spans.length);

  #busy = false;
  #anew = false;
  #closed = false;
  #lateTimer: ReturnType<typeof setTimeout> | undefined;

  constructor(
    readonly times: ClipTimes,
    readonly source: FrameSource,
  ) {}

  step(frames: number): void {
    this.pause();
    this.#go(this.frame + frames);
  }

  /** skip goes by seconds of the clip. */
  skip(seconds: number): void {
    this.pause();
    const to = this.times.frameAt(this.seconds + seconds);
    this.#go(to === this.frame ? to + Math.sign(seconds) : to);
  }

  seek(frame: number): void {
    this.pause();
    this.#go(frame);
  }

  /** again asks for the picture that is shown once more: the light has changed, or it was lost. */
  again(): void {
    this.problem = undefined;
    this.#anew = true;
    void this.#show();
  }

  #go(frame: number): void {
    this.frame = this.times.within(frame);
    void this.#show();
  }

  /** show gets the newest frame that is asked for; those between are left out. */
  async #show(): Promise<void> {
    if (this.#busy || this.#closed || (!this.#anew && this.shown === this.frame)) return;
    this.#busy = true;
    this.#anew = false;
    this.#lateTimer = setTimeout(() => (this.late = true), 300);
    const frame = this.frame;
    try {
      const picture = await this.source.picture(frame);
      if (this.#closed) return;
      this.paint?.(picture, frame);
      this.shown = frame;
      this.problem = undefined;
    } catch (e) {
      if (this.#closed) return;
      this.playing = false;
      this.problem = e instanceof PictureError ? e : new PictureError('lost', String(e));
    } finally {
      this.#busy = false;
      clearTimeout(this.#lateTimer);
      this.late = false;
    }
    if (this.frame !== frame || this.#anew) void this.#show();
  }

  play(rate = this.rate): void {
    this.rate = rate;
    if (this.playing || this.#closed) return;
    this.playing = true;
    let at = this.seconds;
    const from = this.frame;
    let before = performance.now();
    const tick = (now: number): void => {
      if (!this.playing || this.#closed) return;
      // A picture that is late holds time up: none is passed over because of it.
      if (!this.#busy) at += ((now - before) / 1000) * this.rate;
      before = now;
      const to = this.times.frameAt(at);
      // Played into the end of the pass it stops there; from beyond, at the end of the clip.
      const last = from < this.span[1] ? this.span[1] : this.times.count - 1;
      const end = this.rate < 0 ? to <= 0 : to >= last;
      this.#go(end && this.rate > 0 ? last : to);
      if (end) this.playing = false;
      else requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
  }

  pause(): void {
    this.playing = false;
  }

  toggle(): void {
    if (this.playing) return this.pause();
    // At the end of the pass it begins again.
    const [from, to] = this.span;
    if (this.frame >= to) this.#go(from);
    this.play(Math.abs(this.rate));
  }

  /** shuttle plays that way, and faster when it does already. */
  shuttle(way: 1 | -1): void {
    if (this.playing && Math.sign(this.rate) === way) return this.faster();
    if (this.playing) this.rate = -this.rate;
    else this.play(way);
  }

  /** mark sets a mark to the frame that is shown; a mark that stands there already is taken away. */
  mark(which: keyof Marks): void {
    const marks = { ...this.marks, [which]: this.marks[which] === this.frame ? undefined : this.frame };
    this.marks = marks;
    this.onmark?.(marks);
  }

  openSheet(): void {
    this.pause();
    this.#spans = [this.span];
  }

  /** sheetUp goes back to the sheet before, and from the first to the picture. */
  sheetUp(): void {
    this.#spans = this.#spans.slice(0, -1);
  }

  closeSheet(): void {
    this.#spans = [];
  }

  /** choose goes to a picture of the sheet; what lies between it and the next is the next sheet. */
  choose(piece: Piece): void {
    this.seek(piece.frame);
    this.#spans = piece.last > piece.frame ? [...this.#spans, [piece.frame, piece.last]] : [];
  }

  faster(): void {
    this.#rate(1);
  }

  slower(): void {
    this.#rate(-1);
  }

  #rate(by: number): void {
    const at = rates.findIndex((r) => r >= Math.abs(this.rate));
    const next = rates[Math.max(0, Math.min(rates.length - 1, at + by))]!;
    this.rate = this.rate < 0 ? -next : next;
  }

  close(): void {
    this.#closed = true;
    this.playing = false;
    clearTimeout(this.#lateTimer);
    this.source.close();
  }
}

// One pass that is being measured: its draft is tried with the program after every
// change, and kept in the browser until it is saved.
import { asProblem, type RequestError } from '$lib/api/client';
import type { FootageProgram, MeasuredPass } from '$lib/api/footage';
import {
  counts,
  draftOf,
  fill,
  fixAt,
  longestFill,
  mark,
  put,
  remove,
  requestOf,
  same,
  setHeight,
  Steps,
  type Draft,
  type MadeFix,
  type Moment,
  type Pixel,
} from '$lib/footage/draft';
import type { DraftStore } from '$lib/footage/draft-store';
import { laidOf } from '$lib/footage/reading';
import { Answer } from './answer.svelte';

const restMs = 150; // dragging a point asks many times a second

/** PassBook is one pass that is being measured. */
export class PassBook {
  /** As it stands in the study. */
  stored = $state.raw<MeasuredPass>();
  draft = $state.raw<Draft>();
  problem = $state.raw<RequestError>();
  /** What the program makes of the draft. */
  readonly answer = new Answer<MeasuredPass>(restMs);
  readonly #steps = new Steps();
  canUndo = $state(false);
  canRedo = $state(false);
  /** A draft of before that was not saved: when it was kept, and whether the study was changed since. */
  restored = $state.raw<{ keptMs: number; stale: boolean }>();
  /** False while the browser refuses to keep the draft. */
  kept = $state(true);
  saving = $state(false);
  /** Set by a save that was carried out, until the next change. */
  saved = $state(false);
  refused = $state.raw<RequestError>();
  /** What somebody else saved meanwhile. */
  theirs = $state.raw<MeasuredPass>();
  #etag = '';
  #asked = 0;
  #base = $state.raw<Draft>();
  #keeping: Promise<unknown> = Promise.resolve();
  /** One write waits that has not begun: it will find the newest draft. */
  #keepAsked = false;
  #loading: Promise<void> | undefined;

  readonly dirty = $derived(this.draft !== undefined && this.#base !== undefined && !same(this.draft, this.#base));
  /** The newest answer, or what is stored before the first. */
  readonly view = $derived(this.answer.value ?? this.stored);
  readonly counts = $derived(this.draft ? counts(this.draft) : { placed: 0, carried: 0, filled: 0 });
  /** The fixes of the draft, the filled ones where the program lays them. */
  readonly fixes = $derived.by((): readonly MadeFix[] => {
    const draft = this.draft;
    if (!draft) return [];
    const laid = this.answer.old ? {} : laidOf(this.view);
    return draft.fixes.map((f) => {
      const pixel = f.how === 'filled' ? laid[`${f.frame} ${f.point}`] : undefined;
      return pixel ? { ...f, pixel: [pixel[0] ?? 0, pixel[1] ?? 0] as const } : f;
    });
  });

  constructor(
    readonly pass: string,
    private readonly program: FootageProgram,
    private readonly store: DraftStore,
    private readonly author: () => string,
    private readonly told: (pass: string, unsaved: boolean) => void,
  ) {}

  /** load reads what is saved, and a draft that was not; clip is the one that it falls into where it names none. */
  load(clip: string): Promise<void> {
    // Asked for again while it is read: what is being changed by then must stay.
    if (this.draft) return Promise.resolve();
    this.#loading ??= this.#load(clip).finally(() => (this.#loading = undefined));
    return this.#loading;
  }

  async #load(clip: string): Promise<void> {
    try {
      const stored = await this.program.pass(this.pass);
      this.#take(stored, clip);
      this.problem = undefined;
      const kept = await this.store.get(this.pass).catch(() => undefined);
      if (kept && this.draft && !same(kept.draft, this.draft)) {
        this.restored = { keptMs: kept.keptMs, stale: kept.etag !== stored.etag };
        // Saving it must not pass over what was changed meanwhile: the tag of then goes with it.
        this.#etag = kept.etag;
        this.draft = kept.draft;
        this.#ask();
      }
      this.told(this.pass, this.dirty);
    } catch (e) {
      this.problem = asProblem(e);
    }
  }

  #take(stored: MeasuredPass, clip: string): void {
    this.stored = stored;
    this.#etag = stored.etag;
    this.answer.stop();
    this.answer.value = undefined;
    this.#base = draftOf(stored, stored.clip || clip);
    this.draft = this.#base;
  }

  /** again reads what is saved anew where nothing is being changed here. */
  async again(): Promise<void> {
    if (this.dirty || this.saving || !this.draft) return;
    const { clip } = this.draft;
    try {
      const stored = await this.program.pass(this.pass);
      if (!this.dirty && !this.saving) this.#take(stored, clip);
    } catch {
      // what is shown stays; saving would tell what is wrong
    }
  }

  /** change makes a new draft, which can be undone; changes of one name in a row are one step. */
  change(to: Draft, name = ''): void {
    if (!this.draft || to === this.draft) return;
    this.#steps.note(this.draft, name);
    this.#set(to);
  }

  /** rest ends a row of changes that are one step. */
  rest(): void {
    this.#steps.rest();
  }

  undo(): boolean {
    return this.#back(this.draft && this.#steps.undo(this.draft));
  }

  redo(): boolean {
    return this.#back(this.draft && this.#steps.redo(this.draft));
  }

  #back(to: Draft | undefined): boolean {
    if (to) this.#set(to);
    return to !== undefined;
  }

  #set(to: Draft): void {
    this.draft = to;
    this.saved = false;
    this.refused = undefined;
    this.#told();
    this.#keep();
    this.#ask();
  }

  #told(): void {
    this.canUndo = this.#steps.canUndo;
    this.canRedo = this.#steps.canRedo;
    this.told(this.pass, this.dirty);
  }

  /** #keep writes the newest draft after those before it. */
  #keep(): void {
    if (this.#keepAsked) return;
    this.#keepAsked = true;
    this.#keeping = this.#keeping.then(async () => {
      this.#keepAsked = false;
      const draft = this.draft;
      if (!draft) return;
      try {
        if (this.dirty)
          await this.store.put({ draft: $state.snapshot(draft) as Draft, etag: this.#etag, keptMs: Date.now() });
        else await this.store.drop(this.pass);
        this.kept = true;
      } catch {
        this.kept = false;
      }
    });
  }

  /** settled is when the draft lies in the browser. */
  settled(): Promise<unknown> {
    return this.#keeping;
  }

  /** askAgain asks what was asked before: the field was not worked out yet. */
  askAgain(): void {
    if (this.dirty) this.#ask(++this.#asked);
    else void this.again();
  }

  #ask(again = this.#asked): void {
    const draft = this.draft;
    if (!draft) return;
    const request = requestOf(draft, this.stored?.etag ?? '', this.author(), false);
    this.answer.ask(`${again} ${JSON.stringify(request)}`, (signal) => this.program.fixes(request, signal));
  }

  place(point: string, frame: number, pixel: Pixel, moving = false): void {
    if (this.draft)
      this.change(
        put(this.draft, point, frame, pixel, 'placed', this.author()),
        moving ? `move ${point} ${frame}` : '',
      );
  }

  carried(point: string, frame: number, pixel: Pixel): void {
    if (this.draft) this.change(put(this.draft, point, frame, pixel, 'carried', this.author()), `carry ${point}`);
  }

  remove(point: string, frame: number): boolean {
    if (!this.draft || !fixAt(this.draft, point, frame)) return false;
    this.change(remove(this.draft, point, frame));
    return true;
  }

  /** fill answers how many frames were filled, and the shortest stretch that was too long. */
  fill(point: string, frame: number | null): { added: number; tooLong: number | undefined; most: number } {
    const none = { added: 0, tooLong: undefined, most: longestFill };
    if (!this.draft) return none;
    const { draft, added, tooLong } = fill(this.draft, point, frame, this.author());
    if (added > 0) this.change(draft);
    return { added, tooLong: tooLong.length > 0 ? Math.min(...tooLong) : undefined, most: longestFill };
  }

  mark(moment: Moment, frame: number | null): void {
    if (this.draft) this.change(mark(this.draft, moment, frame));
  }

  heights(heights: Draft['heights']): void {
    if (this.draft) this.change({ ...this.draft, heights }, 'heights');
  }

  height(point: string, frame: number, lowCm: number | null, highCm: number | null): void {
    if (this.draft) this.change(setHeight(this.draft, point, frame, lowCm, highCm), `height ${point} ${frame}`);
  }

  inClip(clip: string): void {
    if (this.draft) this.change({ ...this.draft, clip });
  }

  /** save writes the draft as one edit; true when it was done. */
  async save(replaceTrack = false): Promise<boolean> {
    const draft = this.draft;
    if (!draft || this.saving) return false;
    this.saving = true;
    this.refused = undefined;
    try {
      const request = requestOf(draft, this.#etag, this.author(), true);
      const stored = await this.program.fixes(replaceTrack ? { ...request, replace_track: true } : request);
      const changedMeanwhile = this.draft !== draft ? this.draft : undefined;
      this.#take(stored, draft.clip);
      if (changedMeanwhile) this.draft = changedMeanwhile;
      this.restored = undefined;
      this.theirs = undefined;
      this.#told();
      this.#keep();
      await this.#keeping; // who closes the window at "saved" must meet no draft next time
      this.saved = !this.dirty || !!changedMeanwhile;
      if (changedMeanwhile) this.#ask();
      return true;
    } catch (e) {
      const problem = asProblem(e);
      if (problem.status === 412 || problem.status === 409) await this.#meet(problem);
      else this.refused = problem;
      return false;
    } finally {
      this.saving = false;
    }
  }

  /** #meet looks whether somebody else saved; a refusal of another kind is told as it is. */
  async #meet(problem: RequestError): Promise<void> {
    try {
      const theirs = await this.program.pass(this.pass);
      if (theirs.etag !== this.#etag) this.theirs = theirs;
      else this.refused = problem;
    } catch {
      this.refused = problem;
    }
  }

  /** keepMine saves this draft in the place of theirs. */
  async keepMine(replaceTrack = false): Promise<boolean> {
    if (!this.theirs) return false;
    this.#etag = this.theirs.etag;
    this.theirs = undefined;
    return this.save(replaceTrack);
  }

  /** takeTheirs shows what they saved; this draft can be come back to by undoing. */
  takeTheirs(): void {
    const theirs = this.theirs;
    if (!theirs || !this.draft) return;
    this.#steps.note(this.draft);
    this.#take(theirs, this.draft.clip);
    this.theirs = undefined;
    this.restored = undefined;
    this.#told();
    this.#keep();
  }

  /** drop throws the draft away and shows what is saved; it can be come back to by undoing. */
  async drop(): Promise<void> {
    if (!this.draft) return;
    this.restored = undefined;
    this.#steps.note(this.draft);
    if (this.#base) this.draft = this.#base;
    this.#told();
    this.#keep();
    await this.again();
  }
}

// The part Measure: the passes that are being measured in this window, and with
// which point and step.
import { SvelteMap, SvelteSet } from 'svelte/reactivity';
import type { FootageProgram } from '$lib/api/footage';
import type { DraftStore } from '$lib/footage/draft-store';
import { PassBook } from './footage-book.svelte';

export class MeasureState {
  readonly #books = new SvelteMap<string, PassBook>();
  /** Passes with a draft that is not saved. */
  readonly drafts = new SvelteSet<string>();
  /** The pass that is measured, or "". */
  pass = $state('');
  /** The point that is fixed next. */
  point = $state('snout');
  /** Marks by name that were begun here; those of fixes come beside them. */
  names = $state.raw<readonly string[]>([]);
  /** Frames to go on by after a point was placed. */
  advance = $state(1);
  /** What has just happened, for those who hear it. */
  said = $state('');
  readonly book = $derived(this.#books.get(this.pass));

  constructor(
    private readonly program: FootageProgram,
    private readonly store: DraftStore,
    private readonly author: () => string,
  ) {}

  /** begin looks which passes have a draft. */
  async begin(): Promise<void> {
    try {
      for (const pass of await this.store.passes()) this.drafts.add(pass);
    } catch {
      // a browser that keeps nothing has kept nothing
    }
  }

  /** opened is the book of a pass, made and read when it is first asked for. */
  opened(pass: string): PassBook | undefined {
    return this.#books.get(pass);
  }

  async open(pass: string, clip: string): Promise<PassBook> {
    const known = this.#books.get(pass);
    const book =
      known ?? new PassBook(pass, this.program, this.store, this.author, (p, unsaved) => this.#told(p, unsaved));
    this.#books.set(pass, book);
    await book.load(clip);
    return book;
  }

  #told(pass: string, unsaved: boolean): void {
    if (unsaved) this.drafts.add(pass);
    else this.drafts.delete(pass);
  }

  /** again reads every pass anew that is not being changed. */
  async again(): Promise<void> {
    await Promise.all([...this.#books.values()].map((b) => b.again()));
  }

  /** pointsOf are all that can be fixed: the study's, those begun here, and those that have fixes. */
  pointsOf(study: readonly string[]): string[] {
    const used = this.book?.draft?.fixes.map((f) => f.point) ?? [];
    const all = [...study, ...this.names, ...used];
    return all.filter((point, i) => all.indexOf(point) === i);
  }

  name(point: string): void {
    const name = point.trim().replace(/\s+/g, ' ');
    if (!name) return;
    if (!this.names.includes(name)) this.names = [...this.names, name];
    this.point = name;
  }
}

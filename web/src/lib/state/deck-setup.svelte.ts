// The part Setup: the draft of the lists, and how saving them stands.
import { asProblem, type RequestError } from '$lib/api/client';
import type { DeckProgram } from '$lib/api/deck';
import type { Deck } from '$lib/api/types';
import { draftOf, faultsOf, moved, placeHere, specOf, type ListName, type SetupDraft } from './deck-setup';
import { sentenceCase } from '$lib/words/numbers';
import { noFaults } from './knobs';

/** changed: somebody else saved meanwhile, and theirs is shown beside this one. */
export type Keeping = 'idle' | 'saving' | 'saved' | 'changed' | 'failed';

export class DeckSetup {
  /** What the draft began from. */
  base = $state.raw<Deck>();
  draft = $state.raw<SetupDraft>();
  keeping = $state<Keeping>('idle');
  problem = $state.raw<RequestError>();
  theirs = $state.raw<Deck>();
  /** What the program refused of what was sent, by place; forgotten with the next change. */
  refused = $state.raw<Readonly<Record<string, string>>>({});
  readonly faults = $derived(this.draft ? faultsOf(this.draft, this.refused) : noFaults);
  readonly turned = $derived(
    this.draft !== undefined && this.base !== undefined && bare(this.draft) !== bare(draftOf(this.base.spec)),
  );
  #next = 1000;

  constructor(private readonly program: DeckProgram) {}

  /** begin takes what the program says, unless something was changed here. */
  begin(view: Deck): void {
    if (this.keeping === 'saving' || (this.draft && this.turned)) return;
    if (this.base?.etag === view.etag && this.draft) {
      this.base = view;
      return;
    }
    this.base = view;
    this.draft = draftOf(view.spec);
  }

  turn(change: Partial<SetupDraft>): void {
    if (!this.draft) return;
    this.draft = { ...this.draft, ...change };
    this.refused = {};
    if (this.keeping === 'saved' || this.keeping === 'failed') this.keeping = 'idle';
  }

  /** turnRow changes one row of a list. */
  turnRow<L extends ListName>(list: L, i: number, change: Partial<SetupDraft[L][number]>): void {
    if (!this.draft) return;
    const rows = this.draft[list].map((row, j) => (j === i ? { ...row, ...change } : row));
    this.turn({ [list]: rows } as Partial<SetupDraft>);
  }

  add(list: ListName): number {
    if (!this.draft) return -1;
    const key = this.#next++;
    const rows = {
      responses: { key, word: '', label: '', turned: '', bit: '', electrode: false },
      heights: { key, word: '', low: this.draft.heights.at(-1)?.high ?? '0', high: '' },
      checks: { key, word: '', label: '' },
    };
    this.turn({ [list]: [...this.draft[list], rows[list]] } as Partial<SetupDraft>);
    return key;
  }

  remove(list: ListName, i: number): void {
    if (!this.draft) return;
    const rows: readonly object[] = this.draft[list];
    this.turn({ [list]: rows.filter((_, j) => j !== i) } as Partial<SetupDraft>);
  }

  move(list: ListName, i: number, by: -1 | 1): void {
    if (!this.draft) return;
    const rows: readonly object[] = this.draft[list];
    this.turn({ [list]: moved(rows, i, by) } as Partial<SetupDraft>);
  }

  /** leave gives up what was changed here. */
  leave(): void {
    if (!this.base) return;
    this.draft = draftOf(this.base.spec);
    this.keeping = 'idle';
    this.problem = undefined;
  }

  /** save writes the lists; over: whatever somebody else saved meanwhile. */
  async save(author: string, over = false): Promise<boolean> {
    const { base, draft, theirs } = this;
    if (!base || !draft || this.keeping === 'saving' || this.faults.size > 0) return false;
    const etag = over && theirs ? theirs.etag : base.etag;
    this.keeping = 'saving';
    this.problem = undefined;
    try {
      const view = await this.program.setup(specOf(draft, base.spec.format), etag, author);
      this.base = view;
      this.draft = draftOf(view.spec);
      this.theirs = undefined;
      this.keeping = 'saved';
      return true;
    } catch (e) {
      await this.#refused(asProblem(e), etag);
      return false;
    }
  }

  /** take gives up what stands here for what somebody else saved. */
  take(): void {
    if (!this.theirs) return;
    this.base = this.theirs;
    this.draft = draftOf(this.theirs.spec);
    this.theirs = undefined;
    this.problem = undefined;
    this.keeping = 'idle';
  }

  async #refused(problem: RequestError, etag: string): Promise<void> {
    this.problem = problem;
    this.keeping = 'failed';
    this.refused = Object.fromEntries(
      problem.details.map((d) => [placeHere(d.location), sentenceCase(d.message)]).filter(([place]) => place),
    ) as Record<string, string>;
    if (problem.status !== 412 && problem.status !== 409) return;
    try {
      const now = await this.program.view();
      if (now.etag === etag) return;
      this.theirs = now;
      this.keeping = 'changed';
    } catch {
      // what was refused is said as it is
    }
  }
}

/** bare is the draft without its keys, to be compared. */
const bare = (draft: SetupDraft): string =>
  JSON.stringify(draft, (name, value: unknown) => (name === 'key' ? 0 : value));

// The tables of one study as they are being worked on in this window. They are
// kept while the window lasts, with what can be undone and what is not saved.
import { SvelteMap, SvelteSet } from 'svelte/reactivity';
import { asProblem, RequestError } from '$lib/api/client';
import { programOf, type Entry, type NewRow, type StudyProgram, type TableName } from '$lib/api/studies';
import { TableState } from '$lib/state/tables.svelte';
import { writer } from '$lib/state/writer.svelte';
import { HistoryState, JournalState } from './entries.svelte';
import { Session } from './session.svelte';

export class StudyTables {
  names = $state.raw<readonly TableName[]>();
  problem = $state.raw<RequestError>();
  /** Goes with every change until it is cleared. */
  reason = $state('');
  readonly session: Session;
  readonly history: HistoryState;
  readonly journal: JournalState;
  readonly #open = new SvelteMap<string, TableState>();
  readonly unsaved = $derived([...this.#open.values()].reduce((n, t) => n + t.unsaved, 0));

  constructor(readonly program: StudyProgram) {
    this.session = new Session(program, (entries) => this.tell(entries));
    this.history = new HistoryState(program);
    this.journal = new JournalState(program);
  }

  readonly #listeners = new SvelteSet<(entries: readonly Entry[]) => void>();

  /** listen is told of everything that is written, until what it gives is called. */
  listen(heard: (entries: readonly Entry[]) => void): () => void {
    this.#listeners.add(heard);
    return () => void this.#listeners.delete(heard);
  }

  async load(): Promise<void> {
    try {
      this.names = await this.program.tables();
      this.problem = undefined;
    } catch (e) {
      this.problem = asProblem(e);
    }
  }

  /** opened is the state of a table that was asked for before. */
  opened(kind: string): TableState | undefined {
    return this.#open.get(kind);
  }

  /** table is the state of one table, made when it is first asked for. */
  table(kind: string): TableState {
    const open = this.#open.get(kind);
    if (open) return open;
    const made = new TableState(kind, this.program, (entries) => this.session.record(entries));
    this.#open.set(kind, made);
    return made;
  }

  async add(row: NewRow): Promise<void> {
    this.session.record((await this.program.edit({ add: [row], ...this.#why() })).entries);
  }

  async withdraw(kind: string, id: string): Promise<void> {
    this.session.record((await this.program.edit({ remove: [{ kind, id }], ...this.#why() })).entries);
  }

  #why(): { reason?: string } {
    const reason = this.reason.trim();
    return reason ? { reason } : {};
  }

  /** tell is called with everything that was written, also what cannot be taken back from here. */
  tell(entries: readonly Entry[]): void {
    for (const table of this.#open.values()) table.take(entries);
    this.history.take(entries);
    for (const heard of this.#listeners) heard(entries);
    if (this.journal.entries) void this.journal.load();
    if (entries.some((e) => e.act !== 'correct')) void this.load();
  }
}

const kept: Record<string, StudyTables> = Object.create(null);

/** tablesOf is the same for the life of the window. */
export const tablesOf = (study: string): StudyTables =>
  (kept[study] ??= new StudyTables(programOf(study, () => writer.name)));

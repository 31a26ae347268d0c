// One table of a study: the rows that were read so far, and what was typed and
// is not saved. Rows come in pages when they come into view.
import { SvelteMap, SvelteSet } from 'svelte/reactivity';
import { asProblem, RequestError } from '$lib/api/client';
import {
  placesOf,
  type Entry,
  type StudyProgram,
  type TableColumn,
  type TableRow,
  type TableView,
} from '$lib/api/studies';

export const pageRows = 1000;
/** So many pages are kept; those read longest ago go first. */
export const mostPages = 24;

/** A draft is what was typed into a cell and is not in the study. */
export interface Draft {
  typed: string;
  /** What the cell held when the draft was sent. */
  from: string;
  state: 'saving' | 'refused' | 'changed' | 'failed';
  /** Of a refused draft: what is wrong, each with its place where it is another cell. */
  why: { place: string; message: string }[];
  problem?: RequestError;
}

interface Page {
  rows: TableRow[];
  generation: number;
}

type Heading = Omit<TableView, 'rows'>;

export class TableState {
  heading = $state.raw<Heading>();
  /** Why the last page could not be read. */
  problem = $state.raw<RequestError>();
  readonly drafts = new SvelteMap<string, Draft>();
  /** Cells that were changed since the page was opened. */
  readonly touched = new SvelteSet<string>();

  readonly total = $derived(this.heading?.total ?? 0);
  readonly columns = $derived(this.heading?.columns ?? []);
  readonly unsaved = $derived(this.drafts.size);

  readonly #pages = new SvelteMap<number, Page>();
  /** Which generation of a page is being read. */
  readonly #asked = new SvelteMap<number, number>();
  #generation = 0;
  #view: [number, number] = [0, 1];

  constructor(
    readonly kind: string,
    private readonly program: StudyProgram,
    /** Called with what a saved change wrote. */
    private readonly wrote: (entries: Entry[]) => void,
  ) {}

  /** row is one row of the table, or nothing while it has not been read. */
  row(i: number): TableRow | undefined {
    return this.#pages.get(Math.floor(i / pageRows))?.rows[i % pageRows];
  }

  /** placeOf finds a row among those that were read; −1: not there. */
  placeOf(id: string): number {
    for (const [n, page] of this.#pages) {
      const i = page.rows.findIndex((r) => r.id === id);
      if (i >= 0) return n * pageRows + i;
    }
    return -1;
  }

  key = (id: string, field: string): string => `${field} ${id}`;

  /** need reads the pages that hold the rows from first up to end. */
  async need(first: number, end: number): Promise<void> {
    this.#view = [first, Math.max(end, first + 1)];
    const last = Math.floor((this.#view[1] - 1) / pageRows);
    const wanted: Promise<void>[] = [];
    for (let n = Math.floor(first / pageRows); n <= last; n++) wanted.push(this.#read(n));
    await Promise.all(wanted);
  }

  /** refresh reads what is in view again; the old rows stay until the new ones come. */
  async refresh(): Promise<void> {
    this.#generation++;
    await this.need(...this.#view);
  }

  async #read(n: number): Promise<void> {
    const generation = this.#generation;
    if (this.#pages.get(n)?.generation === generation || this.#asked.get(n) === generation) return;
    this.#asked.set(n, generation);
    try {
      const { rows, ...heading } = await this.program.table(this.kind, n * pageRows, pageRows);
      if (generation !== this.#generation) return;
      this.#pages.delete(n);
      this.#pages.set(n, { rows, generation });
      this.#forget();
      this.heading = heading;
      this.problem = undefined;
    } catch (e) {
      this.problem = asProblem(e);
    } finally {
      if (this.#asked.get(n) === generation) this.#asked.delete(n);
    }
  }

  #forget(): void {
    for (const n of this.#pages.keys()) {
      if (this.#pages.size <= mostPages) return;
      this.#pages.delete(n);
    }
  }

  /** cell is what the study holds. */
  cell(row: TableRow, field: string): string {
    return row.cells[this.columns.findIndex((c) => c.name === field)] ?? '';
  }

  /** shown is what the cell shows: what was typed, while it is not saved. */
  shown(row: TableRow, field: string): string {
    return this.drafts.get(this.key(row.id, field))?.typed ?? this.cell(row, field);
  }

  sealed(column: TableColumn): boolean {
    return column.guarded && (this.heading?.blind ?? false);
  }

  editable(column: TableColumn): boolean {
    return this.heading !== undefined && !this.heading.read_only && !this.sealed(column);
  }

  /** save sends one changed value; true once the study holds it. */
  async save(row: TableRow, field: string, typed: string, reason: string): Promise<boolean> {
    const key = this.key(row.id, field);
    const from = this.cell(row, field);
    if (this.drafts.get(key)?.state === 'saving') return false;
    if (typed === from) {
      this.drafts.delete(key);
      return true;
    }
    this.drafts.set(key, { typed, from, state: 'saving', why: [] });
    try {
      const change = { kind: this.kind, id: row.id, field, from, to: typed };
      const done = await this.program.edit({ changes: [change], ...(reason ? { reason } : {}) });
      this.drafts.delete(key);
      this.wrote(done.entries);
      return true;
    } catch (e) {
      this.drafts.set(key, await this.#refused({ typed, from, state: 'failed', why: [] }, row.id, field, asProblem(e)));
      return false;
    }
  }

  /** drop gives up what was typed. */
  drop(id: string, field: string): void {
    this.drafts.delete(this.key(id, field));
  }

  async #refused(draft: Draft, id: string, field: string, problem: RequestError): Promise<Draft> {
    if (problem.status === 422) {
      const why = placesOf(problem).map((p) => ({
        place:
          p.kind === this.kind && p.id === id && p.field === field ? '' : [p.id, p.field].filter(Boolean).join(', '),
        message: p.message,
      }));
      return { ...draft, state: 'refused', why: why.length > 0 ? why : [{ place: '', message: problem.message }] };
    }
    if (problem.status === 409) {
      await this.refresh();
      const at = this.placeOf(id);
      const row = at < 0 ? undefined : this.row(at);
      if (row && this.cell(row, field) !== draft.from) return { ...draft, state: 'changed' };
    }
    return { ...draft, state: 'failed', problem };
  }

  /** take carries what was written into the rows that were read. */
  take(entries: readonly Entry[]): void {
    let whole = false;
    for (const entry of entries) {
      // An entry about an assignment is about the guarded part of its trial.
      if (entry.kind !== this.kind && !(entry.kind === 'assignment' && this.kind === 'trial')) continue;
      const at = this.placeOf(entry.id);
      const row = at < 0 ? undefined : this.row(at);
      if (entry.act !== 'correct' || entry.table || !row) {
        whole = true;
        continue;
      }
      const cells = [...row.cells];
      for (const { field, to } of entry.values) {
        const column = this.columns.findIndex((c) => c.name === field);
        if (column < 0 || this.sealed(this.columns[column]!)) continue;
        cells[column] = to;
        this.touched.add(this.key(row.id, field));
      }
      this.#put(at, { ...row, cells, entries: row.entries + 1 });
    }
    if (whole) void this.refresh();
  }

  #put(at: number, row: TableRow): void {
    const n = Math.floor(at / pageRows);
    const page = this.#pages.get(n);
    if (page) this.#pages.set(n, { ...page, rows: page.rows.with(at % pageRows, row) });
  }
}

// The part Paper: the sheet that is being typed in, kept in the browser until it
// is sent, and sent as one edit.
import { asProblem, type RequestError } from '$lib/api/client';
import { placesOf, type Entry, type StudyProgram } from '$lib/api/studies';
import type { Deck } from '$lib/api/types';
import {
  addsOf,
  blankCells,
  blankTrial,
  columnOf,
  compared,
  faultsOfRow,
  firstFree,
  isBlank,
  newAnimals,
  paperColumns,
  paperName,
  settled,
  toBegin,
  trialFaults,
  type Cells,
  type Difference,
  type PaperColumn,
  type PaperRow,
  type PaperTrial,
  type RowFaults,
} from './paper';
import { isDate, type Shelf } from './paper-shelf';

export type Stage = 'first' | 'second' | 'compare';

interface Kept {
  date: string;
  scorer: string;
  rows: Cells[];
  second: Cells[];
  stage: Stage;
  trials: Record<string, PaperTrial>;
}

/** What the program refused, by row key and column. */
type Refused = Readonly<Record<string, string>>;
const noneRefused: Refused = {};

export class Paper {
  date = $state('');
  scorer = $state('');
  first = $state.raw<PaperRow[]>([]);
  second = $state.raw<PaperRow[]>([]);
  stage = $state<Stage>('first');
  trials = $state.raw<Record<string, PaperTrial>>({});
  /** Cells that were left once: only there "needed" is said before sending. */
  tried = $state(false);
  kept = $state(true);
  sending = $state(false);
  sent = $state.raw<{ n: number; first: string; last: string }>();
  problem = $state.raw<RequestError>();
  refused = $state.raw<Refused>(noneRefused);
  /** Sentences of a refusal that belong to no cell. */
  sentences = $state.raw<readonly string[]>([]);
  takenOut = $state.raw<{ row: PaperRow; at: number }>();

  readonly rows = $derived(this.stage === 'second' ? this.second : this.first);
  readonly filled = $derived(this.rows.filter((r) => !isBlank(r.cells)));
  readonly faults = $derived.by((): RowFaults[] =>
    this.rows.map((r, i) => faultsOfRow(r.cells, this.above(i), this.deck)),
  );
  readonly toBegin = $derived.by(() => toBegin(this.first, this.deck));
  readonly animals = $derived.by(() => newAnimals(this.filled, this.deck));
  readonly dateWrong = $derived(!isDate(this.date));
  readonly wrong = $derived(
    this.faults.reduce((n, row) => n + Object.keys(row).length, 0) +
      this.toBegin.reduce((n, t) => n + Object.keys(trialFaults(this.trials[t] ?? blankTrial)).length, 0) +
      (this.dateWrong ? 1 : 0),
  );
  readonly differences = $derived<Difference[]>(this.stage === 'compare' ? compared(this.first, this.second) : []);

  deck = $state.raw() as Deck;
  #next = 1;

  constructor(
    deck: Deck,
    private readonly program: Pick<StudyProgram, 'edit' | 'history'>,
    private readonly shelf: Shelf,
    private readonly wrote: (entries: Entry[]) => void,
    today: string,
  ) {
    this.deck = deck;
    this.date = today;
    this.#restore();
    if (this.first.length === 0) this.first = [this.#row()];
  }

  #row(trial = ''): PaperRow {
    return { key: this.#next++, cells: { ...blankCells(), trial } };
  }

  #restore(): void {
    let kept: Partial<Kept>;
    try {
      kept = (JSON.parse(this.shelf.read() ?? '{}') ?? {}) as Partial<Kept>;
    } catch {
      return; // kept by another version: nothing that can be read
    }
    const rows = (list: unknown): PaperRow[] =>
      (Array.isArray(list) ? (list as Partial<Cells>[]) : []).map((cells) => ({
        key: this.#next++,
        cells: Object.fromEntries(paperColumns.map((c) => [c, String(cells?.[c] ?? '')])) as Cells,
      }));
    if (typeof kept.date === 'string' && kept.date) this.date = kept.date;
    if (typeof kept.scorer === 'string') this.scorer = kept.scorer;
    this.first = rows(kept.rows);
    this.second = rows(kept.second);
    if (kept.stage === 'second' || kept.stage === 'compare') this.stage = kept.stage;
    if (kept.trials && typeof kept.trials === 'object')
      this.trials = Object.fromEntries(
        Object.entries(kept.trials as Record<string, Partial<PaperTrial> | null>).map(([id, t]) => [
          id,
          Object.fromEntries(
            Object.keys(blankTrial).map((f) => [f, String(t?.[f as keyof PaperTrial] ?? '')]),
          ) as unknown as PaperTrial,
        ]),
      );
  }

  /** keep is called after every change. */
  keep(): void {
    const rows = (list: readonly PaperRow[]) => list.map((r) => r.cells);
    const kept: Kept = {
      date: this.date,
      scorer: this.scorer,
      rows: rows(this.first),
      second: rows(this.second),
      stage: this.stage,
      trials: this.trials,
    };
    const something = [...this.first, ...this.second].some((r) => !isBlank(r.cells));
    this.kept = this.shelf.write(something ? JSON.stringify(kept) : '');
  }

  above(i: number): Cells | undefined {
    return this.rows[i - 1]?.cells;
  }

  #set(rows: PaperRow[]): void {
    if (this.stage === 'second') this.second = rows;
    else this.first = rows;
    this.sent = undefined;
    this.keep();
  }

  type(i: number, column: PaperColumn, text: string): void {
    const row = this.rows[i];
    if (!row) return;
    const value = text === '"' || text === '″' ? (this.above(i)?.[column] ?? '') : text;
    const at = `${row.key}/${column}`;
    if (this.refused[at]) this.refused = Object.fromEntries(Object.entries(this.refused).filter(([k]) => k !== at));
    this.#set(this.rows.map((r, j) => (j === i ? { ...r, cells: { ...r.cells, [column]: value } } : r)));
  }

  /** leave writes out what the letters of a cell mean. */
  leave(i: number, column: PaperColumn): void {
    const row = this.rows[i];
    if (!row) return;
    const text = settled(column, row.cells[column], this.above(i), this.deck);
    if (text !== row.cells[column]) this.type(i, column, text);
  }

  /** insert puts a row below; the trial is carried over. */
  insert(i: number): void {
    const rows = [...this.rows];
    rows.splice(i + 1, 0, this.#row(this.rows[i]?.cells.trial ?? ''));
    this.#set(rows);
  }

  takeOut(i: number): void {
    const row = this.rows[i];
    if (!row) return;
    const rest = this.rows.filter((_, j) => j !== i);
    this.takenOut = isBlank(row.cells) ? undefined : { row, at: i };
    this.#set(rest.length > 0 ? rest : [this.#row()]);
  }

  putBack(): void {
    if (!this.takenOut) return;
    const rows = [...this.rows];
    rows.splice(this.takenOut.at, 0, this.takenOut.row);
    this.takenOut = undefined;
    this.#set(rows);
  }

  trial(id: string, change: Partial<PaperTrial>): void {
    this.trials = { ...this.trials, [id]: { ...blankTrial, ...this.trials[id], ...change } };
    this.keep();
  }

  clear(): void {
    this.first = [this.#row()];
    this.second = [];
    this.stage = 'first';
    this.trials = {};
    this.tried = false;
    this.refused = noneRefused;
    this.sentences = [];
    this.problem = this.takenOut = undefined;
    this.keep();
  }

  again(): void {
    this.second = [this.#row()];
    this.stage = 'second';
    this.takenOut = undefined;
    this.tried = false;
    this.keep();
  }

  turnTo(stage: Stage): void {
    if (stage === 'first') this.second = [];
    this.stage = stage;
    this.takenOut = undefined;
    this.keep();
  }

  /** settle takes one side of a difference into both. */
  settle(d: Difference, side: 'first' | 'second'): void {
    const value = d[side];
    const put = (rows: readonly PaperRow[]): PaperRow[] => {
      const filled = rows.filter((r) => !isBlank(r.cells));
      while (filled.length <= d.row) filled.push(this.#row());
      return filled.map((r, i) => (i === d.row ? { ...r, cells: { ...r.cells, [d.column]: value } } : r));
    };
    this.first = put(this.first);
    this.second = put(this.second);
    this.keep();
  }

  /** send writes the sheet as one edit, all or nothing; what is refused stays with its reasons. */
  async send(): Promise<boolean> {
    this.tried = true;
    if (this.sending || this.wrong > 0 || this.filled.length === 0 || this.stage !== 'first') return false;
    this.sending = true;
    this.problem = undefined;
    this.refused = noneRefused;
    this.sentences = [];
    const rows = this.filled;
    try {
      const first = await firstFree(async (name) => (await this.program.history('pass', name)).entries.length > 0);
      try {
        const { add } = addsOf({ date: this.date, scorer: this.scorer, rows, trials: this.trials, first }, this.deck);
        const done = await this.program.edit({ add });
        this.sent = { n: rows.length, first: paperName(first), last: paperName(first + rows.length - 1) };
        const said = this.sent;
        this.clear();
        this.sent = said;
        this.wrote(done.entries);
        return true;
      } catch (e) {
        this.#refuse(asProblem(e), rows, first);
        return false;
      }
    } catch (e) {
      this.problem = asProblem(e);
      return false;
    } finally {
      this.sending = false;
    }
  }

  #refuse(problem: RequestError, rows: readonly PaperRow[], first: number): void {
    this.problem = problem;
    const refused: Record<string, string> = {};
    const rest: string[] = [];
    for (const p of placesOf(problem)) {
      const i = rows.findIndex((_, j) => p.kind === 'pass' && p.id === paperName(first + j));
      const column = columnOf(p.field);
      const row = rows[i];
      if (row && column) refused[`${row.key}/${column}`] = p.message;
      else
        rest.push([p.kind && [p.kind, p.id, p.field].filter(Boolean).join(' '), p.message].filter(Boolean).join(': '));
    }
    this.refused = refused;
    this.sentences = rest;
  }
}

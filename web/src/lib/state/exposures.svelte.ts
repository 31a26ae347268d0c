// The passes of the season, which of them are shown, and the one chosen.
import { asProblem, fetchExposures, fetchPass, type RequestError } from '$lib/api/client';
import type { ExposureRow, Exposures, Pass } from '$lib/api/types';
import { columns, type ColumnKey } from '$lib/table/columns';
import { filterRows, readFilter, readPass, writeSearch, type Filter, type FilterKey } from '$lib/table/filter';
import { sortRows, type Direction } from '$lib/table/sort';

/** Holding an arrow key down must not ask for every pass on the way. */
const restMs = 90;

export class ExposuresState {
  document = $state.raw<Exposures>();
  problem = $state.raw<RequestError>();
  filter = $state.raw<Filter>({});
  sortBy = $state.raw<{ key: ColumnKey; direction: Direction }>();
  noTurns = $state(true);
  /** Identifier of the chosen pass, or "". */
  chosen = $state('');
  pass = $state.raw<Pass>();
  passProblem = $state.raw<RequestError>();

  readonly all = $derived(this.document?.rows ?? []);
  readonly filtered = $derived(filterRows(this.all, this.filter));
  readonly rows = $derived.by(() => {
    const sort = this.sortBy;
    const column = sort && columns.find((c) => c.key === sort.key);
    return sort && column ? sortRows(this.filtered, column.sort, sort.direction) : this.filtered;
  });
  /** Where the chosen pass stands in the table; −1: nowhere. */
  readonly place = $derived(this.chosen ? this.rows.findIndex((r) => r.pass === this.chosen) : -1);
  readonly row = $derived<ExposureRow | undefined>(
    this.chosen ? this.all.find((r) => r.pass === this.chosen) : undefined,
  );
  readonly chosenShown = $derived(this.row !== undefined && filterRows([this.row], this.filter).length > 0);
  readonly disagreeing = $derived(this.all.filter((r) => r.pair_from_track));

  #request: AbortController | undefined;
  #rest: ReturnType<typeof setTimeout> | undefined;
  /** Which results these are. */
  #of = '';

  constructor(readonly study: string) {}

  /** turnTo reads the results of that fingerprint, unless it has them. */
  async turnTo(of: string): Promise<void> {
    if (this.#of === of && !this.problem) return;
    this.#of = of;
    await this.load();
  }

  async load(): Promise<void> {
    const of = this.#of;
    try {
      const read = await fetchExposures(this.study);
      if (of !== this.#of) return;
      this.document = read;
      this.problem = undefined;
      // An address may name a pass of another season.
      const pass = this.row ? this.chosen : '';
      this.chosen = '';
      this.choose(pass);
    } catch (e) {
      if (of === this.#of) this.problem = asProblem(e);
    }
  }

  /** restore takes the view from the address. */
  restore(search: string): void {
    this.filter = readFilter(search);
    const pass = readPass(search);
    if (pass !== this.chosen) this.choose(pass);
  }

  get search(): string {
    return writeSearch(this.filter, this.chosen);
  }

  show(key: FilterKey, value: string): void {
    this.filter = { ...this.filter, [key]: value || undefined };
  }

  showAll(): void {
    this.filter = {};
  }

  /** sort goes through ascending, descending and the order of the season. */
  sort(key: ColumnKey): void {
    const now = this.sortBy;
    if (now?.key !== key) this.sortBy = { key, direction: 'ascending' };
    else if (now.direction === 'ascending') this.sortBy = { key, direction: 'descending' };
    else this.sortBy = undefined;
  }

  /** step chooses the pass so many rows on. */
  step(by: number): void {
    const here = this.place;
    const last = this.rows.length - 1;
    const to = here < 0 ? (by > 0 ? 0 : last) : Math.min(last, Math.max(0, here + by));
    const row = this.rows[to];
    if (row) this.choose(row.pass);
  }

  choose(pass: string): void {
    if (pass === this.chosen) return;
    this.chosen = pass;
    this.passProblem = undefined;
    this.#request?.abort();
    clearTimeout(this.#rest);
    if (!pass) {
      this.pass = undefined;
      return;
    }
    if (!this.document) return; // load asks for it
    this.#rest = setTimeout(() => void this.#read(pass), restMs);
  }

  async #read(pass: string): Promise<void> {
    const request = new AbortController();
    this.#request = request;
    try {
      const read = await fetchPass(this.study, pass, request.signal);
      if (this.chosen === pass) this.pass = read;
    } catch (e) {
      if (!request.signal.aborted) this.passProblem = asProblem(e);
    }
  }
}

// The calibration of one study as it is worked on in this window: the table as
// it is typed, what was measured otherwise, and what the program says to it.
import { asProblem, type RequestError } from '$lib/api/client';
import {
  calibrationProgramOf,
  type CalibrationDocument,
  type CalibrationProgram,
  type CalibrationRow,
  type CalibrationSpec,
  type CalibrationStart,
} from '$lib/api/calibration';
import { stimulusProgramOf, type Knobs } from '$lib/api/stimulus';
import type { EditDone, EditRequest } from '$lib/api/studies';
import { fillBlock, readPasted, type Pasted } from '$lib/calibration/paste';
import { proposePlaces } from '$lib/calibration/propose';
import {
  cellsOf,
  isBlank,
  noCells,
  readNumber,
  readRows,
  type Cells,
  type Column,
  type Row,
} from '$lib/calibration/rows';
import { faultsOfKnown, knownOf, textOf, withDriven, type Known } from '$lib/calibration/known';
import { Answer } from './answer.svelte';
import { leadingPair } from './knobs';

export type Saved = 'unknown' | 'never' | 'saved' | 'changed' | 'saving';

export class CalibrationState {
  start = $state.raw<CalibrationStart>();
  problem = $state.raw<RequestError>();
  /** The design that is tested; undefined until load has ended. */
  knobs = $state.raw<Knobs>();
  rows = $state<Row[]>([]);
  known = $state<Known>({ current: '', currentSd: '', water: '', waterSd: '', positionCm: '' });
  offset = $state<'fit' | 'none'>('fit');
  /** What the last question to the program found, by row. */
  readonly answer = new Answer<{ document: CalibrationDocument; keys: number[] } & Quick>();

  /** The text that the study holds; and how this window writes the same. */
  savedText = $state('');
  #savedSpec = $state('');
  /** Whether the study holds a calibration at all. */
  held = $state(false);
  saving = $state(false);
  saveProblem = $state.raw<RequestError>();
  changedElsewhere = $state(false);
  /** Rows that were removed all at once. */
  removed = $state.raw<Row[]>([]);
  #nextKey = 1;

  /** In a tank no reference is far away. */
  readonly inTank = $derived(this.knobs?.enclosure != null);
  readonly table = $derived(readRows(this.rows, this.inTank));
  readonly knownFaults = $derived(faultsOfKnown(this.known, this.knobs));
  readonly faulty = $derived(this.table.faults.length > 0 || Object.keys(this.knownFaults).length > 0);
  /** What is asked, without the rows that cannot be read; undefined while something else cannot. */
  readonly spec = $derived.by((): CalibrationSpec | undefined => {
    const { knobs, known } = this;
    if (!knobs || Object.keys(this.knownFaults).length > 0) return undefined;
    const water = readNumber(known.water);
    return {
      knobs: {
        ...knobs,
        current_uA: readNumber(known.current)!,
        water: { ...knobs.water, conductivity_S_per_m: water ?? null },
      },
      readings: this.table.readings,
      offset: this.offset,
      priors: {
        current_uA_sd: readNumber(known.currentSd) ?? null,
        water_S_per_m_sd: readNumber(known.waterSd) ?? null,
        position_sd_m: this.#positionM(),
      },
    };
  });
  readonly text = $derived(this.spec ? JSON.stringify(this.spec) : '');
  readonly touched = $derived(this.faulty || (this.text !== '' && this.text !== this.#savedSpec));
  readonly saved = $derived.by((): Saved => {
    if (!this.start) return 'unknown';
    if (this.saving) return 'saving';
    if (!this.held) return 'never';
    return this.touched ? 'changed' : 'saved';
  });
  /** Something was typed that the study does not hold. */
  readonly unsaved = $derived(this.start !== undefined && this.touched);
  readonly measured = $derived(this.table.readings.filter((r) => r.uV != null).length);
  readonly driven = $derived(this.knobs ? leadingPair(this.knobs) : -1);
  /** A pair or a single electrode is driven. */
  readonly drives = $derived(this.driven >= 0 || (this.knobs?.electrodes ?? []).some((e) => e.share !== 0));
  /** Whether what is shown is of another table or other values than those that stand there. */
  readonly stale = $derived(this.answer.old || (this.answer.value !== undefined && this.spec === undefined));
  /** Nothing can be asked: no place can be read, or no pair is driven. */
  readonly empty = $derived(this.table.readings.length === 0 || !this.drives);
  readonly document = $derived(this.empty ? undefined : this.answer.value?.document);
  /** What the program refuses, with the row that it is about: counted from 1 as in the table. */
  readonly refused = $derived(
    (this.answer.problem?.details ?? []).map(({ location, message }) => {
      const at = /(?:^|[./])readings[./](\d+)(?:[./]|$)/.exec(location);
      const row = at ? this.table.rowOf[Number(at[1])] : undefined;
      return { row: row === undefined ? undefined : row + 1, message };
    }),
  );
  /** What the answer says of a row, by its key. */
  readonly byKey = $derived.by(() => {
    const found: Record<number, CalibrationRow | undefined> = {};
    const { value } = this.answer;
    value?.keys.forEach((key, i) => {
      const row = value.document.readings[i];
      if (row) found[key] = row;
    });
    return found;
  });

  constructor(
    private readonly study: string,
    private readonly program: CalibrationProgram = calibrationProgramOf(study),
  ) {}

  #positionM(): number | null {
    const cm = readNumber(this.known.positionCm);
    return cm === undefined ? null : Number((cm / 100).toPrecision(10));
  }

  /** load reads what the study holds, unless something was typed that it does not hold. */
  async load(): Promise<void> {
    if (this.start && this.touched) return;
    try {
      this.take(await this.program.start());
      this.problem = undefined;
    } catch (e) {
      this.problem = asProblem(e);
    }
  }

  take(start: CalibrationStart): void {
    this.start = start;
    this.knobs = start.spec.knobs;
    this.known = knownOf(start.spec);
    this.offset = start.spec.offset === 'none' ? 'none' : 'fit';
    this.rows = (start.spec.readings ?? []).map((r) => this.#row(cellsOf(r)));
    this.savedText = start.spec_text;
    this.held = start.saved;
    this.#savedSpec = this.text;
    this.changedElsewhere = false;
    this.saveProblem = undefined;
  }

  #row(cells: Cells): Row {
    return { ...cells, key: this.#nextKey++ };
  }

  /** ask has the table worked out, once there is something to work out. */
  ask(): void {
    const { spec, text } = this;
    if (!spec || this.empty) {
      this.answer.stop();
      return;
    }
    const keys = this.table.rowOf.map((i) => this.rows[i]!.key);
    this.answer.ask(`${text}${keys.join(',')}`, async (signal) => {
      const document = await this.program.work(spec, signal);
      const { relative_error, method, reached, warnings } = document;
      return { document, keys, relative_error, method, reached, warnings };
    });
  }

  add(at = this.rows.length, cells: Cells = noCells): Row {
    const row = this.#row(cells);
    this.rows.splice(at, 0, row);
    return row;
  }

  remove(at: number): void {
    this.rows.splice(at, 1);
  }

  clear(): number {
    this.removed = this.rows.filter((r) => !isBlank(r));
    this.rows = [];
    return this.removed.length;
  }

  bringBack(): void {
    this.rows = [...this.removed, ...this.rows];
    this.removed = [];
  }

  propose(spacingM: number | undefined): number {
    if (!this.knobs) return 0;
    const places = proposePlaces(this.knobs, spacingM);
    this.#append(places);
    return places.length;
  }

  #append(cells: readonly Cells[]): void {
    this.rows = [...this.rows.filter((r) => !isBlank(r)), ...cells.map((c) => this.#row(c))];
  }

  paste(text: string, replace: boolean): Pasted {
    const pasted = readPasted(text);
    if (pasted.faults.length > 0) return pasted;
    if (replace) {
      this.removed = this.rows.filter((r) => !isBlank(r));
      this.rows = [];
    }
    this.#append(pasted.rows);
    return pasted;
  }

  pasteBlock(text: string, row: number, column: Column): void {
    const filled = fillBlock(this.rows, text, row, column);
    this.rows = filled.map((cells, i) => ({ ...cells, key: this.rows[i]?.key ?? this.#nextKey++ }));
  }

  drive(index: number): void {
    if (this.knobs) this.knobs = withDriven(this.knobs, index);
  }

  /** takeDesign puts the setting of the study, as it stands now, in place of the design; readings stay. */
  async takeDesign(): Promise<void> {
    const { knobs } = await stimulusProgramOf(this.study).start();
    this.knobs = knobs;
    this.known = {
      ...this.known,
      current: textOf(knobs.current_uA),
      water: textOf(knobs.water.conductivity_S_per_m),
    };
  }

  /** save writes the specification as one record; over says to do so though it was changed elsewhere. */
  async save(edit: (body: EditRequest) => Promise<EditDone>, over = false): Promise<EditDone | undefined> {
    const { text } = this;
    if (this.faulty || !text || this.saving) return undefined;
    this.saving = true;
    this.saveProblem = undefined;
    try {
      if (over) this.savedText = (await this.program.start()).spec_text;
      const done = await edit({
        changes: [{ kind: 'calibration', id: '', field: 'spec', from: this.savedText, to: text }],
      });
      this.savedText = text;
      this.#savedSpec = text;
      this.held = true;
      this.changedElsewhere = false;
      return done;
    } catch (e) {
      const problem = asProblem(e);
      if (problem.status === 409) this.changedElsewhere = true;
      this.saveProblem = problem;
      return undefined;
    } finally {
      this.saving = false;
    }
  }

  /** theirs takes what the study holds in place of what was typed. */
  async theirs(): Promise<void> {
    try {
      this.take(await this.program.start());
    } catch (e) {
      this.saveProblem = asProblem(e);
    }
  }
}

/** How an answer stands, as Working shows it. */
interface Quick {
  relative_error: number | null;
  method: string;
  reached: boolean;
  warnings: string[];
}

const kept: Record<string, CalibrationState> = Object.create(null);

/** calibrationOf is the same for the life of the window, so that nothing typed is lost on another page. */
export const calibrationOf = (study: string): CalibrationState => (kept[study] ??= new CalibrationState(study));

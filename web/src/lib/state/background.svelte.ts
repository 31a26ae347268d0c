// The page Background: what is told the program, what it answers, and whether
// the study keeps it.
import { asProblem, type RequestError } from '$lib/api/client';
import type {
  BackgroundDocument,
  BackgroundProgram,
  BackgroundSource,
  BackgroundSpec,
  BackgroundStart,
} from '$lib/api/background';
import type { EditDone, EditRequest } from '$lib/api/studies';
import { Answer } from './answer.svelte';
import { faultsAt, newSource, readySpec, samples, tidySpec, type SourceKind } from './background-spec';
import { knobAt, noFaults, sameKnob, withKnob } from './knobs';

/** How saving stands. changed: somebody else saved meanwhile. */
export type Keeping = 'idle' | 'saving' | 'saved' | 'changed' | 'failed';

type Edit = (body: Omit<EditRequest, 'author'>) => Promise<EditDone>;

/** What the program says of a specification; the one it belongs to is kept beside it. */
export interface Answered {
  spec: BackgroundSpec;
  document: BackgroundDocument;
}

/** The field of a source along a line, for the picture over distance. */
export interface FieldLine {
  label: string;
  distance_m: number[];
  field_nV_per_cm: number[];
}

export class Background {
  start = $state.raw<BackgroundStart>();
  problem = $state.raw<RequestError>();
  /** Never changed in place. Undefined until load has ended. */
  spec = $state.raw<BackgroundSpec>();
  /** Why the program refuses a knob, by the knob's path. */
  faults = $state.raw<ReadonlyMap<string, string>>(noFaults);
  /** What is wrong with the specification as a whole. */
  sentences = $state.raw<readonly string[]>([]);
  /** The source that is being looked at; -1: none. */
  chosen = $state(-1);

  keeping = $state<Keeping>('idle');
  keepingProblem = $state.raw<RequestError>();
  /** What somebody else saved meanwhile. */
  theirs = $state.raw<BackgroundStart>();

  readonly answer = new Answer<Answered>();
  readonly lines = new Answer<FieldLine[]>(400);
  readonly document = $derived(this.answer.value?.document);
  /** The specification as it is sent and kept: blanks left out. */
  readonly asked = $derived(this.spec && tidySpec(this.spec));
  readonly turned = $derived(
    this.asked !== undefined && this.start !== undefined && JSON.stringify(this.asked) !== startText(this.start),
  );
  /** Whether the study keeps what is on the page. */
  readonly kept = $derived(this.start?.saved === true && !this.turned);

  constructor(
    private readonly program: BackgroundProgram,
    private readonly edit: Edit,
  ) {}

  async load(): Promise<void> {
    try {
      const start = ready(await this.program.start());
      this.start = start;
      this.spec = start.spec;
      this.problem = undefined;
    } catch (e) {
      this.problem = asProblem(e);
    }
  }

  /** look reads again what may have been written elsewhere, while nothing was turned here. */
  async look(): Promise<void> {
    if (this.turned) return;
    try {
      const start = ready(await this.program.start());
      if (this.turned) return;
      this.start = start;
      this.spec = start.spec;
    } catch {
      // What is on the page stays; saving says why it fails.
    }
  }

  ask(): void {
    const spec = this.asked;
    if (!spec) return;
    this.answer.ask(JSON.stringify(spec), async (signal) => {
      try {
        const document = await this.program.ask(spec, signal);
        if (!signal.aborted) this.#accept();
        return { spec, document };
      } catch (e) {
        if (!signal.aborted) this.#refuse(asProblem(e));
        throw e;
      }
    });
  }

  /** askLines asks for the field of each source at a row of distances: the program is asked of places as if they were pairs. */
  askLines(): void {
    const answered = this.answer.value;
    if (!answered) return;
    const questions = samples(answered.spec, answered.document);
    this.lines.ask(JSON.stringify(questions), (signal) =>
      Promise.all(
        questions.map(async (spec) => {
          const [found] = (await this.program.ask(spec, signal)).sources;
          const line: FieldLine = { label: found?.label ?? '', distance_m: [], field_nV_per_cm: [] };
          for (const p of found?.pairs ?? []) {
            if (p.distance_m === null || p.field_nV_per_cm === null) continue;
            line.distance_m.push(p.distance_m);
            line.field_nV_per_cm.push(p.field_nV_per_cm);
          }
          return line;
        }),
      ),
    );
  }

  stop(): void {
    this.answer.stop();
    this.lines.stop();
  }

  at(path: string): unknown {
    return this.spec && knobAt(this.spec, path);
  }

  turn(path: string, value: unknown): void {
    if (!this.spec) return;
    this.spec = withKnob(this.spec, path, value);
    if (this.keeping !== 'saving' && this.keeping !== 'changed') this.keeping = 'idle';
  }

  /** asInStudy tells whether a knob stands as the page began. */
  asInStudy(path: string): boolean {
    return !this.spec || !this.start || sameKnob(this.spec, this.start.spec, path);
  }

  /** returns tells whether there is something to go back to: what was added here has no value of before. */
  returns(path: string): boolean {
    if (!this.start || this.asInStudy(path) || path.startsWith('sources/')) return false;
    const parent = path.includes('/') ? knobAt(this.start.spec, path.slice(0, path.lastIndexOf('/'))) : this.start.spec;
    return typeof parent === 'object' && parent !== null;
  }

  reset(path?: string): void {
    if (!this.start) return;
    if (path === undefined) this.spec = this.start.spec;
    else this.turn(path, knobAt(this.start.spec, path) ?? null);
  }

  add(kind: SourceKind): void {
    if (!this.spec) return;
    const sources = [...(this.spec.sources ?? []), newSource(kind, this.spec, this.start)];
    this.turn('sources', sources);
    this.chosen = sources.length - 1;
  }

  remove(i: number): void {
    const sources = this.spec?.sources ?? [];
    this.turn(
      'sources',
      sources.filter((_, j) => j !== i),
    );
    this.chosen = -1;
  }

  move(i: number, x: number, y: number): void {
    const source: BackgroundSource | undefined = this.spec?.sources?.[i];
    if (!source || !Number.isFinite(x) || !Number.isFinite(y)) return;
    this.turn(`sources/${i}/at_m`, [x, y, source.at_m[2] ?? 0]);
  }

  /** save keeps the specification in the study; over: whatever somebody else saved meanwhile. */
  async save(over = false): Promise<void> {
    const { asked, start } = this;
    if (!asked || !start || this.keeping === 'saving') return;
    const from = over ? (this.theirs?.spec_text ?? start.spec_text) : start.spec_text;
    const to = JSON.stringify(asked);
    this.keeping = 'saving';
    try {
      await this.edit({ changes: [{ kind: 'background', id: '', field: 'spec', from, to }] });
      this.start = { ...start, spec: asked, saved: true, spec_text: to };
      this.theirs = undefined;
      this.keeping = 'saved';
    } catch (e) {
      await this.#notSaved(asProblem(e), from);
    }
  }

  /** take gives up what stands on the page for what somebody else saved. */
  take(): void {
    if (!this.theirs) return;
    this.start = this.theirs;
    this.spec = this.theirs.spec;
    this.theirs = undefined;
    this.keeping = 'idle';
  }

  async #notSaved(problem: RequestError, from: string): Promise<void> {
    this.keepingProblem = problem;
    this.keeping = 'failed';
    if (problem.status !== 409) return;
    try {
      const now = ready(await this.program.start());
      if (now.spec_text === from) return;
      this.theirs = now;
      this.keeping = 'changed';
    } catch {
      // what was refused is said as it is
    }
  }

  #accept(): void {
    if (this.faults.size > 0) this.faults = noFaults;
    if (this.sentences.length > 0) this.sentences = [];
  }

  #refuse(problem: RequestError): void {
    const { faults, rest } = faultsAt(problem.details);
    this.faults = faults;
    this.sentences = rest;
  }
}

const ready = (start: BackgroundStart): BackgroundStart => ({ ...start, spec: readySpec(start.spec) });
const startText = (start: BackgroundStart): string => JSON.stringify(tidySpec(start.spec));

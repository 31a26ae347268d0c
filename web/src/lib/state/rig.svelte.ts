// The page Rig: the rig as it is being planned, the answer to it, what was
// measured, and how the saving stands.
import { asProblem, type RequestError } from '$lib/api/client';
import type { RigBench, RigDocument, RigProgram, RigSpec, RigStart } from '$lib/api/rig';
import { placesOf, type Entry, type StudyProgram } from '$lib/api/studies';
import { Answer } from './answer.svelte';
import { knobAt, noFaults, sameKnob, withKnob, type Faults } from './knobs';
import { permitName } from './question.svelte';
import { plain, rigFaults, sameRig } from './rig-spec';

/** An answer with the rig that it is about: the pictures need both. */
export interface Answered {
  spec: RigSpec;
  doc: RigDocument;
}

/** A form of measured values, as typed. */
export type BenchFields = Partial<Record<Exclude<keyof RigBench, 'id'>, string>>;

export type Saving =
  | { state: 'saving' | 'saved' | 'changed' }
  | { state: 'refused'; why: string[] }
  | { state: 'failed'; problem: RequestError };

export class Rig {
  start = $state.raw<RigStart>();
  problem = $state.raw<RequestError>();
  /** Never changed in place: turn and become make a new one. */
  spec = $state.raw<RigSpec>();
  bench = $state.raw<readonly RigBench[]>([]);
  readonly answer = new Answer<Answered>();
  saving = $state.raw<Saving>();
  /** Chosen by the reader; one that is gone gives way to the first. */
  wantedPosition = $state('');
  wantedPair = $state('');

  readonly changed = $derived(
    this.spec !== undefined && this.start !== undefined && !sameRig(this.spec, this.start.spec),
  );
  readonly unsaved = $derived(this.changed || this.start?.saved === false);
  /** Refusals by the path of the value, and those without one. */
  readonly refusal = $derived.by(() => {
    const problem = this.answer.problem;
    return problem && !this.answer.busy ? rigFaults(problem.details) : { faults: noFaults, rest: [] };
  });
  readonly faults = $derived<Faults>(this.refusal.faults);
  readonly position = $derived.by(() => {
    const all = this.answer.value?.doc.positions ?? [];
    return all.find((p) => p.label === this.wantedPosition) ?? all[0];
  });
  readonly pair = $derived.by(() => {
    const all = this.answer.value?.spec.pairs ?? [];
    return (all.find((p) => p.label === this.wantedPair) ?? all[0])?.label ?? '';
  });

  constructor(
    private readonly program: RigProgram,
    private readonly study: Pick<StudyProgram, 'edit'>,
    /** Called with what a saved change wrote. */
    private readonly wrote: (entries: readonly Entry[]) => void,
  ) {}

  async load(): Promise<void> {
    try {
      const start = await this.program.start();
      this.start = start;
      this.spec = start.spec;
      this.bench = start.bench;
      this.problem = undefined;
    } catch (e) {
      this.problem = asProblem(e);
    }
  }

  /** ask works out the rig as it stands, with what was measured. */
  ask(): void {
    if (!this.spec) return;
    const spec = plain(this.spec);
    const body = this.bench.length > 0 ? { ...spec, measured: [...this.bench] } : spec;
    this.answer.ask(JSON.stringify(body), async (signal) => ({
      spec,
      doc: await this.program.calculate(body, signal),
    }));
  }

  at(path: string): unknown {
    return this.spec && knobAt(this.spec, path);
  }

  turn(path: string, value: unknown): void {
    if (!this.spec) return;
    this.spec = withKnob(this.spec, path, value);
    if (this.saving?.state === 'saved') this.saving = undefined;
  }

  asAtStart(path: string): boolean {
    return !this.spec || !this.start || sameKnob(this.spec, this.start.spec, path);
  }

  reset(path?: string): void {
    if (!this.start) return;
    if (path === undefined) this.spec = this.start.spec;
    else this.turn(path, knobAt(this.start.spec, path));
  }

  async save(): Promise<void> {
    const [spec, start] = [this.spec, this.start];
    if (!spec || !start || this.saving?.state === 'saving') return;
    this.saving = { state: 'saving' };
    try {
      const to = JSON.stringify(plain(spec));
      const done =
        to === start.spec_text
          ? { entries: [] }
          : await this.study.edit({ changes: [{ kind: 'rig', id: '', field: 'spec', from: start.spec_text, to }] });
      this.start = { ...start, spec, spec_text: to, saved: true };
      this.saving = { state: 'saved' };
      this.wrote(done.entries);
    } catch (e) {
      this.saving = await this.#refused(asProblem(e), start.spec_text);
    }
  }

  async #refused(problem: RequestError, from: string): Promise<Saving> {
    if (problem.status === 422) {
      const why = placesOf(problem).map((p) => p.message);
      return { state: 'refused', why: why.length > 0 ? why : [problem.message] };
    }
    if (problem.status === 409) {
      try {
        const start = await this.program.start();
        if (start.spec_text !== from) {
          // What is on the page stays: it is mine; theirs is the start now.
          this.start = start;
          this.bench = start.bench;
          return { state: 'changed' };
        }
      } catch (e) {
        return { state: 'failed', problem: asProblem(e) };
      }
    }
    return { state: 'failed', problem };
  }

  /** theirs gives up what is on the page for what somebody else saved. */
  theirs(): void {
    this.reset();
    this.saving = undefined;
  }

  /** take looks where something of it was written. */
  async take(entries: readonly Entry[]): Promise<void> {
    if (entries.some((e) => e.kind === 'rig' || e.kind === 'bench')) await this.look();
  }

  /** look reads again what may have been written elsewhere: measurements always, the rig while nothing of it was turned here. */
  async look(): Promise<void> {
    try {
      const start = await this.program.start();
      this.bench = start.bench;
      if (this.changed) return;
      this.start = start;
      this.spec = start.spec;
    } catch {
      // What is on the page stays; saving and adding say why they fail.
    }
  }

  async addBench(fields: BenchFields): Promise<void> {
    const given = Object.entries(fields).flatMap(([k, v]) => (v?.trim() ? [[k, v.trim()] as const] : []));
    const done = await this.study.edit({
      add: [{ kind: 'bench', id: permitName(), fields: Object.fromEntries(given) }],
    });
    this.wrote(done.entries);
  }
}

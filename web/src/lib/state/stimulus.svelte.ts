// The knobs of the page Stimulus and what is chosen on it. The panels of the
// page share one Stimulus; each asks the program for its own answers.
import { asProblem, type RequestError } from '$lib/api/client';
import type { Asked, Form, Knobs, StimulusProgram, StimulusStart, Uncertainty, Vector } from '$lib/api/stimulus';
import { faultsOf, knobAt, leadingPair, noFaults, sameKnob, withKnob } from './knobs';

/** Relative error of the field that is asked for; bodies are slow, and their field is wanted less exactly. */
export const toleranceFor = (knobs: Knobs): number => (knobs.bodies.length > 0 ? 0.02 : 0.01);
/** So many thresholds fit in one question about the range. */
export const mostThresholds = 8;

export class Stimulus {
  /** What the study gave; undefined until load has ended. */
  start = $state.raw<StimulusStart>();
  problem = $state.raw<RequestError>();
  /** Never changed in place: turn and become make a new one. Undefined until load has ended. */
  knobs = $state.raw<Knobs>();
  form = $state<Form>('real');
  /** nV/cm, ascending. */
  thresholds = $state.raw<readonly number[]>([]);
  uncertainty = $state.raw<Uncertainty>();
  /** Why the program refuses a knob, by the knob's path. */
  faults = $state.raw<ReadonlyMap<string, string>>(noFaults);
  /** Place of the cross, season frame, metres. */
  place = $state.raw<Vector>([0, 0.05, 0.05]);

  readonly turned = $derived(
    this.knobs !== undefined && JSON.stringify(this.knobs) !== JSON.stringify(this.start?.knobs),
  );
  /** What every question begins with; undefined until load has ended. */
  readonly asked = $derived<Asked | undefined>(
    this.knobs && { knobs: this.knobs, form: this.form, tolerance: toleranceFor(this.knobs) },
  );
  /** The driven pair of the largest share. */
  readonly pair = $derived(this.knobs?.pairs[leadingPair(this.knobs)]);

  constructor(readonly program: StimulusProgram) {}

  async load(): Promise<void> {
    try {
      const start = await this.program.start();
      this.start = start;
      this.knobs = start.knobs;
      this.thresholds = [...start.thresholds_nV_per_cm].sort((a, b) => a - b);
      this.uncertainty = start.uncertainty;
      this.problem = undefined;
    } catch (e) {
      this.problem = asProblem(e);
    }
  }

  at(path: string): unknown {
    return this.knobs && knobAt(this.knobs, path);
  }

  turn(path: string, value: unknown): void {
    if (this.knobs) this.knobs = withKnob(this.knobs, path, value);
  }

  become(knobs: Knobs): void {
    this.knobs = knobs;
  }

  /** asInStudy tells whether a knob stands as the study gave it. */
  asInStudy(path: string): boolean {
    return !this.knobs || !this.start || sameKnob(this.knobs, this.start.knobs, path);
  }

  reset(path?: string): void {
    if (!this.start) return;
    if (path === undefined) this.knobs = this.start.knobs;
    else this.turn(path, knobAt(this.start.knobs, path));
  }

  addThreshold(nVPerCm: number): void {
    if (!(nVPerCm > 0) || !Number.isFinite(nVPerCm)) return;
    if (this.thresholds.length >= mostThresholds || this.thresholds.includes(nVPerCm)) return;
    this.thresholds = [...this.thresholds, nVPerCm].sort((a, b) => a - b);
  }

  removeThreshold(nVPerCm: number): void {
    this.thresholds = this.thresholds.filter((t) => t !== nVPerCm);
  }

  /** refuse sorts the sentences of a refused question to their knobs; it gives those that have none. */
  refuse(problem: RequestError): string[] {
    const { faults, rest } = faultsOf(problem.details);
    this.faults = faults;
    return rest;
  }

  accept(): void {
    if (this.faults.size > 0) this.faults = noFaults;
  }
}

// The estimates and their curves, read when Findings is first shown.
import { asProblem, fetchCurves, fetchFindings, type RequestError } from '$lib/api/client';
import type { Curves, Findings } from '$lib/api/types';
import { UncertaintyState } from './uncertainty.svelte';

export class FindingsState {
  document = $state.raw<Findings>();
  curves = $state.raw<Curves>();
  problem = $state.raw<RequestError>();
  /** Which results these are. */
  #of = '';

  readonly uncertainty: UncertaintyState;

  constructor(readonly study: string) {
    this.uncertainty = new UncertaintyState(study);
  }

  /** turnTo reads the results of that fingerprint, unless it has them. */
  async turnTo(of: string): Promise<void> {
    if (this.#of === of && !this.problem) return;
    this.#of = of;
    this.uncertainty.forget();
    await this.load();
  }

  async load(): Promise<void> {
    const of = this.#of;
    try {
      const read = await Promise.all([fetchFindings(this.study), fetchCurves(this.study)]);
      if (of !== this.#of) return;
      [this.document, this.curves] = read;
      this.problem = undefined;
    } catch (e) {
      if (of === this.#of) this.problem = asProblem(e);
    }
  }
}

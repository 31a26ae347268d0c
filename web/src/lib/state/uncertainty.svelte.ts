// What the season's own uncertainties do to the medians: worked out when asked
// for, and until it is there it can be stopped.
import { asProblem, fetchUncertainty, type RequestError } from '$lib/api/client';
import type { UncertaintyView } from '$lib/api/types';

export class UncertaintyState {
  view = $state.raw<UncertaintyView>();
  problem = $state.raw<RequestError>();
  busy = $state(false);
  #asked?: AbortController;

  constructor(readonly study: string) {}

  async ask(): Promise<void> {
    this.#asked?.abort();
    const asked = new AbortController();
    this.#asked = asked;
    this.busy = true;
    this.problem = undefined;
    try {
      const view = await fetchUncertainty(this.study, asked.signal);
      if (this.#asked === asked) this.view = view;
    } catch (e) {
      if (this.#asked === asked && !asked.signal.aborted) this.problem = asProblem(e);
    } finally {
      if (this.#asked === asked) this.busy = false;
    }
  }

  /** stop gives up what is being worked out. */
  stop(): void {
    this.#asked?.abort();
    this.#asked = undefined;
    this.busy = false;
  }

  /** forget is for other results: what was worked out from the ones before no longer stands. */
  forget(): void {
    this.stop();
    this.view = this.problem = undefined;
  }
}

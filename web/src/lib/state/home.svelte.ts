// The studies on this machine.
import { asProblem, fetchHome, type RequestError } from '$lib/api/client';
import type { Home, StudyCard } from '$lib/api/types';

export class HomeState {
  view = $state.raw<Home>();
  problem = $state.raw<RequestError>();
  readonly studies = $derived(this.view?.studies ?? []);
  /** A season folder that is the only thing there is: its findings are what was asked for. */
  readonly only = $derived(
    this.studies.length === 1 && this.studies[0]?.kind === 'season' ? this.studies[0] : undefined,
  );

  /** load keeps what is shown when the program does not answer. */
  async load(): Promise<void> {
    try {
      this.view = await fetchHome();
      this.problem = undefined;
    } catch (e) {
      this.problem = asProblem(e);
    }
  }

  card(study: string): StudyCard | undefined {
    return this.studies.find((s) => s.study === study);
  }
}

export const home = new HomeState();

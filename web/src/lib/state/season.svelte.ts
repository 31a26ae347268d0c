// The open season and how far its analysis is.
import { fetchProgress, fetchSeason, RequestError } from '$lib/api/client';
import type { Progress, Season } from '$lib/api/types';

const askAgainMs = 400;

export class OpenSeason {
  view = $state.raw<Season>();
  progress = $state.raw<Progress>();
  problem = $state.raw<RequestError>();
  readonly faulty = $derived((this.view?.faults.length ?? 0) > 0);
  readonly ready = $derived(this.view !== undefined && !this.faulty && this.progress?.state === 'done');

  /** open reads the season and asks on until the analysis is done or failed. */
  async open(): Promise<void> {
    this.problem = undefined;
    try {
      this.view = await fetchSeason();
      if (this.faulty) return;
      for (;;) {
        this.progress = await fetchProgress();
        if (this.progress.state !== 'running') return;
        await new Promise((resolve) => setTimeout(resolve, askAgainMs));
      }
    } catch (e) {
      this.problem = e instanceof RequestError ? e : new RequestError(-1, String(e));
    }
  }
}

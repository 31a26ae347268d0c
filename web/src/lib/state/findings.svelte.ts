// The estimates and their curves, read once when Findings is first shown.
import { fetchCurves, fetchFindings, RequestError } from '$lib/api/client';
import type { Curves, Findings } from '$lib/api/types';

export class FindingsState {
  document = $state.raw<Findings>();
  curves = $state.raw<Curves>();
  problem = $state.raw<RequestError>();

  async load(): Promise<void> {
    this.problem = undefined;
    try {
      [this.document, this.curves] = await Promise.all([fetchFindings(), fetchCurves()]);
    } catch (e) {
      this.problem = e instanceof RequestError ? e : new RequestError(-1, String(e));
    }
  }
}

export const findingsState = new FindingsState();

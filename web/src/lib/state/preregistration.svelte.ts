// The part Preregistration of the page Schedule: the document as it stands, and
// how registering it goes.
import { asProblem, type RequestError } from '$lib/api/client';
import type { Preregistration, ScheduleProgram } from '$lib/api/schedule';
import { placesOf, type Entry } from '$lib/api/studies';

export type Registering =
  | { state: 'busy' | 'done' | 'changed' }
  | { state: 'refused'; why: string[] }
  | { state: 'failed'; problem: RequestError };

/** What the document is made of. */
const kinds = new Set([
  ...['study', 'site', 'protocol', 'species', 'schedule', 'analysis', 'uncertainty'],
  ...['seal', 'trial', 'preregistration'],
]);

export class PreregistrationState {
  view = $state.raw<Preregistration>();
  problem = $state.raw<RequestError>();
  registering = $state.raw<Registering>();
  readonly last = $derived(this.view?.registered.at(-1));

  constructor(private readonly program: Pick<ScheduleProgram, 'preregistration' | 'register'>) {}

  async load(): Promise<void> {
    try {
      this.view = await this.program.preregistration();
      this.problem = undefined;
    } catch (e) {
      this.problem = asProblem(e);
    }
  }

  /** take reads again where something was written that the document is made of; entries may be unknown. */
  take(entries: readonly Entry[]): void {
    if (entries.length === 0 || entries.some((e) => kinds.has(e.kind))) void this.load();
  }

  /** register writes down the document that is shown, and no other; true once it is written. */
  async register(author: string): Promise<boolean> {
    const shown = this.view;
    if (!shown || this.registering?.state === 'busy') return false;
    this.registering = { state: 'busy' };
    try {
      this.view = await this.program.register({ author, sha256: shown.sha256 });
      this.registering = { state: 'done' };
      return true;
    } catch (e) {
      this.registering = await this.#refused(asProblem(e));
      return false;
    }
  }

  async #refused(problem: RequestError): Promise<Registering> {
    if (problem.status === 422) {
      const why = placesOf(problem).map((p) => p.message);
      return { state: 'refused', why: why.length > 0 ? why : [problem.message] };
    }
    if (problem.status !== 409) return { state: 'failed', problem };
    await this.load();
    return { state: 'changed' };
  }

  /** again forgets how the last attempt went. */
  again(): void {
    this.registering = undefined;
  }
}

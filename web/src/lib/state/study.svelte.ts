// One study's results: whether they are up to date, how far a new analysis is,
// and what Exposures and Findings show meanwhile.
import { analyse, asProblem, fetchResults, fetchSeason, openActivePairs, RequestError } from '$lib/api/client';
import type { OpeningRequest, Results, Season } from '$lib/api/types';
import { ExposuresState } from './exposures.svelte';
import { FindingsState } from './findings.svelte';

const askAgainMs = 400;
/** So many questions may stay unanswered in a row while an analysis runs. */
const patience = 5;

export class OpenStudy {
  results = $state.raw<Results>();
  season = $state.raw<Season>();
  problem = $state.raw<RequestError>();
  /** Set while the active pairs are being opened or a new analysis asked for. */
  busy = $state(false);
  refused = $state.raw<RequestError>();
  readonly exposures: ExposuresState;
  readonly findings: FindingsState;

  /** Results that can be shown, of whatever age. */
  readonly shown = $derived(this.results?.shown ?? '');
  readonly running = $derived(this.results?.state === 'running');

  #watching = false;
  #closed = false;
  #seasonOf = '';

  constructor(readonly name: string) {
    this.exposures = new ExposuresState(name);
    this.findings = new FindingsState(name);
  }

  /** look asks how the results stand, and goes on asking while they are being made. */
  async look(): Promise<void> {
    if (this.#watching) return;
    this.#watching = true;
    let silent = 0;
    try {
      for (;;) {
        try {
          await this.#take(await fetchResults(this.name));
          silent = 0;
        } catch (e) {
          const problem = asProblem(e);
          silent++;
          if (problem.status !== 0 || !this.running || silent >= patience) throw e;
        }
        if (!this.running || this.#closed) break;
        await new Promise((resolve) => setTimeout(resolve, askAgainMs));
      }
      this.problem = undefined;
    } catch (e) {
      this.problem = asProblem(e);
    } finally {
      this.#watching = false;
    }
  }

  /** close ends the asking. */
  close(): void {
    this.#closed = true;
  }

  /** workOut asks for a new analysis. */
  async workOut(): Promise<void> {
    await this.#ask(async () => this.#take(await analyse(this.name)));
  }

  /** open opens the active pairs; true when it was done. */
  async open(body: OpeningRequest): Promise<boolean> {
    return this.#ask(() => openActivePairs(this.name, body).then(() => undefined));
  }

  async #ask(act: () => Promise<void>): Promise<boolean> {
    if (this.busy) return false;
    this.busy = true;
    this.refused = undefined;
    try {
      await act();
      void this.look();
      return true;
    } catch (e) {
      this.refused = asProblem(e);
      return false;
    } finally {
      this.busy = false;
    }
  }

  /** The season's own facts change with its data alone. */
  async #take(results: Results): Promise<void> {
    const of = `${results.data} ${results.blind}`;
    if (!this.season || this.#seasonOf !== of) {
      this.season = await fetchSeason(this.name);
      this.#seasonOf = of;
    }
    this.results = results;
  }
}

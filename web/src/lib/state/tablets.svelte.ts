// The tablets that this laptop lets in, asked for again every few seconds while
// the page is seen: a tablet that was paired appears by itself.
import { asProblem, type RequestError } from '$lib/api/client';
import type { PairingCode, PairingRequest, TabletRoleRequest, TabletsProgram, TabletsRequest } from '$lib/api/deck';
import type { Tablets } from '$lib/api/types';

const askAgainMs = 3000;

export class TabletsState {
  view = $state.raw<Tablets>();
  problem = $state.raw<RequestError>();
  /** Why the last wish was refused. */
  refused = $state.raw<RequestError>();
  busy = $state(false);
  code = $state.raw<PairingCode>();
  /** Devices that were there when the code was made: one more means that it was used. */
  #known: readonly string[] = [];
  /** Name of the tablet that came in with the code. */
  joined = $state('');

  constructor(private readonly program: TabletsProgram) {}

  /** watch asks now and then again and again; what it gives ends it. */
  watch(seen: () => boolean = () => document.visibilityState === 'visible'): () => void {
    void this.look();
    const timer = setInterval(() => {
      if (seen()) void this.look();
    }, askAgainMs);
    return () => clearInterval(timer);
  }

  async look(): Promise<void> {
    if (this.busy) return;
    try {
      this.#take(await this.program.view());
    } catch (e) {
      this.problem = asProblem(e);
    }
  }

  change(body: TabletsRequest): Promise<boolean> {
    return this.#ask(async () => this.#take(await this.program.change(body)));
  }

  pair(body: PairingRequest): Promise<boolean> {
    return this.#ask(async () => {
      this.#known = (this.view?.devices ?? []).map((d) => d.device + d.paired);
      this.joined = '';
      this.code = await this.program.code(body);
    });
  }

  /** role throws where it is refused: the dialog says why. */
  async role(body: TabletRoleRequest): Promise<void> {
    this.#take(await this.program.role(body));
  }

  async #ask(act: () => Promise<void>): Promise<boolean> {
    if (this.busy) return false;
    this.busy = true;
    this.refused = undefined;
    try {
      await act();
      return true;
    } catch (e) {
      this.refused = asProblem(e);
      return false;
    } finally {
      this.busy = false;
    }
  }

  #take(view: Tablets): void {
    this.view = view;
    this.problem = undefined;
    if (!this.code) return;
    const fresh = view.devices.find((d) => !d.revoked && !this.#known.includes(d.device + d.paired));
    if (fresh) {
      this.joined = fresh.name || fresh.device;
      this.code = undefined;
    } else if (!view.serving) this.code = undefined;
  }
}

/** secondsLeft is how long a code is still good. */
export function secondsLeft(ends: string, nowMs: number): number {
  const end = Date.parse(ends);
  return Number.isNaN(end) ? 0 : Math.max(0, Math.ceil((end - nowMs) / 1000));
}

/** grouped parts a code in fours, to be read aloud. */
export const grouped = (code: string): string => code.replace(/[^A-Za-z0-9]/g, '').replace(/(.{4})(?=.)/g, '$1 ');

// The page Deck: how the study logs, and what came in, read again after every
// change and when the window comes to the front.
import { asProblem, type RequestError } from '$lib/api/client';
import type { DeckProgram } from '$lib/api/deck';
import type { Entry } from '$lib/api/studies';
import type { Deck, DeckImported, DeckLog } from '$lib/api/types';

/** Records that the two views are made of. */
const kinds = new Set([
  ...['deck', 'check', 'reading', 'event', 'count', 'attachment', 'clock', 'distinct'],
  ...[
    'study',
    'site',
    'pair',
    'species',
    'individual',
    'trial',
    'pass',
    'permit',
    'seal',
    'lock',
    'opening',
    'erasure',
  ],
]);

export class DeckState {
  view = $state.raw<Deck>();
  log = $state.raw<DeckLog>();
  problem = $state.raw<RequestError>();
  /** Passes that may have been logged twice. */
  readonly waiting = $derived(this.log?.same.length ?? 0);
  readonly readOnly = $derived(this.view?.read_only ?? true);

  constructor(
    readonly program: DeckProgram,
    /** Called with what a change wrote, where it is known: tables and Home read again. */
    private readonly wrote: (entries: readonly Entry[]) => void,
  ) {}

  async load(): Promise<void> {
    // One may fail without the other: a sheet can be printed while the log cannot be read.
    const [view, log] = await Promise.allSettled([this.program.view(), this.program.log()]);
    if (view.status === 'fulfilled') this.view = view.value;
    if (log.status === 'fulfilled') this.log = log.value;
    const failed = [view, log].find((r) => r.status === 'rejected');
    this.problem = failed && asProblem(failed.reason);
  }

  /** change carries out what answers with a new log, and tells everybody. */
  async change(act: () => Promise<DeckLog>): Promise<void> {
    this.log = await act();
    this.wrote([]);
    await this.load();
  }

  async bring(file: string, author: string): Promise<DeckImported> {
    const done = await this.program.importLog(file, author);
    this.wrote([]);
    await this.load();
    return done;
  }

  /** take reads again where something of it was written elsewhere. */
  take(entries: readonly Entry[]): void {
    if (entries.some((e) => kinds.has(e.kind))) void this.load();
  }
}

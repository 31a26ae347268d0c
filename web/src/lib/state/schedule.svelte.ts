// The page Schedule: what the program tells of the schedule of one study, read
// again after every change. No secret is ever kept here.
import { asProblem, type RequestError } from '$lib/api/client';
import type { Schedule, ScheduleProgram, Seal } from '$lib/api/schedule';
import type { Entry } from '$lib/api/studies';
import type { ChosenKey } from './schedule-keys';
import { PlanDraft } from './schedule-plan.svelte';

/** Records that the view is made of. */
const kinds = new Set([
  ...['seal', 'rehearsal', 'card', 'lock', 'opening', 'guess', 'preregistration'],
  ...['study', 'trial', 'pass', 'track', 'pair', 'protocol'],
]);

export class ScheduleState {
  view = $state.raw<Schedule>();
  problem = $state.raw<RequestError>();
  readonly draft = new PlanDraft();
  /** Public keys that the next schedule will be sealed to. */
  chosen = $state.raw<readonly ChosenKey[]>([]);
  /** The schedule in force. */
  readonly seal = $derived<Seal | undefined>(this.view?.seals.find((s) => s.in_force));
  readonly opened = $derived(this.view?.trials.filter((t) => t.opened).length ?? 0);
  /** All of what was sealed is opened. */
  readonly open = $derived(this.view !== undefined && this.seal !== undefined && !this.view.blind);
  readonly readOnly = $derived(this.view?.read_only ?? true);

  constructor(
    readonly program: ScheduleProgram,
    /** Called with what a change wrote: tables and Home read again. */
    private readonly wrote: (entries: readonly Entry[]) => void,
  ) {}

  async load(): Promise<void> {
    try {
      this.view = await this.program.view();
      this.draft.begin(this.view);
      this.problem = undefined;
    } catch (e) {
      this.problem = asProblem(e);
    }
  }

  /** after tells everybody what a change of this page wrote, and reads again. */
  async after<T extends object>(done: T): Promise<T> {
    this.wrote('entries' in done ? (done.entries as Entry[]) : []);
    await this.load();
    return done;
  }

  /** take reads again where something of it was written elsewhere. */
  take(entries: readonly Entry[]): void {
    if (entries.some((e) => kinds.has(e.kind))) void this.load();
  }
}

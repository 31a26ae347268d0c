// A plan as it is being made, with an example of what it draws.
import type { RequestError } from '$lib/api/client';
import { fetchExample, type Schedule, type ScheduleDocument, type SchedulePlan } from '$lib/api/schedule';
import { Answer } from './answer.svelte';
import { noFaults, planFaults } from './schedule-plan';

/** An example with the trials of a day that it is laid out by. */
export interface Example {
  doc: ScheduleDocument;
  perDay: number;
}

export class PlanDraft {
  /** Never changed in place. */
  plan = $state.raw<SchedulePlan>();
  perDay = $state(0);
  /** Length of a trial and least time between two, in minutes; 0: not stated. */
  trialMin = $state(0);
  washoutMin = $state(0);
  seed = $state(1);
  /** Labels that can be ticked. */
  pairs = $state.raw<readonly string[]>([]);
  readonly answer = new Answer<Example>();
  readonly refusal = $derived.by(() => {
    const problem: RequestError | undefined = this.answer.problem;
    return problem && !this.answer.busy ? planFaults(problem) : noFaults;
  });
  #begun = '';

  /** begin takes the start of the study; what was changed here stays. */
  begin(view: Schedule): void {
    const inForce = view.seals.find((s) => s.in_force);
    const start = inForce?.plan ?? view.start;
    this.pairs = [...view.pairs, ...start.pairs.filter((p) => !view.pairs.includes(p))];
    const text = JSON.stringify(start);
    if (text === this.#begun) return;
    this.#begun = text;
    this.plan = start;
    this.perDay = inForce?.per_day ?? this.perDay;
    this.trialMin = inForce?.trial_min ?? this.trialMin;
    this.washoutMin = inForce?.washout_min ?? this.washoutMin;
  }

  turn<K extends keyof SchedulePlan>(key: K, value: SchedulePlan[K]): void {
    if (this.plan) this.plan = { ...this.plan, [key]: value };
  }

  /** tick puts a pair in or out; the order is that of the season. */
  tick(pair: string, on: boolean): void {
    if (!this.plan) return;
    const chosen = this.plan.pairs;
    this.turn(
      'pairs',
      this.pairs.filter((p) => (p === pair ? on : chosen.includes(p))),
    );
  }

  /** ask draws an example as the plan stands. */
  ask(): void {
    const [plan, perDay, seed] = [this.plan, this.perDay, this.seed];
    if (!plan) return;
    const body = { plan, per_day: perDay, seed };
    this.answer.ask(JSON.stringify(body), async (signal) => ({ doc: await fetchExample(body, signal), perDay }));
  }
}

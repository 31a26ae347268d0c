// The casts of a study and the water of its trials, and which casts are drawn.
import { SvelteSet } from 'svelte/reactivity';
import { asProblem, RequestError } from '$lib/api/client';
import type { StudyProgram, Water } from '$lib/api/studies';

/** More casts at once cannot be told apart; those shown at first are spread from the first to the last. */
export const fewCasts = 6;

/** spread picks up to n of the items, evenly, with the first and the last. */
export function spread<T>(items: readonly T[], n: number): T[] {
  if (items.length <= n) return [...items];
  if (n < 2) return items.slice(0, Math.max(0, n));
  return Array.from({ length: n }, (_, i) => items[Math.round((i * (items.length - 1)) / (n - 1))]!);
}

export class WaterState {
  view = $state.raw<Water>();
  problem = $state.raw<RequestError>();
  /** Times of the casts that are drawn. */
  readonly chosen = new SvelteSet<string>();
  readonly times = $derived((this.view?.casts ?? []).map((c) => c.time));

  constructor(private readonly program: Pick<StudyProgram, 'water'>) {}

  async load(): Promise<void> {
    try {
      this.view = await this.program.water();
      this.problem = undefined;
      this.few();
    } catch (e) {
      this.problem = asProblem(e);
    }
  }

  toggle(time: string): void {
    if (!this.chosen.delete(time)) this.chosen.add(time);
  }

  all(): void {
    this.#choose(this.times);
  }

  few(): void {
    this.#choose(spread(this.times, fewCasts));
  }

  #choose(times: readonly string[]): void {
    this.chosen.clear();
    for (const time of times) this.chosen.add(time);
  }
}

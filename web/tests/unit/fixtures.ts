// The invented season of tests/fixtures, as the program would serve it.
import { readFileSync } from 'node:fs';
import type { Curves, Exposures, Findings, Pass, Season, UncertaintyView } from '$lib/api/types';

const read = <T>(name: string): T =>
  JSON.parse(readFileSync(new URL(`../fixtures/${name}.json`, import.meta.url), 'utf8')) as T;

export const season = read<Season>('season');
export const exposures = read<Exposures>('exposures');
export const findings = read<Findings>('findings');
export const curves = read<Curves>('curves');
export const uncertainty = read<UncertaintyView>('uncertainty');
export const passes = read<Record<string, Pass>>('passes');

/** chances gives the same numbers between 0 and 1 on every run. */
export function chances(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 32;
  };
}

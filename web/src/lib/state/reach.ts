// How far to look: what a panel asks about before it knows the answer.
import type { Knobs } from '$lib/api/stimulus';
import { leadingPair } from './knobs';

/** Sea water conducts about as much, S/m, where the knobs state temperature and salinity instead. */
const seaWater = 4;

/**
 * roughReach is about how far the field of the driven pair stays above a
 * threshold, metres: the distance on the axis of a dipole that lies on an
 * insulator, E = p/(πσr³). Only a first guess at the size of a picture.
 */
export function roughReach(knobs: Knobs, nVPerCm: number): number {
  const pair = knobs.pairs[leadingPair(knobs)];
  const moment = Math.abs(knobs.current_uA) * 1e-6 * Math.abs(pair?.share ?? 1) * (pair?.separation_m ?? 0.01);
  const conductivity = knobs.water.conductivity_S_per_m ?? seaWater;
  const cubed = moment / (Math.PI * conductivity * nVPerCm * 1e-7);
  return Number.isFinite(cubed) && cubed > 0 ? Math.min(20, Math.max(0.05, Math.cbrt(cubed))) : 0.5;
}

/** At most so many heights go into one question. */
export const mostHeights = 40;

/** heightsAsked joins the heights that are shown with rungs up to where the field ends, ascending, metres. */
export function heightsAsked(shown: readonly number[], highest: number, rungs = 14): number[] {
  const ladder = Array.from({ length: rungs }, (_, i) => Number(((highest * i) / (rungs - 1)).toPrecision(3)));
  return [...new Set([...shown, ...ladder])].slice(0, mostHeights).sort((a, b) => a - b);
}

/** readHeights takes "0, 5, 10.5" in cm to metres; a sentence is missing where it is not such a list. */
export function readHeights(text: string, most: number): number[] | undefined {
  const parts = text.split(/[,;\s]+/).filter(Boolean);
  const numbers = parts.map((p) => Number(p));
  if (numbers.length === 0 || numbers.length > most || numbers.some((n) => !Number.isFinite(n) || n < 0 || n > 10_000))
    return undefined;
  return [...new Set(numbers)].sort((a, b) => a - b).map((n) => n / 100);
}

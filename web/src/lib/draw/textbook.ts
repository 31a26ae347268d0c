// The textbook form of the field beside the computed one: the numbers. In flat
// arrays, because a season may hold a hundred thousand passes.
import type { ExposureRow } from '$lib/api/types';

/** What the ratios are laid out against. */
export type By = 'distance' | 'angle';
export const ways: readonly By[] = ['distance', 'angle'];

/** Passes that have both values; ratio is textbook ÷ computed, 0 or more. */
export interface Comparison {
  rows: readonly ExposureRow[];
  ratio: Float64Array;
  /** From the pair to the head, cm. */
  distance: Float64Array;
  /** Between the axis of the pair and the line to the head, 0–180°. */
  angle: Float64Array;
  /** Of all of them. */
  tally: Tally;
}

/** A tenth more or less; a factor of two more or less. */
export const tenth: readonly [number, number] = [0.9, 1.1];
export const twofold: readonly [number, number] = [0.5, 2];

const finite = (v: number | null | undefined): v is number => typeof v === 'number' && Number.isFinite(v);

/** knowsPlaceField: the field at the place of the head was worked out. */
export const knowsPlaceField = (row: ExposureRow): boolean => finite(row.position_nV_per_cm);

/**
 * ratioOf is the textbook field over the computed one at the same place, of
 * the same pair and current; null where either is unknown or nothing flowed.
 */
export function ratioOf(row: ExposureRow): number | null {
  const { textbook_nV_per_cm: textbook, position_nV_per_cm: computed } = row;
  if (!finite(textbook) || !finite(computed) || computed <= 0) return null;
  const ratio = textbook / computed;
  return Number.isFinite(ratio) ? ratio : null;
}

/** compare takes the passes that have a ratio, a distance and an angle. */
export function compare(rows: readonly ExposureRow[]): Comparison {
  const placed = rows.filter(
    (r) => ratioOf(r) !== null && finite(r.distance_cm) && r.distance_cm > 0 && finite(r.angle_deg),
  );
  const ratio = Float64Array.from(placed, (r) => ratioOf(r)!);
  return {
    rows: placed,
    ratio,
    distance: Float64Array.from(placed, (r) => r.distance_cm!),
    angle: Float64Array.from(placed, (r) => r.angle_deg!),
    tally: tally(ratio),
  };
}

export interface Tally {
  passes: number;
  /** Null where there is no pass. */
  median: number | null;
  /** Shares of passes whose ratio lies outside ± 10 %, and outside ½ to 2. */
  offTenth: number | null;
  offTwofold: number | null;
}

export function tally(ratios: Float64Array): Tally {
  const passes = ratios.length;
  if (passes === 0) return { passes, median: null, offTenth: null, offTwofold: null };
  const sorted = ratios.slice().sort();
  const half = passes >> 1;
  const outside = ([low, high]: readonly [number, number]) =>
    ratios.reduce((n, r) => n + Number(r < low || r > high), 0);
  return {
    passes,
    median: passes % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2,
    offTenth: outside(tenth) / passes,
    offTwofold: outside(twofold) / passes,
  };
}

export interface Smallest {
  turns: number;
  textbook: number | null;
  computed: number | null;
}

/**
 * smallestAtTurn is the smallest field at a turn, by either way of computing
 * it. Only turns that can be answers to the pair count: used, at the active
 * pair, the field not falling. Where roles are sealed there are none.
 */
export function smallestAtTurn({ rows }: Comparison): Smallest {
  const found: Smallest = { turns: 0, textbook: null, computed: null };
  for (const row of rows) {
    if (row.turned !== 'yes' || row.role !== 'active' || !row.used || row.falling_field) continue;
    found.turns++;
    found.textbook = Math.min(found.textbook ?? Infinity, row.textbook_nV_per_cm!);
    found.computed = Math.min(found.computed ?? Infinity, row.position_nV_per_cm!);
  }
  return found;
}

/**
 * idealRatio is the ratio for an ideal small pair on an endless insulating
 * plane, whose field at distance r is k·√(4 cos²θ + sin²θ)/r³, of which the
 * textbook form is the part towards the pair, 2k·|cos θ|/r³: all along the
 * axis, nothing beside it. (Dipole field: any textbook of electrostatics.)
 */
export function idealRatio(angleDeg: number): number {
  if (angleDeg === 90) return 0;
  const cos = Math.abs(Math.cos((angleDeg * Math.PI) / 180));
  return (2 * cos) / Math.sqrt(1 + 3 * cos * cos);
}

export interface Class extends Tally {
  low: number;
  high: number;
}

const angleEdges = [0, 30, 60, 80, 100, 120, 150, 180];

/** classesOf splits the passes by distance, at 1, 2, 5 … cm, or by angle; a class holds its lower edge. Empty ones are left out. */
export function classesOf(c: Comparison, by: By): Class[] {
  const at = by === 'angle' ? c.angle : c.distance;
  const edges = by === 'angle' ? angleEdges : distanceEdges(at);
  const members: number[][] = edges.slice(1).map(() => []);
  at.forEach((v, i) => {
    let k = 0;
    while (k < members.length - 1 && v >= edges[k + 1]!) k++;
    members[k]?.push(c.ratio[i]!);
  });
  return members.flatMap((ratios, k) =>
    ratios.length === 0 ? [] : [{ low: edges[k]!, high: edges[k + 1]!, ...tally(Float64Array.from(ratios)) }],
  );
}

function distanceEdges(at: Float64Array): number[] {
  let [least, most] = [Infinity, 0];
  for (const v of at) [least, most] = [Math.min(least, v), Math.max(most, v)];
  if (!(most > 0)) return [];
  const edges: number[] = [];
  for (let e = Math.floor(Math.log10(least)); edges.length < 2 || edges.at(-1)! <= most; e++) {
    for (const m of [1, 2, 5]) {
      const edge = Number(`${m}e${e}`);
      // Only the last edge at or below the nearest pass begins a class.
      if (edge <= least) edges[0] = edge;
      else if (edges.at(-1)! <= most) edges.push(edge);
    }
  }
  return edges;
}

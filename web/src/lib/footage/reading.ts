// What the program answered about a pass, read at one frame.
import type { Located, MeasuredPass } from '$lib/api/footage';
import type { Pair, TrackPoint } from '$lib/api/types';

/** placeAt is the answer about a point in a frame. */
export const placeAt = (view: MeasuredPass | undefined, point: string, frame: number): Located | undefined =>
  view?.fixes.find((f) => f.frame === frame && f.point === point);

/** trackAt is the track at a moment, straight between its points; undefined outside of it. */
export function trackAt(track: readonly TrackPoint[], s: number): TrackPoint | undefined {
  const last = track.length - 1;
  const slack = 1e-6;
  if (last < 0 || s < track[0]!.t_s - slack || s > track[last]!.t_s + slack) return undefined;
  let [low, high] = [0, last];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (track[middle]!.t_s <= s) low = middle;
    else high = middle;
  }
  const [a, b] = [track[low]!, track[high]!];
  const span = b.t_s - a.t_s;
  const share = span > 0 ? Math.min(1, Math.max(0, (s - a.t_s) / span)) : 0;
  const mix = (u: number, v: number): number => u + share * (v - u);
  const maybe = (u: number | null, v: number | null): number | null => (u === null || v === null ? null : mix(u, v));
  return {
    t_s: mix(a.t_s, b.t_s),
    x_cm: mix(a.x_cm, b.x_cm),
    y_cm: mix(a.y_cm, b.y_cm),
    height_cm: maybe(a.height_cm, b.height_cm),
    field_nV_per_cm: maybe(a.field_nV_per_cm, b.field_nV_per_cm),
    phantom_nV_per_cm: maybe(a.phantom_nV_per_cm, b.phantom_nV_per_cm),
    phantom_nV_per_cm_per_uA: maybe(a.phantom_nV_per_cm_per_uA, b.phantom_nV_per_cm_per_uA),
  };
}

/** distanceCm is from a pair's centre, in three dimensions; null where the place has no height. */
export const distanceCm = (
  at: { x_cm: number | null; y_cm: number | null; height_cm: number | null },
  pair: Pair | undefined,
): number | null =>
  !pair || at.x_cm === null || at.y_cm === null || at.height_cm === null
    ? null
    : Math.hypot(at.x_cm - pair.x_cm, at.y_cm - pair.y_cm, at.height_cm - pair.height_cm);

/** limitCm2 is how far out 95 % of a plane normal distribution lie, in variances: −2·ln 0.05. */
const limit = -2 * Math.log(0.05);

export interface Ellipse {
  /** Half the long and half the short axis, cm. */
  longCm: number;
  shortCm: number;
  /** Of the long axis, anticlockwise from +x. */
  angleRad: number;
}

/** ellipseOf holds 95 % of where a fix may be in the plane; undefined where its covariance is none. */
export function ellipseOf(covariance: readonly (readonly number[])[] | null): Ellipse | undefined {
  const [xx, xy, yy] = [covariance?.[0]?.[0], covariance?.[0]?.[1], covariance?.[1]?.[1]];
  if (xx === undefined || xy === undefined || yy === undefined) return undefined;
  const [middle, reach] = [(xx + yy) / 2, Math.hypot((xx - yy) / 2, xy)];
  const [long, short] = [middle + reach, Math.max(0, middle - reach)];
  if (!(long > 0) || !Number.isFinite(long)) return undefined;
  return {
    longCm: Math.sqrt(limit * long),
    shortCm: Math.sqrt(limit * short),
    angleRad: Math.atan2(2 * xy, xx - yy) / 2,
  };
}

/** frameNearest is the frame of the fix whose place is nearest; undefined where none has a place within reach. */
export function frameNearest(
  fixes: readonly Located[],
  xCm: number,
  yCm: number,
  withinCm: number,
): number | undefined {
  let [best, frame]: [number, number | undefined] = [withinCm, undefined];
  for (const f of fixes) {
    if (f.x_cm === null || f.y_cm === null) continue;
    const d = Math.hypot(f.x_cm - xCm, f.y_cm - yCm);
    if (d <= best) [best, frame] = [d, f.frame];
  }
  return frame;
}

/** laidOf is where the program lays the filled fixes. */
export function laidOf(view: MeasuredPass | undefined): Record<string, readonly number[]> {
  const laid: Record<string, readonly number[]> = Object.create(null);
  for (const f of view?.fixes ?? []) if (f.how === 'filled') laid[`${f.frame} ${f.point}`] = f.pixel;
  return laid;
}

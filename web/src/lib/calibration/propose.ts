// Places for a probe round the driven pair that tell current, water, offset and
// a wrong axis apart: on the axis, where the potential is largest and its sign
// shows the polarity; between; across the axis, where nothing but the offset
// should be read; and above, where a plate counts less.
import type { Knobs, PairKnobs } from '$lib/api/stimulus';
import { bottomM, surfaceM } from '$lib/draw/solids';
import { leadingPair } from '$lib/state/knobs';
import { noCells, type Cells } from './rows';

/** The nearest ring: far enough that a millimetre of place is a small share of the distance. */
const nearestM = 0.03;
/** Rings in separations of the pair, and each in the one within it. */
const nearestSeparations = 2.5;
const ringStep = 1.6;
/** A tip held just above the plate or the sand. */
const clearM = 0.01;
/** Of the water's depth, and of the way to a tank's wall. */
const share = 0.85;

const rings: readonly (readonly number[])[] = [
  [0, 45, 90, 135, 180, 270],
  [0, 90, 180, 225],
  [0, 180],
];
const above: readonly (readonly [number, number])[] = [
  [0, 0],
  [20, 1],
  [200, 1],
];

/** Half a centimetre is what a person can hold. */
const halfCm = (m: number): number => Math.round(m * 200) / 200;
/** Half a millimetre along the directions between. */
const cmText = (m: number): string => String(Math.round(m * 2000) / 20 + 0);

/** proposePlaces gives rows without readings; spacing is the distance between the probe's tips, undefined against a far reference. */
export function proposePlaces(knobs: Knobs, spacingM: number | undefined): Cells[] {
  const pair = knobs.pairs[leadingPair(knobs)];
  if (!pair) return [];
  const first = halfCm(Math.max(nearestM, nearestSeparations * pair.separation_m));
  const low = Math.max(pair.height_m, bottomM(knobs), 0) + clearM;
  const out: Cells[] = [];
  const add = (r: number, angle: number, z: number) => {
    const plus = along(pair, r, angle, z);
    const minus = spacingM === undefined ? undefined : along(pair, r + spacingM, angle, z);
    if (![plus, minus].every((p) => !p || inWater(knobs, p))) return;
    const [px = '', py = '', pz = ''] = plus.map(cmText);
    const [mx = '', my = '', mz = ''] = (minus ?? []).map(cmText);
    out.push({ ...noCells, label: `P${out.length + 1}`, px, py, pz, mx, my, mz });
  };
  rings.forEach((angles, i) => angles.forEach((angle) => add(halfCm(first * ringStep ** i), angle, low)));
  for (const [angle, r] of above) add(r * first, angle, low + first);
  return out;
}

function along(pair: PairKnobs, r: number, angleDeg: number, z: number): [number, number, number] {
  const a = ((pair.azimuth_deg + angleDeg) * Math.PI) / 180;
  return [(pair.centre_m[0] ?? 0) + r * Math.cos(a), (pair.centre_m[1] ?? 0) + r * Math.sin(a), z];
}

/** inWater keeps clear of the surface and of a tank's walls; what lies in a body the program says. */
function inWater(knobs: Knobs, [x, y, z]: readonly [number, number, number]): boolean {
  const [bottom, surface] = [bottomM(knobs), surfaceM(knobs)];
  if (surface !== null && z - bottom > share * (surface - bottom)) return false;
  const tank = knobs.enclosure;
  if (!tank) return true;
  const [dx, dy] = [x - (tank.centre_m[0] ?? 0), y - (tank.centre_m[1] ?? 0)];
  if (tank.diameter_m !== null) return Math.hypot(dx, dy) <= (share * tank.diameter_m) / 2;
  const [a, b] = tank.size_m ?? [];
  return a === undefined || b === undefined || (Math.abs(dx) <= (share * a) / 2 && Math.abs(dy) <= (share * b) / 2);
}

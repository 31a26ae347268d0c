// How a fix looks: a full disc where a person placed it, a ring where the
// program carried it, a cross where it was filled in. Colour tells only whose it is.
import type { How } from '$lib/footage/draft';
import { circleAt, path, px, type Mark, type Paint } from './picture';

const cross = (x: number, y: number, r: number): string =>
  `M${px(x - r)} ${px(y - r)}l${px(2 * r)} ${px(2 * r)}m0 ${px(-2 * r)}l${px(-2 * r)} ${px(2 * r)}`;

/** fixMarks are a fix with a rim of paper, so that it is seen on every ground. */
export function fixMarks(how: How, x: number, y: number, r: number, paint: Paint, title?: string): Mark[] {
  const named = title === undefined ? {} : { title };
  if (how === 'filled') {
    const d = cross(x, y, r * 0.65);
    return [path(d, { stroke: 'paper', width: 3.5 }), path(d, { stroke: paint, width: 1.5, ...named })];
  }
  const d = circleAt(x, y, r);
  return how === 'placed'
    ? [path(d, { fill: paint, stroke: 'paper', width: 1.25, ...named })]
    : [path(d, { stroke: 'paper', width: 4 }), path(d, { fill: 'paper', stroke: paint, width: 1.75, ...named })];
}

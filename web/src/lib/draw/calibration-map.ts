// Plans of a calibration: where the probe goes, and what was read more or less
// than fitted there.
import type { CalibrationRow } from '$lib/api/calibration';
import type { Knobs } from '$lib/api/stimulus';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import type { Frame } from './axes';
import {
  cm,
  drivenSpots,
  ground,
  labelOf,
  labels,
  pairs,
  planOf,
  readingsTable,
  tipCells,
  type Place,
} from './calibration-plan';
import { circleAt, line, path, px, text, type Figure, type Mark } from './picture';

const w = words.calibration.map;

export type SizeOf = 'uV' | 'sd';
const largestPx = 20;
/** A residual of nearly nothing is still a mark. */
const leastPx = 2.5;

export const residualOf = (row: CalibrationRow, size: SizeOf): number | null =>
  size === 'uV' ? row.residual_uV : row.standardised;

/** largestOf is the residual that gets the largest mark: in standard deviations at least 3, so that a good fit looks good. */
export function largestOf(rows: readonly CalibrationRow[], size: SizeOf): number {
  const most = Math.max(0, ...rows.map((r) => Math.abs(residualOf(r, size) ?? 0)));
  return size === 'sd' ? Math.max(3, most) : most;
}

/** radiusOf makes the area of a mark go with the residual. */
export const radiusOf = (v: number, largest: number): number =>
  largest > 0 ? Math.max(leastPx, largestPx * Math.sqrt(Math.abs(v) / largest)) : leastPx;

export function residualMap(rows: readonly CalibrationRow[], knobs: Knobs, size: SizeOf, width: number): Figure {
  const plan = planOf(rows, knobs, width);
  const { x, y, frame } = plan;
  const largest = largestOf(rows, size);
  const marks = [...ground(plan, knobs)];
  const named = rows.map((row, i) => ({ row, label: labelOf(row, i), v: residualOf(row, size) }));
  // The largest lie behind, so that none hides another.
  const order = [...named].sort((a, b) => Math.abs(b.v ?? 0) - Math.abs(a.v ?? 0));
  const at = (row: CalibrationRow) => [x.at(cm(row.middle_m[0] ?? 0)), y.at(cm(row.middle_m[1] ?? 0))] as const;
  for (const { row } of order) {
    if (!row.minus_m) continue;
    const ends = [row.plus_m, row.minus_m].map((p) => [x.at(cm(p[0] ?? 0)), y.at(cm(p[1] ?? 0))] as const);
    marks.push(line(ends[0]![0], ends[0]![1], ends[1]![0], ends[1]![1], { stroke: 'soft', width: 1 }));
  }
  marks.push(...pairs(plan, knobs));
  for (const { row, label, v } of order) {
    const [cx, cy] = at(row);
    if (v === null) {
      const d = `M${px(cx - 4)} ${px(cy - 4)}l8 8m0 -8l-8 8`;
      marks.push(path(d, { stroke: 'soft', width: 1.5, title: `${label}: ${w.unused}` }));
      continue;
    }
    const title = w.said(label, sig(v), w.units[size]);
    marks.push(residualMark(cx, cy, radiusOf(v, largest), v >= 0, title));
  }
  marks.push(
    ...labels(
      named.map(({ row, label, v }) => ({ at: at(row), label, r: v === null ? 5 : radiusOf(v, largest) })),
      frame,
      drivenSpots(plan, knobs),
    ),
  );
  const key = residualKey(
    largest,
    size,
    frame,
    rows.some((r) => residualOf(r, size) === null),
  );
  marks.push(...key.marks);
  const used = named.filter((n) => n.v !== null);
  const said = [
    ...used.map((n) => w.said(n.label, sig(n.v!), w.units[size])),
    ...(used.length < named.length ? [w.unmeasured(named.length - used.length)] : []),
  ].join(' ');
  return {
    name: w.name,
    picture: { width, height: key.bottom, title: w.title, description: w.description(said), marks },
    ...readingsTable(rows),
  };
}

/** More than fitted is filled, less is hollow: told apart without colour. */
function residualMark(cx: number, cy: number, r: number, more: boolean, title?: string): Mark {
  const d = circleAt(cx, cy, more ? r : Math.max(1.5, r - 1));
  return more
    ? path(d, { fill: 'accent', stroke: 'paper', width: 1, ...(title ? { title } : {}) })
    : path(d, { fill: 'paper', stroke: 'accent', width: 2, ...(title ? { title } : {}) });
}

function residualKey(largest: number, size: SizeOf, frame: Frame, unused: boolean): { marks: Mark[]; bottom: number } {
  const marks: Mark[] = [];
  const items: { r: number; kind: 'more' | 'less' | 'unused'; says: string }[] = [
    { r: 7, kind: 'more', says: w.filled },
    { r: 7, kind: 'less', says: w.hollow },
  ];
  if (unused) items.push({ r: 5, kind: 'unused', says: w.unused });
  if (largest > 0) {
    for (const part of [1, 0.25]) {
      const v = Number((largest * part).toPrecision(2));
      items.push({ r: radiusOf(v, largest), kind: 'more', says: w.size(tickText(v), w.units[size]) });
    }
  }
  // The sizes begin a line of their own.
  const firstSize = largest > 0 ? items.at(-2)?.says : undefined;
  let [x, y] = [frame.left, frame.bottom + 66];
  for (const { r, kind, says } of items) {
    const long = 2 * Math.max(r, 7) + 10 + says.length * 7.2 + 16;
    if ((says === firstSize || x + long > frame.right + 10) && x > frame.left)
      [x, y] = [frame.left, y + (says === firstSize || r > 12 ? 38 : 26)];
    const cx = x + Math.max(r, 7);
    if (kind === 'unused')
      marks.push(path(`M${px(cx - 4)} ${px(y - 4)}l8 8m0 -8l-8 8`, { stroke: 'soft', width: 1.5 }));
    else marks.push(residualMark(cx, y, r, kind === 'more'));
    marks.push(text(cx + Math.max(r, 7) + 6, y + 5, says));
    x += long;
  }
  return { marks, bottom: y + 26 };
}

/** placesFigure shows where the tips go, before and after anything is measured. */
export function placesFigure(places: readonly Place[], knobs: Knobs, width: number): Figure {
  const p = words.calibration.placesFigure;
  const plan = planOf(places, knobs, width);
  const { x, y, frame } = plan;
  const marks = [...ground(plan, knobs), ...pairs(plan, knobs)];
  const spot = (m: readonly number[]) => [x.at(cm(m[0] ?? 0)), y.at(cm(m[1] ?? 0))] as const;
  const named = places.map((place, i) => ({ place, label: labelOf(place, i) }));
  for (const { place } of named) {
    if (!place.minus_m) continue;
    const [[ax, ay], [bx, by]] = [spot(place.plus_m), spot(place.minus_m)];
    marks.push(line(ax, ay, bx, by, { stroke: 'soft', width: 1.5 }));
    marks.push(path(circleAt(bx, by, 3.5), { fill: 'paper', stroke: 'accent', width: 1.5 }));
  }
  for (const { place, label } of named) {
    const [ax, ay] = spot(place.plus_m);
    marks.push(path(circleAt(ax, ay, 4), { fill: 'accent', stroke: 'paper', width: 1, title: label }));
  }
  marks.push(
    ...labels(
      named.map(({ place, label }) => ({ at: spot(place.plus_m), label, r: 4 })),
      frame,
      drivenSpots(plan, knobs),
    ),
  );
  const [kx, ky] = [frame.left, frame.bottom + 62];
  marks.push(
    path(circleAt(kx + 5, ky, 4), { fill: 'accent', stroke: 'paper', width: 1 }),
    text(kx + 16, ky + 5, p.plus),
    path(circleAt(kx + 95, ky, 3.5), { fill: 'paper', stroke: 'accent', width: 1.5 }),
    text(kx + 106, ky + 5, p.minus),
  );
  const tip = (m: readonly number[], i: number) => tickText(cm(m[i] ?? 0));
  const said = named.map(({ place: { plus_m: m }, label }) => p.said(label, tip(m, 0), tip(m, 1), tip(m, 2))).join(' ');
  return {
    name: p.name,
    picture: { width, height: ky + 20, title: p.title, description: p.description(said), marks },
    columns: ['label', 'plus_x_cm', 'plus_y_cm', 'plus_z_cm', 'minus_x_cm', 'minus_y_cm', 'minus_z_cm'],
    rows: places.map((q) => [q.label, ...tipCells(q.plus_m), ...tipCells(q.minus_m)]),
  };
}

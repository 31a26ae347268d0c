// The ground of the plans of a calibration, to scale, x to the right and y
// upwards: axes, plates, pairs and the names of places.
import type { CalibrationRow } from '$lib/api/calibration';
import type { Knobs } from '$lib/api/stimulus';
import { words } from '$lib/words';
import { tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { box, line, path, px, text, type Cell, type Figure, type Mark } from './picture';
import { plateOutline } from './range';
import { linearScale, type Scale } from './scale';

const w = words.calibration.map;
export const cm = (m: number) => m * 100;

/** What a place needs to be drawn. */
export interface Place {
  label: string;
  plus_m: readonly number[];
  minus_m?: readonly number[] | null | undefined;
}

export interface Plan {
  frame: Frame;
  x: Scale;
  y: Scale;
}

/** labelOf names a row for people: its label, or the number of its row. */
export const labelOf = (row: { label?: string }, i: number): string =>
  row.label || words.calibration.influence.noLabel(i + 1);

/** planOf frames all places and the driven pairs, with equal scales on both axes. */
export function planOf(places: readonly Place[], knobs: Knobs, width: number): Plan {
  const driven = knobs.pairs.filter((p) => p.share !== 0);
  const points = [
    ...places.flatMap((p) => [p.plus_m, ...(p.minus_m ? [p.minus_m] : [])]),
    ...driven.flatMap((p) => electrodesOf(p)),
  ];
  const [xs, ys] = [points.map((p) => cm(p[0] ?? 0)), points.map((p) => cm(p[1] ?? 0))];
  const span = (v: number[]): [number, number] => (v.length > 0 ? [Math.min(...v), Math.max(...v)] : [-5, 5]);
  const [[x0, x1], [y0, y1]] = [span(xs), span(ys)];
  const room = Math.max(0.14 * Math.max(x1 - x0, y1 - y0), 1);
  const [wide, tall] = [x1 - x0 + 2 * room, Math.max(y1 - y0 + 2 * room, 0.4 * (x1 - x0 + 2 * room))];
  const left = 52;
  const right = width - 14;
  const top = 34;
  const most = Math.max(220, width * 0.85);
  const scale = Math.min((right - left) / wide, most / tall);
  const bottom = top + tall * scale;
  const [mx, my] = [(x0 + x1) / 2, (y0 + y1) / 2];
  const half = (right - left) / 2 / scale;
  return {
    frame: { left, right, top, bottom },
    x: linearScale([mx - half, mx + half], [left, right]),
    y: linearScale([my - tall / 2, my + tall / 2], [bottom, top]),
  };
}

function electrodesOf(pair: Knobs['pairs'][number]): [number, number][] {
  const a = (pair.azimuth_deg * Math.PI) / 180;
  const [dx, dy] = [(Math.cos(a) * pair.separation_m) / 2, (Math.sin(a) * pair.separation_m) / 2];
  const [cx, cy] = [pair.centre_m[0] ?? 0, pair.centre_m[1] ?? 0];
  return [
    [cx + dx, cy + dy],
    [cx - dx, cy - dy],
  ];
}

/** within cuts a polygon off at the frame (Sutherland and Hodgman, one side after the other). */
function within(points: readonly (readonly [number, number])[], frame: Frame): [number, number][] {
  const sides: [(p: readonly [number, number]) => number][] = [
    [(p) => p[0] - frame.left],
    [(p) => frame.right - p[0]],
    [(p) => p[1] - frame.top],
    [(p) => frame.bottom - p[1]],
  ];
  let out = points.map((p) => [p[0], p[1]] as [number, number]);
  for (const [inside] of sides) {
    const next: [number, number][] = [];
    out.forEach((b, i) => {
      const a = out[(i + out.length - 1) % out.length]!;
      const [da, db] = [inside(a), inside(b)];
      if (da >= 0 !== db >= 0) {
        const t = da / (da - db);
        next.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
      }
      if (db >= 0) next.push(b);
    });
    out = next;
  }
  return out;
}

export function ground({ frame, x, y }: Plan, knobs: Knobs): Mark[] {
  const marks: Mark[] = [];
  for (const plate of knobs.plates) {
    const outline = within(
      plateOutline(plate).map(([a, b]) => [x.at(cm(a)), y.at(cm(b))] as const),
      frame,
    );
    if (outline.length < 3) continue;
    const d = `M${outline.map(([a, b]) => `${px(a)} ${px(b)}`).join('L')}z`;
    marks.push(path(d, { fill: 'sunk', stroke: 'edge', width: 1.5, title: w.plate }));
  }
  marks.push(
    ...xAxis(frame, x, { label: w.x, write: tickText }),
    ...yAxis(frame, y, { label: w.y, write: tickText }),
    box(frame.left, frame.top, frame.right - frame.left, frame.bottom - frame.top, { stroke: 'edge', width: 1 }),
  );
  return marks;
}

/** Squares, so that no electrode is taken for a reading; those of the driven pair are filled. */
export function pairs({ frame, x, y }: Plan, knobs: Knobs): Mark[] {
  const marks: Mark[] = [];
  for (const pair of knobs.pairs) {
    const driven = pair.share !== 0;
    const ends = electrodesOf(pair).map(([a, b]) => [x.at(cm(a)), y.at(cm(b))] as const);
    if (ends.some(([a, b]) => a < frame.left || a > frame.right || b < frame.top || b > frame.bottom)) continue;
    const [a, b] = ends as [readonly [number, number], readonly [number, number]];
    if (driven) marks.push(line(a[0], a[1], b[0], b[1], { stroke: 'ink', width: 2 }));
    const title = `${pair.label}, ${driven ? w.driven : w.silent}`;
    for (const [ex, ey] of ends)
      marks.push(box(ex - 3, ey - 3, 6, 6, { fill: driven ? 'ink' : 'paper', stroke: 'ink', width: 1.5, title }));
  }
  return marks;
}

export interface Named {
  at: readonly [number, number];
  label: string;
  r: number;
}

/** drivenSpots is where the electrodes of driven pairs are drawn. */
export const drivenSpots = ({ x, y }: Plan, knobs: Knobs): (readonly [number, number])[] =>
  knobs.pairs
    .filter((p) => p.share !== 0)
    .flatMap(electrodesOf)
    .map(([a, b]) => [x.at(cm(a)), y.at(cm(b))] as const);

/** labels stand beside their marks; those of one spot stand below each other, and what finds no room is left to the table; spots to keep clear are 10 px wide. */
export function labels(
  named: readonly Named[],
  frame: Frame,
  clear: readonly (readonly [number, number])[] = [],
): Mark[] {
  const taken = clear.map(([x, y]) => ({ x: x - 5, y: y + 6, w: 10 }));
  const marks: Mark[] = [];
  const height = 13;
  for (const { at, label, r } of named) {
    const long = label.length * 6.6 + 4;
    const tries: [number, number][] = [
      [at[0] + r + 3, at[1] + 4],
      [at[0] - r - 3 - long, at[1] + 4],
      [at[0] - long / 2, at[1] - r - 5],
      [at[0] - long / 2, at[1] + r + 13],
      [at[0] + r + 3, at[1] + 4 + height],
      [at[0] + r + 3, at[1] + 4 - height],
    ];
    const free = tries.find(
      ([tx, ty]) =>
        tx >= frame.left + 2 &&
        tx + long <= frame.right &&
        ty - height >= frame.top &&
        ty <= frame.bottom - 2 &&
        taken.every((t) => tx + long < t.x || tx > t.x + t.w || Math.abs(ty - t.y) >= height),
    );
    if (!free) continue;
    taken.push({ x: free[0], y: free[1], w: long });
    marks.push(text(free[0], free[1], label, { size: 12, halo: true }));
  }
  return marks;
}

const tidy = (v: number): number => Number(v.toPrecision(10));
export const tipCells = (m: readonly number[] | null | undefined): Cell[] =>
  m ? [0, 1, 2].map((i) => tidy(cm(m[i] ?? 0))) : ['far', null, null];

/** readingsTable is the table with all that was found; its first columns can be pasted back. */
export function readingsTable(rows: readonly CalibrationRow[]): Pick<Figure, 'columns' | 'rows'> {
  return {
    columns: [
      'label',
      'plus_x_cm',
      'plus_y_cm',
      'plus_z_cm',
      'minus_x_cm',
      'minus_y_cm',
      'minus_z_cm',
      'reading_uV',
      'sd_used_uV',
      'designed_uV',
      'textbook_uV',
      'fitted_uV',
      'residual_uV',
      'residual_over_its_standard_deviation',
      'leverage',
      'factor_without_it',
      'influence_in_standard_errors',
      'outlier_p',
    ],
    rows: rows.map((r) => [
      r.label,
      ...tipCells(r.plus_m),
      ...tipCells(r.minus_m),
      r.measured_uV,
      r.sd_uV,
      r.designed_uV,
      r.textbook_uV,
      r.fitted_uV,
      r.residual_uV,
      r.standardised,
      r.leverage,
      r.factor_without_it,
      r.influence,
      r.outlier_p,
    ]),
  };
}

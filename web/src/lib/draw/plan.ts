// What stands on the plan: wall, plates, pairs, passes, and the pass that is shown.
import type { ExposureRow, Pass, Plate, Season } from '$lib/api/types';
import { words } from '$lib/words';
import {
  circleAt,
  line,
  path,
  polyline,
  shapeAt,
  speciesStyle,
  text,
  type Mark,
  type Paint,
  type Shape,
} from './picture';
import { boundsOf, scaleBar, toScreen, type Bounds, type PlanView, type SeasonPoint } from './plan-view';

export const markRadius = 5;
export const dotRadius = 1.6;

/** How a pass is marked: the colour and shape of its species, filled where its pair was active. */
export interface PassMark {
  paint: Paint;
  shape: Shape;
  fill: 'full' | 'open' | 'faint';
}

export function passMark(row: ExposureRow, species: readonly string[]): PassMark {
  const { paint, shape } = speciesStyle(Math.max(0, species.indexOf(row.species)));
  return { paint, shape, fill: row.role === 'active' ? 'full' : row.role === 'control' ? 'open' : 'faint' };
}

export const headOf = (row: ExposureRow): SeasonPoint | undefined =>
  row.head_x_cm === null || row.head_y_cm === null ? undefined : { xCm: row.head_x_cm, yCm: row.head_y_cm };

/** planBounds hold the wall, the plates, the pairs with their circles and every pass. */
export function planBounds(season: Season, rows: readonly ExposureRow[]): Bounds | undefined {
  const points: SeasonPoint[] = [];
  const square = (x: number, y: number, rx: number, ry: number) =>
    points.push({ xCm: x - rx, yCm: y - ry }, { xCm: x + rx, yCm: y + ry });
  const wall = season.enclosure;
  if (wall) {
    const round = wall.diameter_cm;
    square(wall.centre_x_cm, wall.centre_y_cm, (round ?? wall.size_x_cm) / 2, (round ?? wall.size_y_cm) / 2);
  }
  for (const plate of season.plates) points.push(...cornersOf(plate));
  for (const p of season.pairs) square(p.x_cm, p.y_cm, season.pass_radius_cm, season.pass_radius_cm);
  for (const row of rows) {
    const head = headOf(row);
    if (head) points.push(head);
  }
  return boundsOf(points);
}

/** cornersOf are those of a plate's outline, anticlockwise; of a disc, those of the square round it. */
export function cornersOf(plate: Plate): SeasonPoint[] {
  const angle = plate.diameter_cm === null ? (plate.yaw_deg * Math.PI) / 180 : 0;
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const [a, b] = [(plate.diameter_cm ?? plate.size_x_cm) / 2, (plate.diameter_cm ?? plate.size_y_cm) / 2];
  return [[-a, -b] as const, [a, -b] as const, [a, b] as const, [-a, b] as const].map(([u, v]) => ({
    xCm: plate.centre_x_cm + u * cos - v * sin,
    yCm: plate.centre_y_cm + u * sin + v * cos,
  }));
}

function plateMark(plate: Plate, v: PlanView): Mark {
  const style = { fill: 'sunk', stroke: 'edge', width: 1.5, title: words.exposures.plan.plate(plate.label) } as const;
  if (plate.diameter_cm !== null) {
    const c = toScreen(v, { xCm: plate.centre_x_cm, yCm: plate.centre_y_cm });
    return path(circleAt(c.x, c.y, (plate.diameter_cm / 2) * v.pxPerCm), style);
  }
  const corners = cornersOf(plate).map((p) => toScreen(v, p));
  const d = polyline(
    corners.map((p) => p.x),
    corners.map((p) => p.y),
  );
  return path(`${d}z`, style);
}

/** groundMarks lie under the passes. */
export function groundMarks(season: Season, v: PlanView): Mark[] {
  const marks: Mark[] = [];
  const wall = season.enclosure;
  if (wall) {
    const c = toScreen(v, { xCm: wall.centre_x_cm, yCm: wall.centre_y_cm });
    const [rx, ry] = [(wall.size_x_cm / 2) * v.pxPerCm, (wall.size_y_cm / 2) * v.pxPerCm];
    const d =
      wall.diameter_cm !== null
        ? circleAt(c.x, c.y, (wall.diameter_cm / 2) * v.pxPerCm)
        : `M${c.x - rx} ${c.y - ry}h${2 * rx}v${2 * ry}h${-2 * rx}z`;
    marks.push(path(d, { fill: 'surface', stroke: 'edge', width: 3 }));
  }
  for (const plate of season.plates) marks.push(plateMark(plate, v));
  for (const pair of season.pairs) {
    const c = toScreen(v, { xCm: pair.x_cm, yCm: pair.y_cm });
    marks.push(path(circleAt(c.x, c.y, season.pass_radius_cm * v.pxPerCm), { stroke: 'edge', width: 1, dash: [3, 4] }));
  }
  return marks;
}

/** pairMarks are an arrow from the negative to the positive electrode and a label. */
export function pairMarks(season: Season, v: PlanView): Mark[] {
  return season.pairs.flatMap((pair) => {
    const c = toScreen(v, { xCm: pair.x_cm, yCm: pair.y_cm });
    const half = Math.max(11, (pair.separation_cm / 2) * v.pxPerCm);
    const off = Math.max(26, Math.min(season.pass_radius_cm * v.pxPerCm + 10, 110)) * Math.SQRT1_2;
    const angle = (pair.azimuth_deg * Math.PI) / 180;
    const [ux, uy] = [Math.cos(angle), -Math.sin(angle)];
    const [tipX, tipY] = [c.x + ux * half, c.y + uy * half];
    const wing = (side: number) => [tipX - ux * 7 - uy * 5 * side, tipY - uy * 7 + ux * 5 * side] as const;
    const [[ax, ay], [bx, by]] = [wing(1), wing(-1)];
    const style = { stroke: 'ink', width: 2 } as const;
    return [
      line(c.x - ux * half, c.y - uy * half, tipX, tipY, { stroke: 'paper', width: 5 }),
      line(c.x - ux * half, c.y - uy * half, tipX, tipY, style),
      path(polyline([ax, tipX, bx], [ay, tipY, by]), style),
      path(circleAt(c.x - ux * half, c.y - uy * half, 2.5), { fill: 'ink' }),
      text(c.x + off, c.y - off, pair.label, { bold: true, size: 17, halo: true }),
    ];
  });
}

/** rowMarks are the passes as paths, for files; the screen paints them on a canvas. */
export function rowMarks(
  rows: readonly ExposureRow[],
  species: readonly string[],
  v: PlanView,
  noTurns: boolean,
): Mark[] {
  const marks: Mark[] = [];
  for (const row of rows) {
    const head = headOf(row);
    if (!head || (!row.responded && !noTurns)) continue;
    const { x, y } = toScreen(v, head);
    if (x < -9 || y < -9 || x > v.width + 9 || y > v.height + 9) continue;
    if (!row.responded) {
      marks.push(path(circleAt(x, y, dotRadius), { fill: 'soft', opacity: 0.6 }));
      continue;
    }
    const { paint, shape, fill } = passMark(row, species);
    const d = shapeAt(shape, x, y, markRadius);
    const style =
      fill === 'full'
        ? { fill: paint, stroke: 'paper' as const, width: 1 }
        : { fill: 'paper' as const, stroke: paint, width: 2 };
    marks.push(path(d, { ...style, opacity: fill === 'faint' ? 0.55 : 1, title: row.pass }));
  }
  return marks;
}

/** shownMarks are the track of the pass that is shown and a ring round its mark. */
export function shownMarks(row: ExposureRow | undefined, pass: Pass | undefined, v: PlanView): Mark[] {
  if (!row) return [];
  const marks: Mark[] = [];
  const track = pass?.row.pass === row.pass ? (pass.track.length > 0 ? pass.track : pass.fixes) : [];
  if (track.length > 1) {
    const points = track.map((p) => toScreen(v, { xCm: p.x_cm, yCm: p.y_cm }));
    const d = polyline(
      points.map((p) => p.x),
      points.map((p) => p.y),
    );
    marks.push(path(d, { stroke: 'paper', width: 5 }), path(d, { stroke: 'accent', width: 2.5 }));
    marks.push(path(circleAt(points[0]!.x, points[0]!.y, 4), { fill: 'paper', stroke: 'accent', width: 2 }));
    marks.push(...arrowHead(points.at(-2)!, points.at(-1)!));
  }
  const head = headOf(row);
  if (head) {
    const { x, y } = toScreen(v, head);
    marks.push(
      path(circleAt(x, y, 12), { stroke: 'paper', width: 6 }),
      path(circleAt(x, y, 12), { stroke: 'ink', width: 2.5 }),
    );
  }
  return marks;
}

function arrowHead(from: { x: number; y: number }, to: { x: number; y: number }): Mark[] {
  const length = Math.hypot(to.x - from.x, to.y - from.y);
  if (!(length > 0)) return [];
  const [ux, uy] = [(to.x - from.x) / length, (to.y - from.y) / length];
  const xs = [to.x - ux * 9 - uy * 5, to.x, to.x - ux * 9 + uy * 5];
  const ys = [to.y - uy * 9 + ux * 5, to.y, to.y - uy * 9 - ux * 5];
  return [path(polyline(xs, ys), { stroke: 'accent', width: 2.5 })];
}

export function scaleMarks(v: PlanView): Mark[] {
  const { cm, px } = scaleBar(v, Math.min(160, v.width / 3));
  const [x, y] = [v.width - 16 - px, v.height - 18];
  const d = `M${x} ${y - 5}v10M${x} ${y}h${px}m0 -5v10`;
  return [
    path(d, { stroke: 'paper', width: 5 }),
    path(d, { stroke: 'ink', width: 2 }),
    text(x + px / 2, y - 9, words.exposures.plan.scale(cm), { anchor: 'middle', halo: true }),
  ];
}

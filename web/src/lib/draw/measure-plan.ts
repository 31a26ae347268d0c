// The plan beside the picture: plate, pairs, the bottom in squares, and where the
// animals of the clip were.
import type { Located } from '$lib/api/footage';
import type { Season, TrackPoint } from '$lib/api/types';
import { ellipseOf, type Ellipse } from '$lib/footage/reading';
import { words } from '$lib/words';
import { fixMarks } from './measure-glyphs';
import { groundMarks, pairMarks, planBounds, scaleMarks } from './plan';
import { circleAt, line, path, polyline, speciesStyle, text, type Figure, type Mark } from './picture';
import { boundsOf, toScreen, toSeason, type Bounds, type PlanView, type SeasonPoint } from './plan-view';

/** PlanAnimal is a pass that is in the picture now. */
export interface PlanAnimal {
  pass: string;
  name: string;
  /** Label of the pair of its pass. */
  pair: string;
  /** Its place among the animals: its colour and dash. */
  index: number;
  active: boolean;
  fixes: readonly Located[];
  track: readonly TrackPoint[];
  /** Where it is in the frame that is shown. */
  now: SeasonPoint | undefined;
}

export interface PlanChoices {
  season: Season;
  animals: readonly PlanAnimal[];
  frame: number;
  point: string;
}

/** measureBounds hold every track with the pairs of its animals; everything, where there is no track yet. */
export function measureBounds(season: Season, animals: readonly PlanAnimal[]): Bounds | undefined {
  const points: SeasonPoint[] = [];
  for (const a of animals) {
    for (const p of a.track) points.push({ xCm: p.x_cm, yCm: p.y_cm });
    for (const f of a.fixes) if (f.x_cm !== null && f.y_cm !== null) points.push({ xCm: f.x_cm, yCm: f.y_cm });
  }
  if (points.length === 0) return planBounds(season, []);
  const r = season.pass_radius_cm;
  for (const p of season.pairs)
    if (animals.some((a) => a.pair === p.label))
      points.push({ xCm: p.x_cm - r, yCm: p.y_cm - r }, { xCm: p.x_cm + r, yCm: p.y_cm + r });
  return boundsOf(points);
}

/** squares are the season frame's own lines, every 10 cm or as far apart as can be told. */
function squares(v: PlanView): Mark[] {
  const step = [1, 10, 50, 100, 500, 1000].find((cm) => cm * v.pxPerCm >= 14);
  if (!step) return [];
  const [a, b] = [toSeason(v, { x: 0, y: v.height }), toSeason(v, { x: v.width, y: 0 })];
  const marks: Mark[] = [];
  const lines = (from: number, to: number): number[] => {
    const all: number[] = [];
    for (let i = Math.ceil(from / step); i * step <= to && all.length < 400; i++) all.push(i * step);
    return all;
  };
  const style = { stroke: 'grid', width: 1 } as const;
  for (const x of lines(a.xCm, b.xCm)) {
    const at = toScreen(v, { xCm: x, yCm: 0 }).x;
    marks.push(line(at, 0, at, v.height, style));
  }
  for (const y of lines(a.yCm, b.yCm)) {
    const at = toScreen(v, { xCm: 0, yCm: y }).y;
    marks.push(line(0, at, v.width, at, style));
  }
  return marks;
}

/** ellipseAt is the outline of an ellipse round a point of the season. */
export function ellipseAt(v: PlanView, at: SeasonPoint, e: Ellipse): string {
  const [xs, ys]: [number[], number[]] = [[], []];
  for (let i = 0; i < 48; i++) {
    const s = (i / 48) * 2 * Math.PI;
    const [u, w] = [e.longCm * Math.cos(s), e.shortCm * Math.sin(s)];
    const [cos, sin] = [Math.cos(e.angleRad), Math.sin(e.angleRad)];
    const p = toScreen(v, { xCm: at.xCm + u * cos - w * sin, yCm: at.yCm + u * sin + w * cos });
    xs.push(p.x);
    ys.push(p.y);
  }
  return `${polyline(xs, ys)}z`;
}

/** Carried and filled fixes nearer to the one before are not drawn. */
const apartPx = 11;

function animalMarks(a: PlanAnimal, { frame, point }: PlanChoices, v: PlanView): Mark[] {
  const { paint, dash } = speciesStyle(a.index);
  const marks: Mark[] = [];
  const on = a.track.map((p) => toScreen(v, { xCm: p.x_cm, yCm: p.y_cm }));
  if (on.length > 1) {
    const d = polyline(
      on.map((p) => p.x),
      on.map((p) => p.y),
    );
    marks.push(path(d, { stroke: 'paper', width: 4.5, opacity: 0.8 }));
    marks.push(path(d, { stroke: paint, width: a.active ? 2 : 1.5, dash, opacity: a.active ? 1 : 0.7 }));
  }
  if (a.active) {
    let last: { x: number; y: number } | undefined;
    for (const f of a.fixes) {
      if (f.point !== point || f.x_cm === null || f.y_cm === null) continue;
      const { x, y } = toScreen(v, { xCm: f.x_cm, yCm: f.y_cm });
      const here = f.frame === frame;
      // The table and the file hold them all; drawn on each other they would hide the track.
      if (!here && f.how !== 'placed' && last && Math.hypot(x - last.x, y - last.y) < apartPx) continue;
      last = { x, y };
      const e = here ? ellipseOf(f.covariance_cm2) : undefined;
      if (e) {
        const d = ellipseAt(v, { xCm: f.x_cm, yCm: f.y_cm }, e);
        marks.push(path(d, { fill: paint, opacity: 0.16 }), path(d, { stroke: paint, width: 1.5 }));
      }
      marks.push(...fixMarks(f.how, x, y, here ? 5 : 3.25, paint));
    }
  }
  if (a.now) {
    const { x, y } = toScreen(v, a.now);
    if (a.active) {
      marks.push(path(circleAt(x, y, 10), { stroke: 'paper', width: 5 }));
      marks.push(path(circleAt(x, y, 10), { stroke: 'ink', width: 2.25 }));
    } else marks.push(path(circleAt(x, y, 5), { fill: 'paper', stroke: paint, width: 2 }));
  }
  const named = a.now ?? (a.track[0] && { xCm: a.track[0].x_cm, yCm: a.track[0].y_cm });
  if (named) {
    const { x, y } = toScreen(v, named);
    // Below: pairs have their names above to the right.
    marks.push(
      text(x, y + (y > v.height - 40 ? -16 : 26), a.name, {
        fill: paint,
        bold: a.active,
        halo: true,
        anchor: 'middle',
      }),
    );
  }
  return marks;
}

/** planMarks draw everything; the animal that is measured lies on top. */
export function planMarks(choices: PlanChoices, v: PlanView): Mark[] {
  const inOrder = [...choices.animals].sort((a, b) => Number(a.active) - Number(b.active));
  // The ground first, so that the squares lie on plates too.
  return [
    ...groundMarks(choices.season, v),
    ...squares(v),
    ...pairMarks(choices.season, v),
    ...inOrder.flatMap((a) => animalMarks(a, choices, v)),
    ...scaleMarks(v),
  ];
}

export function measurePlanFigure(choices: PlanChoices, v: PlanView): Figure {
  const w = words.footageMeasure.plan;
  const active = choices.animals.find((a) => a.active);
  return {
    name: w.name(active?.pass ?? ''),
    picture: {
      width: v.width,
      height: v.height,
      title: w.title(active?.pass ?? ''),
      description: w.description(choices.animals.map((a) => a.name)),
      marks: planMarks(choices, v),
    },
    columns: [
      ...['pass', 'point', 'frame', 't_s', 'how', 'x_px', 'y_px'],
      ...['x_cm', 'y_cm', 'height_cm', 'height_low_cm', 'height_high_cm', 'sd_cm'],
    ],
    rows: choices.animals.flatMap((a) =>
      a.fixes.map((f) => [
        ...[a.pass, f.point, f.frame, f.t_s, f.how, f.pixel[0], f.pixel[1]],
        ...[f.x_cm, f.y_cm, f.height_cm, f.low_cm, f.high_cm, f.sd_cm],
      ]),
    ),
  };
}

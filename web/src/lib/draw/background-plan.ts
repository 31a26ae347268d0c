// The plan of the background: pairs and plate, every source at its place, and
// round each the ring within which it adds more than its share.
import type { BackgroundSpec } from '$lib/api/background';
import type { PlateKnobs } from '$lib/api/stimulus';
import { cutM, distanceM, keepOf, standing, type Standing } from '$lib/state/background-spec';
import type { Answered } from '$lib/state/background.svelte';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import type { Frame } from './axes';
import { clipped, ground, held, plateOutline, ringPoints, roundUp } from './background-scene';
import { axisMarks, northMarks, scaleMarks } from './background-ground';
import type { Ground, PlanScale, Point } from './background-scene';
import { line, path, px, shapeAt, text, type Figure, type Mark, type Paint, type Shape } from './picture';
import { segmentWithin } from './section-scene';

const w = words.background;

/** Shape, colour and dash by how a source stands: told apart without colour too. */
export const standingStyle: Record<Standing, { shape: Shape; paint: Paint; dash: readonly number[]; width: number }> = {
  near: { shape: 'diamond', paint: 'caution', dash: [], width: 2.5 },
  far: { shape: 'circle', paint: 'accent', dash: [6, 4], width: 1.5 },
  unknown: { shape: 'square', paint: 'soft', dash: [2, 4], width: 1.5 },
};

export interface PlanSource {
  /** Middle of its mark on the picture. */
  x: number;
  y: number;
  /** It lies outside the picture and is shown at the edge. */
  out: boolean;
  standing: Standing;
  label: string;
}

export interface PlanView {
  figure: Figure;
  ground: Ground;
  sources: PlanSource[];
}

interface Found {
  /** Radius of its ring. */
  standoffM: number | null;
  /** What its crew is told. */
  keepM: number | null;
  standing: Standing;
  distanceM: number;
  label: string;
}

const markSize = 10;
/** A line of the key is two where the picture is narrow. */
const rowHeight = (width: number): number => (width < 560 ? 40 : 22);

/** planView draws the specification as it stands now with the distances that were answered last. */
export function planView(
  spec: BackgroundSpec,
  answered: Answered | undefined,
  plates: readonly PlateKnobs[],
  scale: PlanScale,
  width: number,
  chosen = -1,
  /** The specification whose places the ground is laid out for: another while a source is moved by hand. */
  laidOutFor: BackgroundSpec = spec,
): PlanView {
  const sources = spec.sources ?? [];
  const plot = Math.round(Math.min(620, Math.max(300, width * 0.72)));
  const frame: Frame = { left: 1, right: width - 1, top: 1, bottom: plot };
  const g = ground(laidOutFor, plates, scale, frame);
  const found = sources.map((s, i): Found => {
    const answer = answered?.document.sources[i];
    const known = answer?.kind === s.kind ? answer.standoff_m : null;
    return {
      standoffM: known,
      keepM: answer?.kind === s.kind ? keepOf(answer) : null,
      standing: standing(s, spec, answered, i),
      distanceM: distanceM(s, spec),
      label: w.asOne(s.label, i + 1),
    };
  });
  const places = sources.map((s, i): PlanSource => {
    const [x = NaN, y = NaN] = s.at_m;
    const p = Number.isFinite(x) && Number.isFinite(y) ? g.at([x, y]) : g.at(g.middle);
    return { ...held(p, frame, markSize + 4), standing: found[i]!.standing, label: found[i]!.label };
  });
  const marks: Mark[] = [
    path(`M${frame.left} ${frame.top}H${frame.right}V${frame.bottom}H${frame.left}z`, {
      fill: 'surface',
      stroke: 'line',
    }),
    ...gridMarks(spec, g),
    ...plates.flatMap((p) => plateMarks(p, g)),
  ];
  sources.forEach((s, i) => marks.push(...ringMarks(s.at_m, spec.height_m ?? 0, found[i]!, g, i === chosen)));
  marks.push(...pairMarks(spec, g), ...northMarks(spec, frame), ...axisMarks(frame), ...scaleMarks(g));
  marks.push(...sourceMarks(places, frame, chosen));
  const said = found.map((f, i) => `${w.plan.source(i + 1, f.label, keyOf(f, spec, i))}.`);
  found.forEach((f, i) => marks.push(...keyMarks(f, spec, i, plot + 10 + i * rowHeight(width), width)));
  const height = plot + 12 + found.length * rowHeight(width);
  const scaleSaid = g.scale === 'log' ? w.plan.logSaid : w.plan.fittedSaid(tickText(2 * g.reachM));
  return {
    ground: g,
    sources: places,
    figure: {
      name: w.plan.name,
      picture: {
        width,
        height,
        title: w.plan.pictureTitle,
        description: w.plan.described(scaleSaid, said.join(' ')),
        marks,
      },
      columns: [...w.plan.columns],
      rows: sources.map((s, i) => [
        found[i]!.label,
        s.kind,
        ...[0, 1, 2].map((k) => s.at_m[k] ?? null),
        found[i]!.distanceM,
        found[i]!.standoffM,
        w.standings[found[i]!.standing],
      ]),
    },
  };
}

const inFrame = ([x, y]: Point, { left, right, top, bottom }: Frame): boolean =>
  x >= left && x <= right && y >= top && y <= bottom;

/** within draws a line in pixels as far as it lies in the frame. */
function within(points: readonly Point[], frame: Frame): string {
  let d = '';
  let last: Point | undefined;
  for (let i = 1; i < points.length; i++) {
    const part = segmentWithin([...points[i - 1]!], [...points[i]!], frame);
    if (!part) continue;
    const [a, b] = part;
    if (!last || Math.hypot(a[0] - last[0], a[1] - last[1]) > 0.01) d += `M${px(a[0])} ${px(a[1])}`;
    d += `L${px(b[0])} ${px(b[1])}`;
    last = b;
  }
  return d;
}

/** gridMarks are rings about the middle, or lines in metres. */
function gridMarks(spec: BackgroundSpec, g: Ground): Mark[] {
  const marks: Mark[] = [];
  if (g.scale === 'log') {
    let last = 0;
    const a = emptyAngle(spec, g.middle);
    for (const r of decades(0.1, g.reachM)) {
      const [x, y] = g.at([g.middle[0] + r * Math.cos(a), g.middle[1] + r * Math.sin(a)]);
      const [cx, cy] = g.at(g.middle);
      const from = Math.hypot(x - cx, y - cy);
      if (from - last < 40 && r !== g.reachM) continue;
      last = from;
      const d = within(ringPoints(g.middle, r).map(g.at), g.frame);
      if (d) marks.push(path(d, { stroke: 'grid', width: 1 }));
      marks.push(text(x, y + 4, w.plan.metres(tickText(r)), { anchor: 'middle', fill: 'soft', size: 12, halo: true }));
    }
    return marks;
  }
  const step = roundUp(g.reachM / 4);
  const { left, right, top, bottom } = g.frame;
  const [x0, y1] = g.back([left, top]);
  const [x1, y0] = g.back([right, bottom]);
  for (let x = Math.ceil(x0 / step) * step; x <= x1; x += step) {
    const [at] = g.at([x, 0]);
    marks.push(line(at, top, at, bottom, { stroke: 'grid', width: 1 }));
  }
  for (let y = Math.ceil(y0 / step) * step; y <= y1; y += step) {
    const [, at] = g.at([0, y]);
    marks.push(line(left, at, right, at, { stroke: 'grid', width: 1 }));
  }
  return marks;
}

/** emptyAngle is a direction from the middle in which least lies: there the rings are labelled. */
function emptyAngle(spec: BackgroundSpec, [mx, my]: Point): number {
  const taken = [...(spec.pairs ?? []).map((p) => p.centre_m), ...(spec.sources ?? []).map((s) => s.at_m)].map(
    ([x = 0, y = 0]) => Math.atan2(y - my, x - mx),
  );
  const apart = (a: number, b: number) => Math.abs(Math.atan2(Math.sin(a - b), Math.cos(a - b)));
  let [best, room] = [-Math.PI / 4, -1];
  // Steep directions leave the words one above the other; the outer ring is cut at the sides last.
  for (const deg of [-60, -50, -70, -110, -120, -130, 50, 60, 120, 130, -30, 30, 150, -150]) {
    const a = (deg * Math.PI) / 180;
    const least = Math.min(Math.PI, ...taken.map((t) => apart(t, a)));
    if (least > room + 0.05) [best, room] = [a, least];
  }
  return best;
}

function* decades(low: number, high: number): Generator<number> {
  for (let e = Math.floor(Math.log10(low)); 10 ** e <= high * 1.0001; e++)
    for (const m of [1, 2, 5]) {
      const v = Number((m * 10 ** e).toPrecision(6));
      if (v >= low && v <= high * 1.0001) yield v;
    }
}

function plateMarks(plate: PlateKnobs, g: Ground): Mark[] {
  const outline = clipped(plateOutline(plate).map(g.at), g.frame);
  if (outline.length < 3) return [];
  const d = `M${outline.map(([x, y]) => `${px(x)} ${px(y)}`).join('L')}z`;
  return [path(d, { fill: 'sunk', stroke: 'edge', width: 1.5, title: w.plan.plate })];
}

function ringMarks(at: readonly number[], heightM: number, found: Found, g: Ground, chosen: boolean): Mark[] {
  const [x = NaN, y = NaN, z = 0] = at;
  if (found.standoffM === null || !Number.isFinite(x) || !Number.isFinite(y)) return [];
  const r = cutM(found.standoffM, z - heightM);
  if (!(r > 0)) return [];
  const ring = ringPoints([x, y], r).map(g.at);
  const { paint, dash, width } = standingStyle[found.standing];
  const marks: Mark[] = [];
  const area = clipped(ring, g.frame);
  if (area.length > 2) {
    marks.push(
      path(`M${area.map(([a, b]) => `${px(a)} ${px(b)}`).join('L')}z`, { fill: paint, opacity: chosen ? 0.18 : 0.04 }),
    );
  }
  const d = within(ring, g.frame);
  if (d) marks.push(path(d, { stroke: paint, width: chosen ? width + 1 : width, dash, title: found.label }));
  return marks;
}

function pairMarks(spec: BackgroundSpec, g: Ground): Mark[] {
  const marks: Mark[] = [];
  const labelled: Point[] = [];
  for (const { label, centre_m } of spec.pairs ?? []) {
    const [x = NaN, y = NaN] = centre_m;
    const at = g.at([x, y]);
    if (!inFrame(at, g.frame)) continue;
    marks.push(path(shapeAt('plus', at[0], at[1], 5), { fill: 'ink', stroke: 'surface', width: 1 }));
    if (labelled.some((p) => Math.hypot(p[0] - at[0], p[1] - at[1]) < 18)) continue;
    labelled.push(at);
    marks.push(text(at[0] + 7, at[1] - 6, label, { size: 13, bold: true, halo: true }));
  }
  return marks;
}

interface Box {
  x: number;
  y: number;
  w: number;
  h: number;
}
const overlap = (a: Box, b: Box): boolean => a.x < b.x + b.w && b.x < a.x + a.w && a.y < b.y + b.h && b.y < a.y + a.h;

function sourceMarks(places: readonly PlanSource[], frame: Frame, chosen: number): Mark[] {
  const marks: Mark[] = [];
  const labels: Mark[] = [];
  const taken: Box[] = places.map(({ x, y }) => ({
    x: x - markSize,
    y: y - markSize,
    w: 2 * markSize,
    h: 2 * markSize,
  }));
  places.forEach(({ x, y, standing: state, label, out }, i) => {
    const { shape, paint } = standingStyle[state];
    const full = state === 'near';
    const r = markSize * (i === chosen ? 1.25 : 1);
    marks.push(
      path(shapeAt(shape, x, y, r), {
        fill: full ? paint : 'surface',
        stroke: full ? 'surface' : paint,
        width: full ? 1.5 : 2.5,
        title: `${label}: ${w.standings[state]}`,
      }),
      text(x, y + 4.5, String(i + 1), { anchor: 'middle', size: 13, bold: true, fill: full ? 'paper' : 'ink' }),
    );
    const said = w.plan.mark(label, w.standings[state], out);
    const wide = said.length * (full ? 7.8 : 7);
    for (const [dx, dy] of [
      [markSize + 6, -8],
      [-markSize - 6 - wide, -8],
      [-wide / 2, markSize + 4],
      [-wide / 2, -markSize - 20],
    ] as const) {
      const box: Box = { x: x + dx, y: y + dy, w: wide, h: 16 };
      if (box.x < frame.left + 4 || box.x + wide > frame.right - 4) continue;
      if (box.y < frame.top + 2 || box.y + 16 > frame.bottom - 2 || taken.some((t) => overlap(t, box))) continue;
      taken.push(box);
      labels.push(text(box.x, box.y + 12.5, said, { size: 13, bold: full, halo: true }));
      break;
    }
  });
  return [...labels, ...marks];
}

function keyOf(f: Found, spec: BackgroundSpec, i: number): string {
  const at = sig(f.distanceM) || w.unknown;
  if (f.standoffM === null || f.keepM === null) return w.plan.keyUnknown(w.standings[f.standing], at);
  const up = (spec.sources?.[i]?.at_m[2] ?? 0) - (spec.height_m ?? 0);
  const key = w.plan.key(w.standings[f.standing], at, tickText(f.keepM));
  return cutM(f.standoffM, up) > 0 ? key : `${key}; ${w.plan.overhead}`;
}

function keyMarks(f: Found, spec: BackgroundSpec, i: number, top: number, width: number): Mark[] {
  const { shape, paint } = standingStyle[f.standing];
  const full = f.standing === 'near';
  const y = top + 11;
  const key = keyOf(f, spec, i);
  const said = width < 560 ? [f.label, key] : [`${f.label}: ${key}`];
  const most = Math.floor((width - 34) / 7.4);
  return [
    path(shapeAt(shape, 12, y, 8), {
      fill: full ? paint : 'surface',
      stroke: full ? 'surface' : paint,
      width: full ? 1 : 2,
    }),
    text(12, y + 4, String(i + 1), { anchor: 'middle', size: 11, bold: true, fill: full ? 'paper' : 'ink' }),
    ...said.map((line, k) =>
      text(30, y + 4.5 + 17 * k, line.length > most ? `${line.slice(0, most - 1)}…` : line, {
        size: 13,
        bold: full && k === 0,
      }),
    ),
  ];
}

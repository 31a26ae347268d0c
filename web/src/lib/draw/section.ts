// A section of the field as a picture: bands of colour, lines of equal field
// with their labels, the chosen thresholds, and what lies there, to scale.
import type { Knobs, SectionPlane, SectionView } from '$lib/api/stimulus';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { bandPaint, fieldLevels, ratioLevels, ratioPaint } from './field-scale';
import { gridOf, isolines, regionsAbove, type Grid, type Line } from './isolines';
import { box, path, text, type Cell, type Figure, type Mark, type Paint, type Picture } from './picture';
import { linearScale, type Scale } from './scale';
import { sceneMarks, type Ground } from './section-scene';
import { horizontalPlane, offPlane, verticalPlane, type Plane } from './solids';
import { tenth } from './textbook';

const w = words.stimulus.picture;

/** One answer of the program and what it answers; with the textbook's beside it the picture is their ratio. */
export interface Section {
  /** u_m and v_m are those of the study, wherever the middle of the picture lies. */
  view: SectionView;
  textbook?: SectionView | undefined;
  plane: SectionPlane;
  /** The u of the picture's middle. */
  middleM: number;
  knobs: Knobs;
}

export const planeOf = (p: SectionPlane): Plane =>
  p.plane === 'vertical' ? verticalPlane(p.azimuth_deg, p.offset_m) : horizontalPlane(p.height_m);

/** layOut puts the section into a picture of that width, the same scale both ways. */
export function layOut(
  { plane, middleM }: Pick<Section, 'plane' | 'middleM'>,
  width: number,
): Ground & { width: number; height: number } {
  const frame: Frame = { left: 46, right: width - 8, top: 30, bottom: 0 };
  const perM = (frame.right - frame.left) / (2 * plane.half_width_m);
  frame.bottom = frame.top + Math.round((plane.highest_m - plane.lowest_m) * perM);
  return {
    frame,
    x: linearScale([middleM - plane.half_width_m, middleM + plane.half_width_m], [frame.left, frame.right]),
    y: linearScale([plane.lowest_m, plane.highest_m], [frame.bottom, frame.top]),
    plane: planeOf(plane),
    vertical: plane.plane === 'vertical',
    width,
    height: frame.bottom + 46,
  };
}

/** A field of 0 has no logarithm: it stands below every line. */
const lowest = 1e-12;
const log = (v: number): number => Math.log10(Math.max(lowest, v));

export const fieldGrid = ({ view }: Section): Grid =>
  gridOf(view.u_m as number[], view.v_m as number[], view.magnitude_nV_per_cm, log);

/** ratioGrid is the logarithm of textbook ÷ computed, where both are known. */
export function ratioGrid({ view, textbook }: Section): Grid {
  const grid = gridOf(view.u_m as number[], view.v_m as number[], view.magnitude_nV_per_cm, log);
  const other = textbook?.magnitude_nV_per_cm;
  grid.values = grid.values.map((v, i) => {
    const t = other?.[i];
    return t === null || t === undefined ? NaN : log(t) - v;
  });
  return grid;
}

/** offTenth is the share of the places with a field at which the textbook is off by more than 10 %; null without any. */
export function offTenth(grid: Grid): number | null {
  const [low, high] = [Math.log10(tenth[0]), Math.log10(tenth[1])];
  let [off, all] = [0, 0];
  for (const v of grid.values) {
    if (Number.isNaN(v)) continue;
    all++;
    if (v < low || v > high) off++;
  }
  return all === 0 ? null : off / all;
}

/** extent is the smallest and largest value; undefined where there is none. */
function extent(values: Float64Array): [number, number] | undefined {
  let [low, high] = [Infinity, -Infinity];
  for (const v of values) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  return high >= low ? [low, high] : undefined;
}

const tenths = (v: number): string => String(Math.round(v * 10) / 10);

function drawn(lines: readonly Line[], x: Scale, y: Scale): string {
  let d = '';
  for (const line of lines) {
    for (let i = 0; i < line.u.length; i++)
      d += `${i === 0 ? 'M' : 'L'}${tenths(x.at(line.u[i]!))} ${tenths(y.at(line.v[i]!))}`;
    if (line.closed) d += 'z';
  }
  return d;
}

/** bands paint each region over the one below it. */
function bands(grid: Grid, levels: readonly number[], paint: (i: number) => Paint, g: Ground): Mark[] {
  const range = extent(grid.values);
  if (!range) return [];
  const logs = levels.map((l) => Math.log10(l));
  const marks: Mark[] = [];
  logs.forEach((level, i) => {
    // The next one covers all of this one.
    if (level > range[1] || (logs[i + 1] ?? Infinity) <= range[0]) return;
    marks.push(path(drawn(regionsAbove(grid, level), g.x, g.y), { fill: paint(i) }));
  });
  return marks;
}

interface Label {
  x: number;
  y: number;
  half: number;
}

/** Lines shorter than this are lost between the electrodes. */
const shortest = 36;

/** labelAt is a place on the longest of the lines where the label covers no other one. */
function labelAt(lines: readonly Line[], said: string, size: number, g: Ground, taken: Label[]): Label | undefined {
  const half = (said.length * size * 0.58) / 2 + 3;
  const inPx = lines.map((l) => l.u.map((u, i) => [g.x.at(u), g.y.at(l.v[i]!)] as const));
  const lengths = inPx.map((l) =>
    l.reduce((sum, p, i) => (i === 0 ? 0 : sum + Math.hypot(p[0] - l[i - 1]![0], p[1] - l[i - 1]![1])), 0),
  );
  const longest = inPx[lengths.indexOf(Math.max(...lengths))];
  if (!longest || Math.max(...lengths) < shortest) return undefined;
  const { frame } = g;
  for (const share of [0.25, 0.75, 0.5, 0.375, 0.625, 0.125, 0.875, 0.3, 0.7, 0.05, 0.95]) {
    const [x, y] = longest[Math.floor(share * (longest.length - 1))]!;
    const clear = taken.every((t) => Math.abs(t.x - x) > t.half + half + 4 || Math.abs(t.y - y) > size + 4);
    const inside = x - half > frame.left && x + half < frame.right && y > frame.top + size && y < frame.bottom - 6;
    if (clear && inside) return { x, y, half };
  }
  return undefined;
}

interface Drawn {
  level: number;
  said: string;
  heavy: boolean;
}

/** lineMarks draw the lines of the levels, heavy ones last and labelled first. */
function lineMarks(grid: Grid, wanted: readonly Drawn[], g: Ground, taken: Label[]): Mark[] {
  const range = extent(grid.values);
  if (!range) return [];
  const [thin, heavy, labels]: [Mark[], Mark[], Mark[]] = [[], [], []];
  for (const { level, said, heavy: strong } of [...wanted].sort((a, b) => Number(b.heavy) - Number(a.heavy))) {
    const at = Math.log10(level);
    if (at <= range[0] || at > range[1]) continue;
    const lines = isolines(grid, at);
    const d = drawn(lines, g.x, g.y);
    if (!d) continue;
    if (strong) heavy.push(path(d, { stroke: 'surface', width: 5 }), path(d, { stroke: 'ink', width: 2.5 }));
    else thin.push(path(d, { stroke: 'ink', width: 0.75, opacity: 0.45 }));
    const size = strong ? 13 : 11;
    const label = labelAt(lines, said, size, g, taken);
    if (!label) continue;
    taken.push(label);
    labels.push(text(label.x, label.y + 4, said, { anchor: 'middle', size, bold: strong, halo: true }));
  }
  return [...thin, ...heavy, ...labels];
}

const cm = (v: number): string => tickText(v * 100);

function axes(section: Section, g: Ground): Mark[] {
  const vertical = section.plane.plane === 'vertical';
  return [
    ...xAxis(g.frame, g.x, { label: vertical ? w.along : w.x, write: cm, grid: false }),
    ...yAxis(g.frame, g.y, { label: vertical ? w.height : w.y, write: cm, grid: false }),
  ];
}

/** fieldMarks are the colours and lines of a section in nV/cm. */
function fieldMarks(section: Section, thresholds: readonly number[], g: Ground): Mark[] {
  const grid = fieldGrid(section);
  const wanted: Drawn[] = [
    ...thresholds.map((t) => ({ level: t, said: w.threshold(tickText(t)), heavy: true })),
    ...fieldLevels.filter((l) => !thresholds.includes(l)).map((l) => ({ level: l, said: tickText(l), heavy: false })),
  ];
  return [...bands(grid, fieldLevels, bandPaint, g), ...sceneAndLines(section, grid, wanted, g)];
}

function ratioMarks(section: Section, g: Ground): Mark[] {
  const grid = ratioGrid(section);
  const border = (l: number) => l === tenth[0] || l === tenth[1];
  const wanted = ratioLevels.map((l) => ({ level: l, said: w.times(tickText(l)), heavy: border(l) }));
  const levels = [1e-30, ...ratioLevels];
  return [...bands(grid, levels, ratioPaint, g), ...sceneAndLines(section, grid, wanted, g)];
}

const sceneAndLines = (section: Section, grid: Grid, wanted: readonly Drawn[], g: Ground): Mark[] => {
  const scene = sceneMarks(section.knobs, g);
  // What is written in the scene keeps its place.
  const taken = scene.flatMap((m): Label[] => {
    if (m.kind !== 'text') return [];
    const half = (m.text.length * 7) / 2 + 4;
    return [{ x: m.anchor === 'middle' ? m.x : m.x + half, y: m.y - 4, half }];
  });
  const lines = lineMarks(grid, wanted, g, taken);
  const labels = lines.filter((m) => m.kind === 'text');
  return [...lines.filter((m) => m.kind === 'path'), ...scene, ...labels];
};

/** sectionPicture draws a section; a section with the textbook beside it becomes the map of their ratio. */
export function sectionPicture(section: Section, thresholds: readonly number[], width: number): Picture {
  const g = layOut(section, width);
  const { frame } = g;
  const [across, tall] = [frame.right - frame.left, frame.bottom - frame.top];
  const compared = section.textbook !== undefined;
  const marks = [
    box(frame.left, frame.top, across, tall, { fill: 'surface' }),
    ...(compared ? ratioMarks(section, g) : fieldMarks(section, thresholds, g)),
    box(frame.left, frame.top, across, tall, { stroke: 'edge', width: 1 }),
    ...axes(section, g),
  ];
  return { width: g.width, height: g.height, title: titleOf(section), description: describe(section), marks };
}

function titleOf({ plane, textbook }: Section): string {
  const place =
    plane.plane === 'vertical'
      ? w.verticalTitle(tickText(plane.azimuth_deg))
      : w.horizontalTitle(tickText(plane.height_m * 100));
  return textbook ? w.ratioTitle(place) : w.fieldTitle(place);
}

function describe(section: Section): string {
  const { plane, textbook } = section;
  const size = w.size(sig(2 * plane.half_width_m * 100), sig((plane.highest_m - plane.lowest_m) * 100));
  if (textbook) return `${size} ${w.off(offTenth(ratioGrid(section)))}`;
  const range = extent(fieldGrid(section).values);
  if (!range) return `${size} ${w.noField}`;
  return `${size} ${w.between(sig(10 ** range[0]), sig(10 ** range[1]))}`;
}

/** sectionFigure is the picture with its numbers, for files. */
export function sectionFigure(section: Section, thresholds: readonly number[], width: number): Figure {
  const { view, textbook, plane } = section;
  const at = planeOf(plane);
  const rows: Cell[][] = [];
  (view.v_m as number[]).forEach((v, r) =>
    (view.u_m as number[]).forEach((u, c) => {
      const i = r * view.u_m.length + c;
      // Nine digits: the places of the grid without the noise of turning them.
      const place = offPlane(at, u, v).map((x) => Number(x.toPrecision(9)));
      rows.push([
        u,
        v,
        ...place,
        view.magnitude_nV_per_cm[i] ?? null,
        ...(textbook ? [textbook.magnitude_nV_per_cm[i] ?? null] : []),
      ]);
    }),
  );
  return {
    name: w.fileName(plane.plane, textbook !== undefined),
    picture: sectionPicture(section, thresholds, width),
    columns: ['u_m', 'v_m', 'x_m', 'y_m', 'z_m', 'magnitude_nV_per_cm', ...(textbook ? ['textbook_nV_per_cm'] : [])],
    rows,
  };
}

// The picture of textbook against computed: one dot a pass, on a logarithmic
// scale that ends at a hundredth and a hundred; what lies beyond stands in a
// strip of its own at the border.
import type { ExposureRow } from '$lib/api/types';
import { componentColumns, componentsOf } from '$lib/table/columns';
import { words } from '$lib/words';
import { tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { dotRadius } from './plan';
import {
  box,
  circleAt,
  line,
  path,
  polyline,
  shapeAt,
  speciesStyle,
  text,
  type Cell,
  type Figure,
  type Mark,
  type Picture,
} from './picture';
import { linearScale, logDomain, logScale, type Scale } from './scale';
import { idealRatio, ratioOf, tenth, type By, type Comparison } from './textbook';

const w = words.textbook.figure;
const lowest = 0.01;
const highest = 100;
const strip = 16;
const legendRow = 22;
/** A letter of the legend is about so wide. */
const letterPx = 7.2;

export const turnRadius = 4;

/** Where the dots lie in a picture of that width. */
export interface Layout {
  by: By;
  frame: Frame;
  x: Scale;
  y: Scale;
  width: number;
  height: number;
}

interface Entry {
  label: string;
  italic?: boolean;
  mark: (x: number, y: number) => Mark[];
}

/** layOut puts the legend above and the frame below it. */
export function layOut(c: Comparison, by: By, species: readonly string[], width: number): Layout {
  const rows = legendRows(legendEntries(c, by, species), width).length;
  const frame: Frame = { left: 62, right: width - 14, top: 34 + rows * legendRow, bottom: 0 };
  frame.bottom = frame.top + Math.round(Math.min(330, Math.max(250, width * 0.42)));
  const x =
    by === 'angle'
      ? linearScale([0, 180], [frame.left, frame.right])
      : logScale(logDomain(c.distance, 1.1), [frame.left, frame.right]);
  const y = logScale([lowest, highest], [frame.bottom - strip, frame.top + strip]);
  return { by, frame, x, y, width, height: frame.bottom + 52 };
}

/** dotsAt are the places of the dots in pixels, in the order of the comparison. */
export function dotsAt(c: Comparison, l: Layout): { x: Float64Array; y: Float64Array } {
  const along = l.by === 'angle' ? c.angle : c.distance;
  return { x: along.map((v) => l.x.at(v)), y: c.ratio.map((r) => ratioAt(r, l)) };
}

/** ratioAt is the height of a ratio; those beyond stand in the middle of their strip. */
function ratioAt(ratio: number, { frame, y }: Layout): number {
  if (ratio < lowest) return frame.bottom - strip / 2;
  if (ratio > highest) return frame.top + strip / 2;
  return y.at(ratio);
}

/** styleOf is 0 for a plain dot, else one more than the place of the species' style. */
export function styleOf(row: ExposureRow, species: readonly string[]): number {
  return row.responded ? 1 + (Math.max(0, species.indexOf(row.species)) % 6) : 0;
}

/** groundMarks are everything but the dots. */
export function groundMarks(c: Comparison, l: Layout, species: readonly string[]): Mark[] {
  const { frame, x, y, by } = l;
  const span = frame.right - frame.left;
  const marks: Mark[] = [
    box(frame.left, y.at(tenth[1]), span, y.at(tenth[0]) - y.at(tenth[1]), { fill: 'accent', opacity: 0.22 }),
    ...yAxis(frame, y, {
      label: w.ratioAxis,
      write: w.tick,
      ticks: [0.01, 0.1, 1, 10, 100].map((value) => ({ value, major: true })),
    }),
    ...xAxis(frame, x, {
      label: by === 'angle' ? w.angleAxis : w.distanceAxis,
      write: tickText,
      ...(by === 'angle' ? { ticks: [0, 30, 60, 90, 120, 150, 180].map((value) => ({ value, major: true })) } : {}),
    }),
    line(frame.left, y.at(1), frame.right, y.at(1), { stroke: 'accent', width: 1.75 }),
  ];
  const side = { anchor: 'end' as const, fill: 'soft' as const, size: 12.5 };
  marks.push(text(frame.right - 6, y.at(40), w.tooLarge, side), text(frame.right - 6, y.at(1 / 60), w.tooSmall, side));
  for (const [border, middle, some] of [
    [frame.bottom - strip, frame.bottom - strip / 2, c.ratio.some((r) => r < lowest)],
    [frame.top + strip, frame.top + strip / 2, c.ratio.some((r) => r > highest)],
  ] as const) {
    marks.push(line(frame.left, border, frame.right, border, { stroke: 'edge', width: 1, dash: [3, 4] }));
    // Written only where something stands there: the word would else crowd the label of the border.
    if (some) marks.push(text(frame.left + 4, middle + 4, w.beyond, { fill: 'soft', size: 12, halo: true }));
  }
  if (by === 'angle') marks.push(idealMark(l));
  marks.push(...legendMarks(legendEntries(c, by, species), l.width));
  return marks;
}

/** idealMark is the ratio of an ideal pair; it leaves the scale close to 90°. */
function idealMark(l: Layout): Mark {
  const angles = Array.from({ length: 361 }, (_, i) => i / 2);
  return path(
    polyline(
      angles.map((a) => l.x.at(a)),
      angles.map((a) => (idealRatio(a) < lowest ? NaN : l.y.at(idealRatio(a)))),
    ),
    { stroke: 'soft', width: 1.75, dash: [6, 4] },
  );
}

function legendEntries(c: Comparison, by: By, species: readonly string[]): Entry[] {
  const seen = new Set<string>();
  let still = false;
  for (const r of c.rows) {
    if (r.responded) seen.add(r.species);
    else still = true;
  }
  const entries: Entry[] = species
    .filter((name) => seen.has(name))
    .map((name) => {
      const { paint, shape } = speciesStyle(species.indexOf(name));
      const drawn = (x: number, y: number) => path(shapeAt(shape, x + 12, y, 5), { fill: paint });
      return { label: name, italic: true, mark: (x, y) => [drawn(x, y)] };
    });
  if (still) {
    entries.push({ label: w.noTurn, mark: (x, y) => [path(circleAt(x + 12, y, 2), { fill: 'soft' })] });
  }
  entries.push({
    label: w.agree,
    mark: (x, y) => [
      box(x, y - 6, 24, 12, { fill: 'accent', opacity: 0.22 }),
      line(x, y, x + 24, y, { stroke: 'accent', width: 1.75 }),
    ],
  });
  if (by === 'angle') {
    entries.push({
      label: w.ideal,
      mark: (x, y) => [line(x, y, x + 24, y, { stroke: 'soft', width: 1.75, dash: [6, 4] })],
    });
  }
  return entries;
}

const needs = (e: Entry): number => 32 + e.label.length * letterPx + 18;

function legendRows(entries: readonly Entry[], width: number): Entry[][] {
  const rows: Entry[][] = [[]];
  let used = 0;
  for (const e of entries) {
    if (used > 0 && used + needs(e) > width) {
      rows.push([]);
      used = 0;
    }
    rows.at(-1)!.push(e);
    used += needs(e);
  }
  return rows;
}

function legendMarks(entries: readonly Entry[], width: number): Mark[] {
  return legendRows(entries, width).flatMap((row, i) => {
    const y = 12 + i * legendRow;
    let x = 4;
    return row.flatMap((e) => {
      const at = x;
      x += needs(e);
      return [...e.mark(at, y), text(at + 32, y + 4.5, e.label, { italic: e.italic ?? false })];
    });
  });
}

/** dotMarks are the dots as paths, for files; the screen paints them on a canvas. */
export function dotMarks(c: Comparison, l: Layout, species: readonly string[]): Mark[] {
  const { x, y } = dotsAt(c, l);
  const still: Mark[] = [];
  const turned: Mark[] = [];
  c.rows.forEach((row, i) => {
    const style = styleOf(row, species);
    if (style === 0) {
      still.push(path(circleAt(x[i]!, y[i]!, dotRadius), { fill: 'soft', opacity: 0.6 }));
      return;
    }
    const { paint, shape } = speciesStyle(style - 1);
    const d = shapeAt(shape, x[i]!, y[i]!, turnRadius);
    turned.push(path(d, { fill: paint, stroke: 'paper', width: 1, title: row.pass }));
  });
  return [...still, ...turned];
}

/** ringMarks go round the chosen pass. */
export function ringMarks(c: Comparison, l: Layout, chosen: string): Mark[] {
  const i = chosen ? c.rows.findIndex((r) => r.pass === chosen) : -1;
  if (i < 0) return [];
  const along = l.by === 'angle' ? c.angle : c.distance;
  const ring = circleAt(l.x.at(along[i]!), ratioAt(c.ratio[i]!, l), 9);
  return [path(ring, { stroke: 'paper', width: 5 }), path(ring, { stroke: 'ink', width: 2.5 })];
}

export function pictureOf(c: Comparison, l: Layout, marks: Mark[]): Picture {
  const { width, height, by } = l;
  const { passes, median, offTenth, offTwofold } = c.tally;
  const description = w.description(passes, median ?? 0, offTenth ?? 0, offTwofold ?? 0);
  return { width, height, title: w.title(words.textbook.ways[by]), description, marks };
}

/** textbookFigure is the whole picture, for files. */
export function textbookFigure(c: Comparison, by: By, species: readonly string[], width: number): Figure {
  const l = layOut(c, by, species, width);
  return {
    name: w.name(words.textbook.ways[by]),
    picture: pictureOf(c, l, [...groundMarks(c, l, species), ...dotMarks(c, l, species)]),
    ...figureData(c),
  };
}

function figureData(c: Comparison): { columns: string[]; rows: Cell[][] } {
  return {
    columns: [
      'pass',
      'species',
      'responded',
      'distance_cm',
      'angle_deg',
      'height_cm',
      'textbook_nV_per_cm',
      'position_nV_per_cm',
      ...componentColumns,
      'textbook_over_position',
    ],
    rows: c.rows.map((r) => [
      r.pass,
      r.species,
      r.responded,
      r.distance_cm,
      r.angle_deg,
      r.height_cm,
      r.textbook_nV_per_cm,
      r.position_nV_per_cm,
      ...componentsOf(r),
      ratioOf(r),
    ]),
  };
}

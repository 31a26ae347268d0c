// The field of each source over the distance from it, with the threshold and
// the share that one source may add.
import type { FieldLine, Answered } from '$lib/state/background.svelte';
import { farthestM, nearestM } from '$lib/state/background-spec';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { line, path, polyline, shapeAt, speciesStyle, text, type Cell, type Figure, type Mark } from './picture';
import { logDomain, logScale, type Scale } from './scale';

const w = words.background.fall;

/** sourceStyle gives the i-th source its colour, shape and dash in every picture over distance. */
export const sourceStyle = speciesStyle;

/** cube is the field at r of what makes limit at standoff and falls with the cube. */
export const cube = (limit: number, standoffM: number, r: number): number => limit * (standoffM / r) ** 3;

export function fallFigure({ document }: Answered, lines: readonly FieldLine[], width: number): Figure {
  const names = document.sources.map((s, i) => words.background.asOne(s.label, i + 1));
  const limit = document.limit_nV_per_cm;
  const threshold = document.stimulus.threshold_nV_per_cm;
  const keyRows = names.length;
  const plot = Math.round(Math.min(420, Math.max(300, width * 0.5)));
  const frame: Frame = { left: 64, right: width - 16, top: 34, bottom: 34 + plot };
  const height = frame.bottom + 54 + keyRows * 22;
  const x = logScale([nearestM, farthestM], [frame.left, frame.right]);
  const atPairs = document.sources.flatMap((s) => s.pairs.map((p) => p.field_nV_per_cm));
  const [low, high] = logDomain([
    limit && limit / 10,
    threshold * 1000,
    ...atPairs.filter((v) => v !== null && limit !== null && v > limit / 1000),
  ]);
  const y = logScale([low, high], [frame.bottom, frame.top]);
  const rows: Cell[][] = [];
  const marks: Mark[] = [
    ...xAxis(frame, x, { label: w.distanceAxis, write: tickText }),
    ...yAxis(frame, y, { label: w.fieldAxis, write: tickText }),
  ];
  const said: string[] = [];
  document.sources.forEach((s, i) => {
    const style = sourceStyle(i);
    const sampled = lines[i];
    if (sampled && sampled.distance_m.length > 1) {
      sampled.distance_m.forEach((r, k) => rows.push([names[i], w.line, null, r, sampled.field_nV_per_cm[k]]));
      const d = curve(sampled.distance_m, sampled.field_nV_per_cm, x, y);
      if (d) marks.push(path(d, { stroke: style.paint, width: 2.5 }));
    }
    const standoff = s.standoff_half_space_m ?? s.standoff_m;
    // Close to a leak the field falls with the square of the distance: the cube law says nothing of it.
    if (limit !== null && standoff !== null && s.kind !== 'cable') {
      const ends = [nearestM, farthestM];
      ends.forEach((r) => rows.push([names[i], w.cube, null, r, cube(limit, standoff, r)]));
      const d = curve(
        ends,
        ends.map((r) => cube(limit, standoff, r)),
        x,
        y,
      ); // straight on these axes
      if (d) marks.push(path(d, { stroke: style.paint, width: 1, dash: [5, 4] }));
    }
    if (s.standoff_m !== null) said.push(w.said(names[i]!, sig(s.standoff_m)));
  });
  marks.push(...levels(threshold, limit, y, frame), ...numbers(lines, x, y, frame));
  document.sources.forEach((s, i) => {
    for (const p of s.pairs) {
      rows.push([names[i], w.atPair, p.pair, p.distance_m, p.field_nV_per_cm]);
      if (p.distance_m === null || p.field_nV_per_cm === null) continue;
      const at = [x.at(p.distance_m), y.at(p.field_nV_per_cm)] as const;
      if (at[0] < frame.left || at[0] > frame.right || at[1] < frame.top || at[1] > frame.bottom) continue;
      marks.push(
        path(shapeAt(sourceStyle(i).shape, ...at, 5.5), {
          fill: sourceStyle(i).paint,
          stroke: 'paper',
          width: 1,
          title: w.at(names[i]!, p.pair, sig(p.field_nV_per_cm), sig(p.distance_m)),
        }),
      );
    }
    const top = frame.bottom + 54 + i * 22;
    const style = sourceStyle(i);
    const standoff = s.standoff_m === null ? '' : `: ${w.said('', sig(s.standoff_m)).trim()}`;
    marks.push(
      line(8, top + 8, 40, top + 8, { stroke: style.paint, width: 2.5 }),
      path(shapeAt(style.shape, 24, top + 8, 5.5), { fill: style.paint, stroke: 'paper', width: 1 }),
      text(48, top + 12.5, `${i + 1} ${names[i]}${standoff}`, { size: 13 }),
    );
  });
  return {
    name: w.name,
    picture: { width, height, title: w.pictureTitle, description: w.description(said.join(' ')), marks },
    columns: [...w.columns],
    rows,
  };
}

/** curve leaves the picture where the field does: it is cut on the straight pieces of log axes. */
function curve(r: readonly number[], e: readonly number[], x: Scale, y: Scale): string {
  const [top, bottom] = [Math.min(...y.range), Math.max(...y.range)];
  const xs: number[] = [];
  const ys: number[] = [];
  const add = (a: number, b: number) => (xs.push(a), ys.push(b));
  for (let i = 1; i < r.length; i++) {
    const [ax, ay, bx, by] = [x.at(r[i - 1]!), y.at(e[i - 1]!), x.at(r[i]!), y.at(e[i]!)];
    const cut = (level: number) => ax + ((level - ay) / (by - ay)) * (bx - ax);
    if ((ay < top && by < top) || (ay > bottom && by > bottom) || !(e[i - 1]! > 0) || !(e[i]! > 0)) {
      add(NaN, NaN);
      continue;
    }
    if (ay < top) add(cut(top), top);
    else if (ay > bottom) add(cut(bottom), bottom);
    else add(ax, ay);
    if (by < top) add(cut(top), top);
    else if (by > bottom) add(cut(bottom), bottom);
    else add(bx, by);
  }
  return polyline(xs, ys);
}

function levels(threshold: number, limit: number | null, y: Scale, frame: Frame): Mark[] {
  const marks: Mark[] = [];
  const level = (v: number, words: string, dash: number[]) => {
    const at = y.at(v);
    if (!(at >= frame.top && at <= frame.bottom)) return;
    marks.push(
      line(frame.left, at, frame.right, at, { stroke: 'ink', width: 1.5, dash }),
      text(frame.right - 6, at - 6, words, { anchor: 'end', size: 13, bold: true, halo: true }),
    );
  };
  level(threshold, w.threshold(tickText(threshold)), []);
  if (limit !== null) level(limit, w.share(tickText(limit)), [8, 4]);
  return marks;
}

/** numbers name the lines where they come into the picture. */
function numbers(lines: readonly FieldLine[], x: Scale, y: Scale, frame: Frame): Mark[] {
  const taken: number[] = [];
  return lines.flatMap((sampled, i): Mark[] => {
    const at = sampled.field_nV_per_cm
      .map((e, k) => [x.at(sampled.distance_m[k]!), y.at(e)] as const)
      .find(([px, py]) => px >= frame.left + 10 && py >= frame.top + 16 && py <= frame.bottom - 8);
    if (!at || taken.some((t) => Math.abs(t - at[0]) < 8)) return [];
    taken.push(at[0]);
    return [
      path(shapeAt('circle', at[0], at[1], 9), { fill: 'surface', stroke: sourceStyle(i).paint, width: 2 }),
      text(at[0], at[1] + 4.5, String(i + 1), { anchor: 'middle', size: 12, bold: true }),
    ];
  });
}

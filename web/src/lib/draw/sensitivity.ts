// The detection median had the reaction time been another.
import type { Detection } from '$lib/api/types';
import { words } from '$lib/words';
import { tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { line, path, polyline, shapeAt, speciesStyle, text, type Figure, type Mark } from './picture';
import { linearScale, logDomain, logScale } from './scale';

const w = words.figures;

export function sensitivityFigure(
  rows: readonly Detection[],
  species: readonly string[],
  used: number | null,
  width: number,
): Figure {
  const height = 280;
  const frame: Frame = {
    left: 52,
    right: width - 24 - 8.2 * Math.max(...rows.map((d) => d.species.length), 0),
    top: 40,
    bottom: height - 52,
  };
  const points = rows.flatMap((d) => d.sensitivity ?? []);
  const times = points.map((p) => p.reaction_time_s);
  const x = linearScale([0, Math.max(0.2, ...times)], [frame.left, frame.right]);
  const y = logScale(logDomain(points.map((p) => p.median_nV_per_cm)), [frame.bottom, frame.top]);
  const marks: Mark[] = [
    ...xAxis(frame, x, {
      label: w.reactionAxis,
      write: tickText,
      ticks: [...new Set(times)].map((value) => ({ value, major: true })),
    }),
    ...yAxis(frame, y, { label: w.medianAxis, write: tickText }),
  ];
  if (used !== null && used <= x.domain[1]) {
    const at = x.at(used);
    marks.push(
      line(at, frame.top, at, frame.bottom, { stroke: 'ink', width: 1.5, dash: [4, 3] }),
      text(at + 5, frame.top + 11, w.sensitivity.used, { fill: 'soft', halo: true }),
    );
  }
  for (const d of rows) {
    const { paint, shape, dash } = speciesStyle(species.indexOf(d.species));
    const known = (d.sensitivity ?? []).filter((p) => p.median_nV_per_cm !== null);
    const [xs, ys] = [known.map((p) => x.at(p.reaction_time_s)), known.map((p) => y.at(p.median_nV_per_cm!))];
    marks.push(path(polyline(xs, ys), { stroke: paint, width: 2, dash }));
    xs.forEach((px, i) =>
      marks.push(path(shapeAt(shape, px, ys[i]!, 5.5), { fill: paint, stroke: 'paper', width: 1 })),
    );
    const end = ys.at(-1);
    if (end !== undefined)
      marks.push(text(frame.right + 12, end + 5, d.species, { fill: paint, italic: true, bold: true }));
  }
  return {
    name: w.sensitivity.name,
    picture: { width, height, title: w.sensitivity.title, description: w.sensitivity.description, marks },
    columns: ['species', 'reaction_time_s', 'median_nV_per_cm', 'not_estimable'],
    rows: rows.flatMap((d) =>
      (d.sensitivity ?? []).map((p) => [d.species, p.reaction_time_s, p.median_nV_per_cm, p.not_estimable]),
    ),
  };
}

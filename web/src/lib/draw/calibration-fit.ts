// A fit of a calibration: measured against fitted, and the estimates against
// the design.
import type { CalibrationDocument, CalibrationRow, CalibrationValue } from '$lib/api/calibration';
import { readSpan } from '$lib/api/types';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { labelOf, readingsTable } from './calibration-plan';
import { circleAt, line, path, shapeAt, text, type Figure, type Mark, type Shape } from './picture';
import { linearScale } from './scale';

/** againstFigure draws every used reading against its fitted value, with the line on which both are the same. */
export function againstFigure(rows: readonly CalibrationRow[], width: number): Figure {
  const w = words.calibration.against;
  const used = rows.flatMap((row, i) =>
    row.fitted_uV !== null && row.measured_uV !== null
      ? [{ label: labelOf(row, i), fitted: row.fitted_uV, measured: row.measured_uV, sd: row.sd_uV ?? 0 }]
      : [],
  );
  const values = used.flatMap((u) => [u.fitted, u.measured - u.sd, u.measured + u.sd]);
  const [low, high] = [Math.min(0, ...values), Math.max(0, ...values)];
  const room = Math.max((high - low) * 0.06, 1e-6);
  const domain: [number, number] = [low - room, high + room];
  const side = Math.min(width - 78, 420);
  const frame: Frame = { left: 62, right: 62 + side, top: 36, bottom: 36 + side };
  const x = linearScale(domain, [frame.left, frame.right]);
  const y = linearScale(domain, [frame.bottom, frame.top]);
  const marks: Mark[] = [
    ...xAxis(frame, x, { label: w.fitted, write: tickText }),
    ...yAxis(frame, y, { label: w.measured, write: tickText }),
    line(x.at(domain[0]), y.at(domain[0]), x.at(domain[1]), y.at(domain[1]), {
      stroke: 'soft',
      width: 1.5,
      dash: [6, 4],
    }),
  ];
  for (const u of used) {
    const [cx, cy, title] = [x.at(u.fitted), y.at(u.measured), w.said(u.label, sig(u.fitted), sig(u.measured))];
    const [top, foot] = [y.at(u.measured + u.sd), y.at(u.measured - u.sd)];
    if (foot - top > 1) {
      marks.push(line(cx, foot, cx, top, { stroke: 'ink', width: 1.5 }));
      for (const end of [top, foot]) marks.push(line(cx - 4, end, cx + 4, end, { stroke: 'ink', width: 1.5 }));
    }
    marks.push(path(circleAt(cx, cy, 4.5), { fill: 'accent', stroke: 'paper', width: 1, title }));
  }
  const [kx, ky] = [frame.left, frame.bottom + 64];
  marks.push(
    line(kx, ky, kx + 30, ky, { stroke: 'soft', width: 1.5, dash: [6, 4] }),
    text(kx + 38, ky + 5, w.line),
    text(kx, ky + 27, w.bars),
  );
  return {
    name: w.name,
    picture: {
      width,
      height: ky + 40,
      title: w.title,
      description: w.description(used.map((u) => w.said(u.label, sig(u.fitted), sig(u.measured))).join(' ')),
      marks,
    },
    ...readingsTable(rows),
  };
}

/** One estimate over what was designed. */
export interface RatioRow {
  name: string;
  shape: Shape;
  value: number;
  low: number | null;
  high: number | null;
}

const ratioShapes: readonly Shape[] = ['circle', 'square', 'triangle', 'diamond'];

/** ratioRows gives those of the estimates that are known and have a design to stand against. */
export function ratioRows({ fit, designed }: CalibrationDocument): RatioRow[] {
  const s = words.calibration.estimates.short;
  const rows: [string, CalibrationValue, number | null][] = [
    [s.ratio, fit.factor, 1],
    [s.moment, fit.dipole_moment_nA_m, designed.dipole_moment_nA_m],
    [s.current, fit.current_uA, designed.current_uA],
    [s.water, fit.water_S_per_m, designed.water_S_per_m],
  ];
  return rows.flatMap(([name, { value, ci95 }, design], i) => {
    if (value === null || !design) return [];
    const span = readSpan(ci95);
    const ends = 'why' in span ? [null, null] : [span.low, span.high];
    const over = ends.map((v) => (v === null ? null : v / design)) as [number | null, number | null];
    const [low, high] = design < 0 ? [over[1], over[0]] : over;
    return [{ name, shape: ratioShapes[i]!, value: value / design, low, high }];
  });
}

const rowHeight = 34;

export function ratioFigure(document: CalibrationDocument, width: number): Figure {
  const w = words.calibration.estimates;
  const rows = ratioRows(document);
  const known = rows.flatMap((r) => [r.value, r.low ?? r.value, r.high ?? r.value]);
  // Bars far beyond what matters leave the figure at its edge.
  const [low, high] = [Math.max(-3, Math.min(0.8, ...known)), Math.min(5, Math.max(1.2, ...known))];
  const room = (high - low) * 0.06;
  const frame: Frame = { left: 172, right: width - 18, top: 30, bottom: 38 + rows.length * rowHeight };
  const x = linearScale([low - room, high + room], [frame.left, frame.right]);
  const inside = (v: number) => Math.min(frame.right, Math.max(frame.left, x.at(v)));
  const marks: Mark[] = [
    ...xAxis(frame, x, { label: w.axis, write: tickText }),
    line(x.at(1), frame.top, x.at(1), frame.bottom, { stroke: 'ink', width: 1.5, dash: [6, 4] }),
    text(x.at(1), frame.top - 8, w.asDesigned, { anchor: 'middle', fill: 'soft' }),
  ];
  rows.forEach((row, i) => {
    const y = frame.top + 8 + (i + 0.5) * rowHeight;
    marks.push(text(0, y + 5, row.name, { bold: i === 0 }));
    const ends: [number, number][] = [
      [row.low === null ? frame.left : inside(row.low), row.low ?? -Infinity],
      [row.high === null ? frame.right : inside(row.high), row.high ?? Infinity],
    ];
    marks.push(line(ends[0]![0], y, ends[1]![0], y, { stroke: 'accent', width: 3 }));
    for (const [at, v] of ends) {
      // An end without a stroke goes on beyond the figure.
      if (v >= x.domain[0] && v <= x.domain[1]) marks.push(line(at, y - 6, at, y + 6, { stroke: 'accent', width: 2 }));
    }
    if (row.value >= x.domain[0] && row.value <= x.domain[1])
      marks.push(path(shapeAt(row.shape, x.at(row.value), y, 6), { fill: 'accent', stroke: 'paper', width: 1.5 }));
  });
  const said = rows
    .map((r) =>
      w.said(r.name, sig(r.value), r.low === null ? w.none : sig(r.low), r.high === null ? w.none : sig(r.high)),
    )
    .join(' ');
  return {
    name: w.name,
    picture: { width, height: frame.bottom + 50, title: w.figureTitle, description: w.description(said), marks },
    columns: ['estimate', 'over_design', 'low95', 'high95'],
    rows: rows.map((r) => [r.name, r.value, r.low, r.high]),
  };
}

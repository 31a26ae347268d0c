// Medians by method, one panel a species, on one axis.
import { words } from '$lib/words';
import { tickText } from '$lib/words/numbers';
import { xAxis, type Frame } from './axes';
import type { MethodRow } from './estimates';
import { box, line, path, shapeAt, text, type Figure, type Mark, type Paint, type Shape } from './picture';
import { logDomain, logScale, type Scale } from './scale';

const w = words.figures;
const rowHeight = 30;
const labelWidth = 252;

const style: Record<MethodRow['key'], { paint: Paint; shape: Shape }> = {
  detection: { paint: 'method-detection', shape: 'circle' },
  lognormal: { paint: 'method-lognormal', shape: 'square' },
  lognormal_individual: { paint: 'method-individual', shape: 'triangle' },
  npmle: { paint: 'method-steps', shape: 'diamond' },
  descriptive: { paint: 'ink', shape: 'plus' },
  textbook: { paint: 'ink', shape: 'flag' },
};

export function forestFigure(panels: readonly (readonly MethodRow[])[], width: number): Figure {
  const rows = panels.flat();
  const values = rows.flatMap((r) => [r.median, ...('low' in r.span ? [r.span.low, r.span.high] : [])]);
  const x = logScale(logDomain(values), [labelWidth, width - 24]);
  const marks: Mark[] = [];
  let top = 8;
  panels.forEach((panel, i) => {
    const frame: Frame = {
      left: labelWidth,
      right: width - 24,
      top: top + 26,
      bottom: top + 34 + panel.length * rowHeight,
    };
    const last = i === panels.length - 1;
    marks.push(...panelMarks(panel, frame, x, last));
    top = frame.bottom + (last ? 50 : 34);
  });
  return {
    name: w.forest.name,
    picture: { width, height: top, title: w.forest.title, description: w.forest.description, marks },
    columns: [
      'species',
      'method',
      'median_nV_per_cm',
      'low_nV_per_cm',
      'high_nV_per_cm',
      'interval',
      'ratio_to_detection',
      'not_estimable',
    ],
    rows: rows.map((r) => [
      r.species,
      r.key,
      r.median,
      'low' in r.span ? r.span.low : null,
      'low' in r.span ? r.span.high : null,
      'low' in r.span ? words.findings.simpler.kind[r.spanKind] : null,
      r.ratio,
      r.why,
    ]),
  };
}

function panelMarks(panel: readonly MethodRow[], frame: Frame, x: Scale, last: boolean): Mark[] {
  const marks: Mark[] = [
    text(0, frame.top - 8, panel[0]?.species ?? '', { italic: true, bold: true, size: 15 }),
    ...xAxis(frame, x, { write: tickText, label: last ? w.fieldAxis : undefined }),
  ];
  const headline = panel.find((r) => r.key === 'detection');
  if (headline) marks.push(...headlineMarks(headline, frame, x));
  panel.forEach((row, i) => marks.push(...rowMarks(row, frame.top + 8 + (i + 0.5) * rowHeight, frame, x)));
  return marks;
}

function headlineMarks(row: MethodRow, frame: Frame, x: Scale): Mark[] {
  const marks: Mark[] = [];
  if ('low' in row.span && row.span.low !== null && row.span.high !== null) {
    const [low, high] = [x.at(row.span.low), x.at(row.span.high)];
    marks.push(box(low, frame.top, high - low, frame.bottom - frame.top, { fill: 'method-detection', opacity: 0.12 }));
  }
  if (row.median !== null) {
    const at = x.at(row.median);
    marks.push(line(at, frame.top, at, frame.bottom, { stroke: 'method-detection', width: 1, dash: [4, 3] }));
  }
  return marks;
}

function rowMarks(row: MethodRow, y: number, frame: Frame, x: Scale): Mark[] {
  const { paint, shape } = style[row.key];
  const bold = row.key === 'detection';
  const marks: Mark[] = [text(0, y + 5, words.findings.simpler.methods[row.key], { bold })];
  if (row.median === null) {
    marks.push(text(frame.left + 10, y + 5, w.forest.none, { fill: 'soft', italic: true, halo: true }));
    return marks;
  }
  if ('low' in row.span && row.span.low !== null) {
    const low = Math.max(frame.left, x.at(row.span.low));
    const high = row.span.high === null ? frame.right : x.at(row.span.high);
    const ci = row.spanKind === 'ci';
    marks.push(line(low, y, high, y, { stroke: paint, width: ci ? 3 : 1.5, dash: ci ? [] : [3, 3] }));
    for (const end of [low, high]) marks.push(line(end, y - 5, end, y + 5, { stroke: paint, width: 2 }));
  }
  marks.push(path(shapeAt(shape, x.at(row.median), y, bold ? 7 : 6), { fill: paint, stroke: 'paper', width: 1.5 }));
  return marks;
}

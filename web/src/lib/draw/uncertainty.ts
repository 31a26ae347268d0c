// What the season's own uncertainties do to the detection median: one panel a
// species, a bar for each input, the median and its 95 % interval behind them.
import { readSpan, type Detection, type Uncertainty } from '$lib/api/types';
import { words } from '$lib/words';
import { tickText } from '$lib/words/numbers';
import { xAxis, type Frame } from './axes';
import { box, line, text, type Figure, type Mark } from './picture';
import { logDomain, logScale, type Scale } from './scale';

const w = words.figures;
const rowHeight = 30;
const labelWidth = 264;

interface Bar {
  input: Uncertainty;
  low: number | null;
  high: number | null;
  why: string;
}

const barsOf = (rows: readonly Uncertainty[], species: string): Bar[] =>
  rows.map((input) => {
    const written = input.species.find((s) => s.species === species)?.detection_median_nV_per_cm;
    const span = readSpan(written);
    return 'why' in span ? { input, low: null, high: null, why: span.why } : { input, ...span, why: '' };
  });

export function uncertaintyFigure(
  rows: readonly Uncertainty[],
  detections: readonly Detection[],
  width: number,
): Figure {
  const panels = detections.map((d) => ({ d, bars: barsOf(rows, d.species) }));
  const ends = panels.flatMap(({ d, bars }) => {
    const ci = readSpan(d.ci95_nV_per_cm);
    return [d.median_nV_per_cm, ...bars.flatMap((b) => [b.low, b.high]), ...('why' in ci ? [] : [ci.low, ci.high])];
  });
  const x = logScale(logDomain(ends), [labelWidth, width - 24]);
  const marks: Mark[] = [];
  let top = 8;
  panels.forEach(({ d, bars }, i) => {
    const frame: Frame = {
      left: labelWidth,
      right: width - 24,
      top: top + 26,
      bottom: top + 34 + bars.length * rowHeight,
    };
    const last = i === panels.length - 1;
    marks.push(
      text(0, frame.top - 8, d.species, { italic: true, bold: true, size: 15 }),
      ...xAxis(frame, x, { write: tickText, label: last ? w.medianAxis : undefined }),
      ...headline(d, frame, x),
      ...bars.flatMap((bar, k) => barMarks(bar, frame.top + 8 + (k + 0.5) * rowHeight, frame, x)),
    );
    top = frame.bottom + (last ? 50 : 34);
  });
  return {
    name: w.uncertainty.name,
    picture: { width, height: top, title: w.uncertainty.title, description: w.uncertainty.description, marks },
    columns: ['what', 'sd', 'unit', 'species', 'low_nV_per_cm', 'high_nV_per_cm', 'not_estimable'],
    rows: panels.flatMap(({ d, bars }) =>
      bars.map((b) => [b.input.what, b.input.sd, b.input.unit, d.species, b.low, b.high, b.why]),
    ),
  };
}

function headline(d: Detection, frame: Frame, x: Scale): Mark[] {
  const marks: Mark[] = [];
  const ci = readSpan(d.ci95_nV_per_cm);
  if (!('why' in ci) && ci.low !== null && ci.high !== null) {
    const [low, high] = [x.at(ci.low), x.at(ci.high)];
    marks.push(box(low, frame.top, high - low, frame.bottom - frame.top, { fill: 'method-detection', opacity: 0.12 }));
  }
  if (d.median_nV_per_cm !== undefined) {
    const at = x.at(d.median_nV_per_cm);
    marks.push(line(at, frame.top, at, frame.bottom, { stroke: 'method-detection', width: 1.5, dash: [4, 3] }));
  }
  return marks;
}

function barMarks({ input, low, high }: Bar, y: number, frame: Frame, x: Scale): Mark[] {
  const together = input.what === 'all together';
  const label = `${words.findings.uncertainty.what[input.what]}${input.sd === null ? '' : `, ± ${tickText(input.sd)} ${input.unit}`}`;
  const marks: Mark[] = [text(0, y + 5, label, { bold: together })];
  if (low === null || high === null) {
    marks.push(text(frame.left + 10, y + 5, w.forest.none, { fill: 'soft', italic: true, halo: true }));
    return marks;
  }
  const [from, to] = [x.at(low), x.at(high)];
  const paint = together ? 'ink' : 'method-detection';
  marks.push(line(from, y, to, y, { stroke: paint, width: together ? 3 : 6 }));
  for (const end of [from, to]) marks.push(line(end, y - 6, end, y + 6, { stroke: paint, width: 2 }));
  return marks;
}

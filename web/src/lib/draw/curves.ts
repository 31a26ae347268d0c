// The headline figure of a species: how many passes a field is enough to turn.
import type { Detection, SpeciesCurves, StepRow } from '$lib/api/types';
import { readSpan } from '$lib/api/types';
import { words } from '$lib/words';
import { bare } from '$lib/words/phrase';
import { percent, sig, tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import {
  box,
  line,
  path,
  polyline,
  ribbon,
  shapeAt,
  text,
  type Cell,
  type Figure,
  type Mark,
  type Paint,
} from './picture';
import { linearScale, logScale, type Scale } from './scale';

const w = words.figures;

interface Line {
  key: 'detection' | 'lognormal' | 'lognormal_individual';
  label: string;
  paint: Paint;
  dash: readonly number[];
  width: number;
}

export const curveLines: readonly Line[] = [
  { key: 'lognormal', label: w.curves.lognormal, paint: 'method-lognormal', dash: [9, 5], width: 2 },
  { key: 'lognormal_individual', label: w.curves.individual, paint: 'method-individual', dash: [2, 4], width: 2.5 },
  { key: 'detection', label: w.curves.detection, paint: 'method-detection', dash: [], width: 3 },
];

/** curvesFigure draws what there is: a model that was not estimable has no line. */
export function curvesFigure(curves: SpeciesCurves, detection: Detection, width: number): Figure {
  const height = Math.round(Math.min(460, Math.max(330, width * 0.5)));
  const frame: Frame = { left: 56, right: width - 16, top: 40, bottom: height - 52 };
  const grid = curves.field_nV_per_cm;
  const x = logScale([grid[0] ?? 1, grid.at(-1) ?? 100], [frame.left, frame.right]);
  const y = linearScale([0, 1], [frame.bottom, frame.top]);
  const marks: Mark[] = [
    ...xAxis(frame, x, { label: w.fieldAxis, write: tickText }),
    ...yAxis(frame, y, {
      label: w.shareAxis,
      write: percent,
      ticks: [0, 0.25, 0.5, 0.75, 1].map((value) => ({ value, major: true })),
    }),
    ...stepMarks(curves.steps ?? [], x, y, frame),
    ...curveMarks(curves, x, y),
    ...medianMarks(detection, x, y, frame),
    ...legend(curves, frame),
  ];
  const median = detection.median_nV_per_cm === undefined ? '' : sig(detection.median_nV_per_cm, 2);
  return {
    name: w.curves.name(curves.species),
    picture: {
      width,
      height,
      title: bare(w.curves.title(curves.species)),
      description: w.curves.description(median),
      marks,
    },
    ...curveData(curves),
  };
}

/** stepMarks are level lines where the step curve is known and boxes where it climbs unseen. */
export function stepMarks(steps: readonly StepRow[], x: Scale, y: Scale, frame: Frame): Mark[] {
  const boxes: Mark[] = [];
  let d = '';
  let from = frame.left;
  for (const step of steps) {
    const low = clamp(x.at(step.low_nV_per_cm), frame);
    const high = step.high_nV_per_cm === null ? frame.right : clamp(x.at(step.high_nV_per_cm), frame);
    const [yBefore, yAfter] = [y.at(step.before), y.at(step.after)];
    if (low > from) d += polyline([from, low], [yBefore, yBefore]);
    boxes.push(
      box(low, yAfter, Math.max(high - low, 1), yBefore - yAfter, { fill: 'method-steps', opacity: 0.22 }),
      line(low, yBefore, high, yAfter, { stroke: 'method-steps', width: 1, dash: [2, 3], opacity: 0.8 }),
    );
    from = high;
  }
  const last = steps.at(-1);
  if (last && last.high_nV_per_cm !== null && from < frame.right) {
    d += polyline([from, frame.right], [y.at(last.after), y.at(last.after)]);
  }
  return d ? [...boxes, path(d, { stroke: 'method-steps', width: 1.5 })] : boxes;
}

const clamp = (v: number, frame: Frame): number => Math.min(frame.right, Math.max(frame.left, v));

function curveMarks(curves: SpeciesCurves, x: Scale, y: Scale): Mark[] {
  const xs = curves.field_nV_per_cm.map((v) => x.at(v));
  const marks: Mark[] = [];
  if (curves.detection_low && curves.detection_high) {
    const [low, high] = [curves.detection_low, curves.detection_high].map((c) => c.map((v) => y.at(v)));
    marks.push(path(ribbon(xs, low!, high!), { fill: 'method-detection', opacity: 0.16 }));
  }
  for (const style of curveLines) {
    const values = curves[style.key];
    if (!values || values.length === 0) continue;
    const d = polyline(
      xs,
      values.map((v) => y.at(v)),
    );
    marks.push(path(d, { stroke: style.paint, width: style.width, dash: style.dash }));
  }
  return marks;
}

function medianMarks(detection: Detection, x: Scale, y: Scale, frame: Frame): Mark[] {
  const median = detection.median_nV_per_cm;
  if (median === undefined) return [];
  const [at, half] = [x.at(median), y.at(0.5)];
  const marks: Mark[] = [
    line(frame.left, half, at, half, { stroke: 'method-detection', width: 1, dash: [3, 3] }),
    line(at, half, at, frame.bottom, { stroke: 'method-detection', width: 1, dash: [3, 3] }),
  ];
  const span = readSpan(detection.ci95_nV_per_cm);
  if ('low' in span && span.low !== null && span.high !== null) {
    const [low, high] = [clamp(x.at(span.low), frame), clamp(x.at(span.high), frame)];
    marks.push(line(low, frame.bottom, high, frame.bottom, { stroke: 'method-detection', width: 5 }));
  }
  marks.push(
    path(shapeAt('circle', at, half, 5.5), { fill: 'paper', stroke: 'method-detection', width: 2.5 }),
    text(at + 11, half + 17, sig(median, 2), { fill: 'method-detection', bold: true, size: 16, halo: true }),
  );
  return marks;
}

/** The top left of a rising curve is empty: the legend stands there. */
function legend(curves: SpeciesCurves, frame: Frame): Mark[] {
  const marks: Mark[] = [];
  let at = frame.top + 14;
  const x = frame.left + 12;
  for (const style of [...curveLines].reverse()) {
    if (!curves[style.key]?.length) continue;
    if (style.key === 'detection' && curves.detection_low) {
      marks.push(box(x, at - 8, 30, 16, { fill: 'method-detection', opacity: 0.16 }));
    }
    marks.push(line(x, at, x + 30, at, { stroke: style.paint, width: style.width, dash: style.dash }));
    const label = style.key === 'detection' && curves.detection_low ? `${style.label}, ${w.curves.band}` : style.label;
    marks.push(text(x + 40, at + 4.5, label, { halo: true }));
    at += 23;
  }
  if (curves.steps?.length) {
    marks.push(
      box(x, at - 7, 30, 14, { fill: 'method-steps', opacity: 0.22 }),
      line(x, at + 7, x + 30, at - 7, { stroke: 'method-steps', width: 1, dash: [2, 3], opacity: 0.8 }),
      text(x + 40, at + 4.5, w.curves.steps, { halo: true }),
    );
  }
  return marks;
}

function curveData(curves: SpeciesCurves): { columns: string[]; rows: Cell[][] } {
  const columns = ['species', 'curve', 'field_nV_per_cm', 'share', 'share_low', 'share_high', 'field_high_nV_per_cm'];
  const rows: Cell[][] = [];
  for (const style of [...curveLines].reverse()) {
    curves[style.key]?.forEach((share, i) => {
      const banded = style.key === 'detection';
      const [low, high] = banded ? [curves.detection_low?.[i], curves.detection_high?.[i]] : [];
      rows.push([curves.species, style.key, curves.field_nV_per_cm[i], share, low, high, null]);
    });
  }
  for (const s of curves.steps ?? []) {
    rows.push([curves.species, 'npmle', s.low_nV_per_cm, null, s.before, s.after, s.high_nV_per_cm]);
  }
  return { columns, rows };
}

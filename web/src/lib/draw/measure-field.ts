// The field along the time of the pass that is measured, with its fixes, its
// moments and the frame that is shown. It is the time line of the page too.
import type { TrackPoint } from '$lib/api/types';
import type { How } from '$lib/footage/draft';
import { words } from '$lib/words';
import { tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { fixMarks } from './measure-glyphs';
import { line, path, polyline, text, type Figure, type Mark } from './picture';
import { linearScale, logDomain, logScale, type Scale } from './scale';

export interface FieldChoices {
  pass: string;
  track: readonly TrackPoint[];
  /** Why there is no field; empty where there is. */
  why: string;
  fixes: readonly { point: string; s: number; how: How }[];
  points: readonly string[];
  /** Seconds since watching began, or since the clip began while no start is set. */
  nowS: number;
  startS: number | null;
  onsetS: number | null;
  endS: number | null;
  width: number;
  height: number;
}

const rowHeight = 15;

export interface FieldLayout {
  frame: Frame;
  x: Scale;
}

/** fieldLayout says where time lies, for drawing and for the hand. */
export function fieldLayout(c: FieldChoices): FieldLayout {
  const frame: Frame = {
    left: 78,
    right: c.width - 14,
    top: 40,
    bottom: c.height - 40 - rowHeight * Math.max(1, c.points.length),
  };
  const times = [...c.track.map((p) => p.t_s), ...c.fixes.map((f) => f.s), c.startS, c.onsetS, c.endS, c.nowS].filter(
    (s) => s !== null,
  );
  const low = times.reduce((a, b) => Math.min(a, b), Infinity);
  const high = times.reduce((a, b) => Math.max(a, b), -Infinity);
  // A second at least: a shorter axis would have ticks that nobody can read.
  const room = Math.max((high - low) * 0.02, (1 - (high - low)) / 2);
  return { frame, x: linearScale([low - room, high + room], [frame.left, frame.right]) };
}

type Key = 'field_nV_per_cm' | 'phantom_nV_per_cm' | 'phantom_nV_per_cm_per_uA';

const sealedOf = (track: readonly TrackPoint[]): boolean =>
  track.some((p) => typeof p.phantom_nV_per_cm_per_uA === 'number');

/** The axis holds six decades at most: where a pair is silent the field falls to next to nothing. */
function domainOf(track: readonly TrackPoint[], keys: readonly Key[]): [number, number] {
  const values = track.flatMap((p) => keys.map((k) => p[k] ?? 0));
  const top = values.reduce((a, b) => Math.max(a, b), 0);
  return logDomain(values.filter((v) => v >= top * 1e-6));
}

export function measureFieldFigure(c: FieldChoices): Figure {
  const w = words.footageMeasure.field;
  const { frame, x } = fieldLayout(c);
  const sealed = sealedOf(c.track);
  const keys: Key[] = sealed ? ['phantom_nV_per_cm_per_uA'] : ['field_nV_per_cm', 'phantom_nV_per_cm'];
  const known = c.track.length > 1 && keys.some((k) => c.track.some((p) => typeof p[k] === 'number'));
  const marks: Mark[] = [];
  if (known) {
    const y = logScale(domainOf(c.track, keys), [frame.bottom, frame.top]);
    const series = (key: Key) =>
      polyline(
        c.track.map((p) => x.at(p.t_s)),
        c.track.map((p) => (p[key] === null ? NaN : y.at(Math.max(p[key], y.domain[0])))),
      );
    marks.push(...yAxis(frame, y, { write: tickText }));
    const differs = c.track.some((p) => p.phantom_nV_per_cm !== p.field_nV_per_cm);
    if (sealed || differs) marks.push(path(series(keys.at(-1)!), { stroke: 'soft', width: 1.75, dash: [5, 4] }));
    if (!sealed) marks.push(path(series('field_nV_per_cm'), { stroke: 'accent', width: 2.5 }));
    marks.push(...legend(sealed, differs));
  }
  marks.push(...rows(c, frame, x), ...moments(c, frame, x));
  if (!known) {
    const middle = (frame.left + frame.right) / 2;
    marks.push(text(middle, (frame.top + frame.bottom) / 2, w.none, { anchor: 'middle', fill: 'soft', halo: true }));
  }
  return {
    name: w.name(c.pass),
    picture: {
      width: c.width,
      height: c.height,
      title: w.title(c.pass),
      description: sealed ? w.sealedDescription : w.description,
      marks,
    },
    columns: ['pass', 't_s', 'x_cm', 'y_cm', 'height_cm', ...keys],
    rows: c.track.map((p) => [c.pass, p.t_s, p.x_cm, p.y_cm, p.height_cm, ...keys.map((k) => p[k])]),
  };
}

/** A row for each point, with its fixes, below the field, and the axis of time below them. */
function rows(c: FieldChoices, frame: Frame, x: Scale): Mark[] {
  const w = words.footageMeasure;
  const low = frame.bottom + rowHeight * Math.max(1, c.points.length);
  const marks: Mark[] = [...xAxis({ ...frame, bottom: low }, x, { write: tickText, label: '', grid: true })];
  c.points.forEach((point, i) => {
    const y = frame.bottom + rowHeight * (i + 0.5);
    marks.push(line(frame.left, y, frame.right, y, { stroke: 'grid', width: 1 }));
    marks.push(text(frame.left - 6, y + 4, w.shortPoint(point), { anchor: 'end', fill: 'soft', size: 12 }));
    let last = -Infinity;
    for (const f of c.fixes) {
      if (f.point !== point) continue;
      const at = x.at(f.s);
      // Carried and filled ones in a row need not all be drawn: a mark every few pixels tells it.
      if (f.how !== 'placed' && at - last < (f.how === 'filled' ? 5 : 8)) continue;
      last = at;
      marks.push(...fixMarks(f.how, at, y, f.how === 'filled' ? 3 : 3.75, 'ink'));
    }
  });
  marks.push(text(frame.right, low + 34, words.footageMeasure.field.axis, { anchor: 'end', fill: 'soft', size: 12 }));
  return marks;
}

function moments(c: FieldChoices, frame: Frame, x: Scale): Mark[] {
  const w = words.footageMeasure.moments;
  const low = frame.bottom + rowHeight * Math.max(1, c.points.length);
  const marks: Mark[] = [];
  const edge = (s: number | null, label: string, side: 1 | -1): void => {
    if (s === null) return;
    const at = x.at(s);
    marks.push(
      line(at, frame.top - 4, at, low, { stroke: 'edge', width: 1.5 }),
      path(`M${at} ${frame.top - 4}h${6 * side}`, { stroke: 'edge', width: 1.5 }),
      text(at + 9 * side, frame.top + 1, label, {
        anchor: side > 0 ? 'start' : 'end',
        fill: 'soft',
        size: 12,
        halo: true,
      }),
    );
  };
  edge(c.startS, w.start, 1);
  edge(c.endS, w.end, -1);
  if (c.onsetS !== null) {
    const at = x.at(c.onsetS);
    const right = at > (frame.left + frame.right) / 2;
    marks.push(
      line(at, frame.top - 12, at, low, { stroke: 'ink', width: 1.5, dash: [6, 3] }),
      text(at + (right ? -5 : 5), frame.top - 6, w.onset, {
        anchor: right ? 'end' : 'start',
        bold: true,
        size: 12,
        halo: true,
      }),
    );
  }
  const now = x.at(c.nowS);
  marks.push(
    line(now, frame.top - 4, now, low, { stroke: 'paper', width: 5 }),
    line(now, frame.top - 4, now, low, { stroke: 'ink', width: 2.25 }),
    path(`M${now - 6} ${low + 9}h12l-6 -9z`, { fill: 'ink' }),
  );
  return marks;
}

function legend(sealed: boolean, differs: boolean): Mark[] {
  const w = words.footageMeasure.field;
  const dashed = { stroke: 'soft', width: 1.75, dash: [5, 4] } as const;
  if (sealed) return [line(4, 9, 28, 9, dashed), text(34, 13.5, w.perMicroampere, { fill: 'soft', size: 13 })];
  const marks: Mark[] = [
    line(4, 9, 28, 9, { stroke: 'accent', width: 2.5 }),
    text(34, 13.5, w.met, { fill: 'soft', size: 13 }),
  ];
  if (differs) marks.push(line(160, 9, 184, 9, dashed), text(190, 13.5, w.phantom, { fill: 'soft', size: 13 }));
  return marks;
}

// The field along the track of one pass, with the interval in which its
// threshold lies.
import type { Pass } from '$lib/api/types';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { box, line, path, polyline, px, text, type Figure, type Mark } from './picture';
import { linearScale, logDomain, logScale, type Scale } from './scale';

const w = words.figures;

export function alongFigure(pass: Pass, width: number, height: number): Figure {
  const frame: Frame = { left: 52, right: width - 12, top: 62, bottom: height - 46 };
  const times = pass.track.map((p) => p.t_s);
  const start = Math.min(0, ...times);
  const end = Math.max(...times, pass.onset_s ?? 0, pass.row.watched_s ?? 0, start + 0.1);
  const x = linearScale([start, end], [frame.left, frame.right]);
  const fields = pass.track.flatMap((p) => [p.field_nV_per_cm, p.phantom_nV_per_cm]);
  const y = logScale(logDomain(floorAt([...fields, pass.row.field_high_nV_per_cm])), [frame.bottom, frame.top]);
  const series = (key: 'field_nV_per_cm' | 'phantom_nV_per_cm') =>
    polyline(
      pass.track.map((p) => x.at(p.t_s)),
      pass.track.map((p) => (p[key] === null ? NaN : y.at(Math.max(p[key], y.domain[0])))),
    );
  const phantomDiffers = pass.track.some((p) => p.phantom_nV_per_cm !== p.field_nV_per_cm);
  const marks: Mark[] = [
    ...yAxis(frame, y, { write: tickText }),
    ...xAxis(frame, x, { write: tickText, label: w.secondsAxis, grid: false }),
    ...intervalMarks(pass, frame, x, y),
  ];
  if (phantomDiffers) marks.push(path(series('phantom_nV_per_cm'), { stroke: 'soft', width: 1.75, dash: [5, 4] }));
  marks.push(path(series('field_nV_per_cm'), { stroke: 'accent', width: 2.5 }));
  marks.push(...fixMarks(pass, frame, x), ...onsetMarks(pass, frame, x), ...legend(phantomDiffers));
  const id = pass.row.pass;
  return {
    name: w.along.name(id),
    picture: { width, height, title: w.along.title(id), description: w.along.description, marks },
    columns: ['pass', 't_s', 'x_cm', 'y_cm', 'height_cm', 'field_nV_per_cm', 'phantom_nV_per_cm'],
    rows: pass.track.map((p) => [id, p.t_s, p.x_cm, p.y_cm, p.height_cm, p.field_nV_per_cm, p.phantom_nV_per_cm]),
  };
}

/**
 * sealedAlongFigure draws what is known while it is sealed which pair was
 * active: the field that the pass's own pair would give, for each µA.
 */
export function sealedAlongFigure(pass: Pass, width: number, height: number): Figure {
  const frame: Frame = { left: 52, right: width - 12, top: 40, bottom: height - 46 };
  const times = pass.track.map((p) => p.t_s);
  const start = Math.min(0, ...times);
  const x = linearScale([start, Math.max(...times, pass.row.watched_s ?? 0, start + 0.1)], [frame.left, frame.right]);
  const fields = pass.track.map((p) => p.phantom_nV_per_cm_per_uA);
  const y = logScale(logDomain(floorAt(fields)), [frame.bottom, frame.top]);
  const d = polyline(
    times.map((t) => x.at(t)),
    fields.map((v) => (v === null ? NaN : y.at(Math.max(v, y.domain[0])))),
  );
  const id = pass.row.pass;
  return {
    name: w.sealedAlong.name(id),
    picture: {
      width,
      height,
      title: w.sealedAlong.title(id),
      description: w.sealedAlong.description,
      marks: [
        ...yAxis(frame, y, { write: tickText }),
        ...xAxis(frame, x, { write: tickText, label: w.secondsAxis, grid: false }),
        path(d, { stroke: 'soft', width: 1.75, dash: [5, 4] }),
        ...fixMarks(pass, frame, x),
        line(4, 9, 28, 9, { stroke: 'soft', width: 1.75, dash: [5, 4] }),
        text(34, 13.5, w.sealedAlong.legend, { fill: 'soft' }),
        text(34, 30, w.sealedAlong.unit, { fill: 'soft' }),
      ],
    },
    columns: ['pass', 't_s', 'x_cm', 'y_cm', 'height_cm', 'phantom_nV_per_cm_per_uA'],
    rows: pass.track.map((p) => [id, p.t_s, p.x_cm, p.y_cm, p.height_cm, p.phantom_nV_per_cm_per_uA]),
  };
}

/** floorAt keeps the axis to six decades: where a pair is silent the field falls to next to nothing. */
function floorAt(values: readonly (number | null)[]): (number | null)[] {
  const top = Math.max(...values.map((v) => v ?? 0));
  return values.map((v) => (v !== null && v >= top * 1e-6 ? v : null));
}

/** The window in which the turn was decided, and the fields between which its threshold lies. */
function intervalMarks(pass: Pass, frame: Frame, x: Scale, y: Scale): Mark[] {
  const { field_low_nV_per_cm: low, field_high_nV_per_cm: high, falling_field: falling } = pass.row;
  const within = (v: number) => Math.min(frame.bottom, Math.max(frame.top, v));
  if (low === null && high === null) return [];
  if (high === null || falling) {
    if (low === null || !(low > 0)) return [];
    const at = within(y.at(low));
    return [
      box(frame.left, frame.top, frame.right - frame.left, at - frame.top, { fill: 'accent', opacity: 0.1 }),
      line(frame.left, at, frame.right, at, { stroke: 'accent', width: 1, dash: [4, 3] }),
      text(frame.right - 6, Math.max(at - 7, frame.top + 13), `${w.along.above} ${sig(low)}`, {
        anchor: 'end',
        fill: 'accent',
        halo: true,
      }),
    ];
  }
  const [top, bottom] = [within(y.at(high)), within(low && low > 0 ? y.at(low) : frame.bottom)];
  const band = box(frame.left, top, frame.right - frame.left, bottom - top, { fill: 'accent', opacity: 0.1 });
  if (pass.onset_s === null || pass.t0_s === null) return [band];
  const from = Math.max(frame.left, x.at(pass.t0_s - pass.reaction_time_s));
  const to = Math.max(from + 2, x.at(pass.onset_s - pass.reaction_time_s));
  return [
    band,
    box(from, top, to - from, bottom - top, { fill: 'accent', opacity: 0.35 }),
    box(from, frame.top, to - from, frame.bottom - frame.top, { fill: 'accent', opacity: 0.12 }),
  ];
}

function onsetMarks(pass: Pass, frame: Frame, x: Scale): Mark[] {
  if (pass.onset_s === null) return [];
  const onset = x.at(pass.onset_s);
  const before = Math.max(frame.left, x.at(pass.onset_s - pass.reaction_time_s));
  const right = onset > (frame.left + frame.right) / 2;
  const bracket = frame.top - 9;
  const side = right ? { anchor: 'end' as const, dx: -6 } : { anchor: 'start' as const, dx: 6 };
  const marks: Mark[] = [
    line(onset, frame.top - 26, onset, frame.bottom, { stroke: 'ink', width: 1.5 }),
    text(onset + side.dx, frame.top - 20, w.along.onset, { anchor: side.anchor, bold: true }),
  ];
  if (onset - before > 1) {
    marks.push(
      path(`M${px(before)} ${bracket - 4}v8M${px(before)} ${bracket}H${px(onset)}`, { stroke: 'ink', width: 1.5 }),
      text((right ? before : onset) + side.dx, bracket + 5, w.along.reaction, { anchor: side.anchor, fill: 'soft' }),
    );
  }
  return marks;
}

/** A stroke on the time axis for every fix, where they would not run together. */
function fixMarks(pass: Pass, frame: Frame, x: Scale): Mark[] {
  if (pass.fixes.length > (frame.right - frame.left) / 4) return [];
  const d = pass.fixes.map((f) => `M${Math.round(x.at(f.t_s) * 10) / 10} ${frame.bottom}v-6`).join('');
  return d ? [path(d, { stroke: 'soft', width: 1 })] : [];
}

function legend(phantom: boolean): Mark[] {
  const y = 9;
  const marks: Mark[] = [
    line(4, y, 28, y, { stroke: 'accent', width: 2.5 }),
    text(34, y + 4.5, `${w.along.met}, ${words.units.field}`, { fill: 'soft' }),
  ];
  if (phantom) {
    marks.push(
      line(174, y, 198, y, { stroke: 'soft', width: 1.75, dash: [5, 4] }),
      text(204, y + 4.5, w.along.phantom, { fill: 'soft' }),
    );
  }
  return marks;
}

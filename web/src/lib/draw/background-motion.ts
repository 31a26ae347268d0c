// The field of moving water through the day, the most that it can be, and below
// it the speed of the stream.
import type { BackgroundMotional, BackgroundStimulus } from '$lib/api/background';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { box, line, path, polyline, shapeAt, text, type Cell, type Figure, type Mark } from './picture';
import { linearScale, linearTicks, type Tick } from './scale';

const w = words.background.motion;

/** hourOf is "13:30" as 13.5; NaN where it is no time. */
export function hourOf(time: string): number {
  const m = /^(\d{1,2}):(\d{2})$/.exec(time);
  return m ? Number(m[1]) + Number(m[2]) / 60 : NaN;
}

/** motionRows are the rows of the day as they are saved. */
export const motionRows = (motional: BackgroundMotional): Cell[][] =>
  motional.rows.map((r) => [
    r.time,
    r.speed_m_per_s,
    r.bearing_deg,
    ...[0, 1, 2].map((i) => r.E_north_east_down_nV_per_cm[i]),
    ...[0, 1, 2].map((i) => r.E_season_nV_per_cm?.[i]),
    r.magnitude_nV_per_cm,
    r.thresholds,
  ]);

const hours = (width: number): Tick[] =>
  Array.from({ length: 9 }, (_, i) => ({ value: 3 * i, major: width > 420 || i % 2 === 0 }));

export function motionFigure(motional: BackgroundMotional, stimulus: BackgroundStimulus, width: number): Figure {
  const above: Frame = { left: 56, right: width - 14, top: 34, bottom: 34 + 220 };
  const below: Frame = { left: 56, right: width - 14, top: above.bottom + 64, bottom: above.bottom + 64 + 80 };
  const height = below.bottom + 52;
  const threshold = stimulus.threshold_nV_per_cm;
  const { swim, largest } = motional;
  const fields = motional.rows.map((r) => r.magnitude_nV_per_cm ?? NaN);
  const most = Math.max(
    threshold,
    swim?.largest_nV_per_cm ?? 0,
    largest?.magnitude_nV_per_cm ?? 0,
    ...fields.filter(Number.isFinite),
  );
  const fastest = Math.max(0.01, ...motional.rows.map((r) => r.speed_m_per_s), largest?.speed_m_per_s ?? 0);
  const x = linearScale([0, 24], [above.left, above.right]);
  const y = linearScale([0, most * 1.15], [above.bottom, above.top]);
  const v = linearScale([0, fastest * 1.15], [below.bottom, below.top]);
  const at = motional.rows.map((r) => x.at(hourOf(r.time)));
  const write = (h: number) => String(h);
  const marks: Mark[] = [
    ...xAxis(above, x, { write, ticks: hours(width) }),
    ...yAxis(above, y, { label: w.fieldAxis, write: tickText }),
    ...xAxis(below, x, { label: w.timeAxis, write, ticks: hours(width) }),
    ...yAxis(below, v, { label: w.speedAxis, write: tickText, ticks: linearTicks(v.domain, 3) }),
  ];
  if (swim?.largest_nV_per_cm != null) {
    const [low, high] = [y.at(swim.smallest_nV_per_cm ?? swim.largest_nV_per_cm), y.at(swim.largest_nV_per_cm)];
    marks.push(
      box(above.left, high, above.right - above.left, Math.max(1, low - high), { fill: 'species-2', opacity: 0.14 }),
      line(above.left, high, above.right, high, { stroke: 'species-2', width: 2, dash: [2, 3] }),
    );
  }
  marks.push(
    path(
      polyline(
        at,
        fields.map((e) => y.at(e)),
      ),
      { stroke: 'accent', width: 2.5 },
    ),
  );
  motional.rows.forEach((r, i) => {
    if (!Number.isFinite(at[i]) || !Number.isFinite(fields[i])) return;
    marks.push(
      path(shapeAt('circle', at[i]!, y.at(fields[i]!), 3), {
        fill: 'accent',
        title: w.row(r.time, sig(fields[i]!), sig(r.speed_m_per_s)),
      }),
    );
  });
  marks.push(
    path(
      polyline(
        at,
        motional.rows.map((r) => v.at(r.speed_m_per_s)),
      ),
      { stroke: 'species-4', width: 2, dash: [7, 3] },
    ),
  );
  marks.push(line(above.left, y.at(threshold), above.right, y.at(threshold), { stroke: 'ink', width: 1.5 }));
  marks.push(
    text(above.left + 6, y.at(threshold) - 6, w.threshold(tickText(threshold)), { size: 13, bold: true, halo: true }),
  );
  if (swim?.largest_nV_per_cm != null) {
    const said = w.swim(sig(swim.smallest_nV_per_cm ?? swim.largest_nV_per_cm), sig(swim.largest_nV_per_cm));
    marks.push(text(above.right - 6, y.at(swim.largest_nV_per_cm) - 6, said, { anchor: 'end', size: 13, halo: true }));
  }
  const said: string[] = [];
  if (largest?.magnitude_nV_per_cm != null) {
    const [lx, ly] = [x.at(hourOf(largest.time)), y.at(largest.magnitude_nV_per_cm)];
    said.push(w.said(sig(largest.magnitude_nV_per_cm), largest.time));
    if (Number.isFinite(lx)) {
      const right = lx > (above.left + above.right) / 2;
      marks.push(
        path(shapeAt('diamond', lx, ly, 6), { fill: 'accent', stroke: 'paper', width: 1.5 }),
        text(lx + (right ? -10 : 10), ly - 8, w.largest(sig(largest.magnitude_nV_per_cm), largest.time), {
          anchor: right ? 'end' : 'start',
          size: 13,
          bold: true,
          halo: true,
        }),
      );
    }
  }
  return {
    name: w.name,
    picture: { width, height, title: w.pictureTitle, description: w.description(said.join(' ')), marks },
    columns: [...w.csv],
    rows: motionRows(motional),
  };
}

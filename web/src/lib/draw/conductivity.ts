// What the water conducted in each trial, against time, and where each value
// comes from.
import type { TrialWater } from '$lib/api/studies';
import { words } from '$lib/words';
import { plural } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { domainOf, exact, shortTime, steady } from './cast';
import { path, shapeAt, text, type Figure, type Mark, type Paint, type Shape } from './picture';
import { linearScale, type Tick } from './scale';

const w = words.water.figures;

export type Source = TrialWater['from'];
export const sources: readonly Source[] = ['trial', 'trial_salinity', 'cast', 'study'];
export const sourceStyle: Record<Source, { paint: Paint; shape: Shape; open: boolean }> = {
  trial: { paint: 'species-1', shape: 'circle', open: false },
  trial_salinity: { paint: 'species-2', shape: 'triangle', open: false },
  cast: { paint: 'species-3', shape: 'diamond', open: false },
  study: { paint: 'species-4', shape: 'square', open: true },
};

/**
 * wallMs is the site's clock as if it ran in UTC, in milliseconds: what the
 * axis shows is what was written down, whatever zone the reader sits in. NaN
 * where it is no time.
 */
export const wallMs = (iso: string): number => Date.parse(`${iso.slice(0, 19)}Z`);

const legendColumn = 270;
const hour = 3_600_000;
const day = 24 * hour;
const steps = [hour / 4, hour / 2, hour, 2 * hour, 3 * hour, 6 * hour, 12 * hour, day, 2 * day, 7 * day, 14 * day];

/** timeTicks are round hours, days, weeks or months within the domain, about count of them. */
export function timeTicks(domain: readonly [number, number], count = 6): Tick[] {
  const [low, high] = domain;
  const step = steps.find((s) => (high - low) / s <= count);
  if (step) {
    const ticks: Tick[] = [];
    for (let t = Math.ceil(low / step) * step; t <= high; t += step) ticks.push({ value: t, major: true });
    return ticks;
  }
  const months = Math.max(1, Math.ceil((high - low) / (30.44 * day) / count));
  const ticks: Tick[] = [];
  const from = new Date(low);
  for (let m = from.getUTCMonth(); ; m++) {
    const t = Date.UTC(from.getUTCFullYear(), m, 1);
    if (t > high) return ticks;
    if (t >= low && m % months === 0) ticks.push({ value: t, major: true });
  }
}

/** writeTime shows the hour where the axis spans less than three days. */
export const writeTime =
  (domain: readonly [number, number]) =>
  (t: number): string => {
    const iso = new Date(t).toISOString();
    return domain[1] - domain[0] < 3 * day ? `${iso.slice(5, 10)} ${iso.slice(11, 16)}` : iso.slice(0, 10);
  };

export function conductivityFigure(trials: readonly TrialWater[], width: number): Figure {
  const known = trials.filter((t) => t.conductivity_S_per_m !== null && Number.isFinite(wallMs(t.start)));
  const used = sources.filter((s) => known.some((t) => t.from === s));
  const across = Math.max(1, Math.floor((width - 60) / legendColumn));
  const [top, plot] = [40, 210];
  const height = top + plot + 60 + Math.ceil(used.length / across) * 22;
  const frame: Frame = { left: 60, right: width - 20, top, bottom: top + plot };
  const times = known.map((t) => wallMs(t.start));
  const span = known.length > 0 ? ([Math.min(...times), Math.max(...times)] as const) : ([0, day] as const);
  const room = Math.max((span[1] - span[0]) * 0.04, hour);
  const domain: [number, number] = [span[0] - room, span[1] + room];
  const x = linearScale(domain, [frame.left, frame.right]);
  const y = linearScale(domainOf(known.map((t) => t.conductivity_S_per_m!)), [frame.bottom, frame.top]);
  const marks: Mark[] = [
    ...xAxis(frame, x, { label: w.timeAxis, write: writeTime(domain), ticks: timeTicks(domain) }),
    ...yAxis(frame, y, { label: w.conductivityAxis, write: steady(y.domain) }),
  ];
  for (const t of known) {
    marks.push(
      mark(
        t.from,
        x.at(wallMs(t.start)),
        y.at(t.conductivity_S_per_m!),
        w.trial(t.trial, shortTime(t.start), exact(t.conductivity_S_per_m!), w.sources[t.from]),
      ),
    );
  }
  used.forEach((source, i) => {
    const [left, at] = [frame.left + (i % across) * legendColumn, frame.bottom + 62 + Math.floor(i / across) * 22];
    marks.push(mark(source, left + 6, at), text(left + 20, at + 5, w.sources[source]));
  });
  return {
    name: w.trialName,
    picture: {
      width,
      height,
      title: w.trialTitle,
      description: w.trialDescription(said(known), trials.length - known.length),
      marks,
    },
    columns: ['trial', 'start', 'conductivity_S_per_m', 'from', 'cast_time', 'depth_m'],
    rows: trials.map((t) => [t.trial, t.start, t.conductivity_S_per_m, t.from, t.cast_time || null, t.depth_m]),
  };
}

function mark(source: Source, x: number, y: number, title?: string): Mark {
  const { paint, shape, open } = sourceStyle[source];
  return path(shapeAt(shape, x, y, 5.5), {
    fill: open ? 'paper' : paint,
    stroke: open ? paint : 'paper',
    width: open ? 2 : 1,
    ...(title ? { title } : {}),
  });
}

/** said tells how many trials take their water from where, and the range. */
function said(known: readonly TrialWater[]): string {
  const values = known.map((t) => t.conductivity_S_per_m!);
  if (values.length === 0) return '';
  const counts = sources.flatMap((s) => {
    const n = known.filter((t) => t.from === s).length;
    return n > 0 ? [`${plural(n, 'trial', 'trials')}: ${w.sources[s]}`] : [];
  });
  return w.trialRange(exact(Math.min(...values)), exact(Math.max(...values)), counts.join('; '));
}

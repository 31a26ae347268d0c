// Casts as profiles: depth downwards, what was read to the right. The order of
// casts in time is a step of colour; dash and shape tell them apart as well.
import type { Cast, CastReading } from '$lib/api/studies';
import { words } from '$lib/words';
import { clock, tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import {
  line,
  path,
  polyline,
  shapeAt,
  shapes,
  text,
  type Cell,
  type Figure,
  type Mark,
  type Paint,
  type Shape,
} from './picture';
import { linearScale, linearTicks, niceStep, type Scale } from './scale';

const w = words.water.figures;

export const profileKeys = ['temperature_C', 'salinity', 'conductivity_S_per_m'] as const;
export type ProfileKey = (typeof profileKeys)[number];

const timePaints = ['time-1', 'time-2', 'time-3', 'time-4', 'time-5', 'time-6'] as const;
const dashes: readonly (readonly number[])[] = [[], [8, 4], [2, 3], [9, 3, 2, 3], [5, 5], [13, 4]];

/** castStyle gives the i-th of n casts in time its colour, from first to last, and a dash and shape of its own. */
export function castStyle(i: number, n: number): { paint: Paint; dash: readonly number[]; shape: Shape } {
  const step = n < 2 ? 5 : Math.round((i * 5) / (n - 1));
  return { paint: timePaints[step]!, dash: dashes[i % 6]!, shape: shapes[i % 6]! };
}

/** domainOf holds all values with a little room; a single value gets some on both sides. */
export function domainOf(values: readonly number[]): [number, number] {
  if (values.length === 0) return [0, 1];
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const room = high > low ? (high - low) * 0.08 : Math.max(Math.abs(high) * 0.02, 0.1);
  return [low - room, high + room];
}

/** steady writes the ticks of a linear axis, all with as many decimals as the step needs. */
export function steady(domain: readonly [number, number]): (v: number) => string {
  const step = niceStep((domain[1] - domain[0]) / 5);
  const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  return (v) => v.toFixed(decimals).replace('-', '−');
}

/** exact writes a reading with the digits that it has, up to six. */
export const exact = (v: number): string => String(Number(v.toPrecision(6))).replace('-', '−');

const gap = 40;
const legendRow = 22;
const legendColumn = 210;

/** castFigure draws the casts that stand in chosen, in the order of all. */
export function castFigure(all: readonly Cast[], chosen: ReadonlySet<string>, width: number): Figure {
  const casts = all.flatMap((cast, i) => (chosen.has(cast.time) ? [{ cast, style: castStyle(i, all.length) }] : []));
  const readings = casts.flatMap((c) => c.cast.readings);
  const keys = profileKeys.filter((k) => readings.some((r) => r[k] !== null));
  const across = Math.max(1, Math.floor((width - 60) / legendColumn));
  const legendHeight = Math.ceil(casts.length / across) * legendRow;
  const [top, plot] = [44, 300];
  const height = top + plot + 56 + legendHeight;
  const deepest = Math.max(...readings.map((r) => r.depth_m), 0.1);
  const depth = linearScale([0, deepestTick(deepest)], [top, top + plot]);
  const room = (width - 60 - 16 - gap * Math.max(0, keys.length - 1)) / Math.max(1, keys.length);
  const marks: Mark[] = keys.flatMap((key, i) => {
    const left = 60 + i * (room + gap);
    return panel(casts, key, { left, right: left + room, top, bottom: top + plot }, depth, i === 0);
  });
  casts.forEach(({ cast, style }, i) => {
    const [x, y] = [60 + (i % across) * legendColumn, top + plot + 62 + Math.floor(i / across) * legendRow];
    marks.push(
      line(x, y, x + 34, y, { stroke: style.paint, width: 2.5, dash: style.dash }),
      path(shapeAt(style.shape, x + 17, y, 4.5), { fill: style.paint, stroke: 'paper', width: 1 }),
      text(x + 42, y + 5, shortTime(cast.time)),
    );
  });
  return {
    name: w.castName,
    picture: {
      width,
      height,
      title: w.castTitle,
      description: w.castDescription(
        castWords(
          casts.map((c) => c.cast),
          keys,
        ),
      ),
      // Only the first panel writes the depths.
      marks: marks.filter((m) => m.kind !== 'text' || m.text !== ''),
    },
    ...castData(casts.map((c) => c.cast)),
  };
}

interface Drawn {
  cast: Cast;
  style: ReturnType<typeof castStyle>;
}

function panel(casts: readonly Drawn[], key: ProfileKey, frame: Frame, depth: Scale, first: boolean): Mark[] {
  const known = (c: Cast) => c.readings.filter((r) => r[key] !== null);
  const x = linearScale(domainOf(casts.flatMap((c) => known(c.cast).map((r) => r[key]!))), [frame.left, frame.right]);
  const marks: Mark[] = [
    ...xAxis(frame, x, { label: w.profiles[key], write: steady(x.domain) }),
    ...yAxis(frame, depth, {
      label: first ? w.depthAxis : '',
      write: first ? tickText : () => '',
      // From the deepest up: an axis drops the labels that would stand too close to the one below.
      ticks: linearTicks(depth.domain).reverse(),
    }),
  ];
  for (const { cast, style } of casts) {
    const rows = known(cast);
    const [xs, ys] = [rows.map((r) => x.at(r[key]!)), rows.map((r) => depth.at(r.depth_m))];
    marks.push(path(polyline(xs, ys), { stroke: style.paint, width: 2.5, dash: style.dash }));
    rows.forEach((r, i) => {
      const open = key === 'conductivity_S_per_m' && r.computed;
      marks.push(
        path(shapeAt(style.shape, xs[i]!, ys[i]!, 4.5), {
          fill: open ? 'paper' : style.paint,
          stroke: open ? style.paint : 'paper',
          width: open ? 2 : 1,
          title: w.reading(shortTime(cast.time), exact(r.depth_m), w.profiles[key], exact(r[key]!), open),
        }),
      );
    });
  }
  return marks;
}

/** deepestTick is the depth at the foot of the axis. */
function deepestTick(deepest: number): number {
  const step = niceStep(deepest / 5);
  return Math.ceil((deepest + step * 0.2) / step) * step;
}

/** shortTime is a time to the minute, as it was recorded. */
export const shortTime = (iso: string): string => clock(iso).slice(0, 16);

/** castWords tells the range of each profile, for those who cannot see it. */
function castWords(casts: readonly Cast[], keys: readonly ProfileKey[]): string {
  return casts
    .map((c) => {
      const ranges = keys.flatMap((k) => {
        const known = c.readings.filter((r) => r[k] !== null);
        const [from, to] = [known[0], known.at(-1)];
        return from && to ? [w.range(w.profiles[k], ends(from, k), ends(to, k))] : [];
      });
      return w.castSaid(shortTime(c.time), c.readings.length, ranges);
    })
    .join(' ');
}

const ends = (r: CastReading, key: ProfileKey) => ({ value: exact(r[key]!), depth: exact(r.depth_m) });

function castData(casts: readonly Cast[]): { columns: string[]; rows: Cell[][] } {
  return {
    columns: ['time', 'depth_m', ...profileKeys, 'conductivity_computed'],
    rows: casts.flatMap((c) =>
      c.readings.map((r) => [
        c.time,
        r.depth_m,
        ...profileKeys.map((k) => r[k]),
        r.conductivity_S_per_m === null ? null : r.computed,
      ]),
    ),
  };
}

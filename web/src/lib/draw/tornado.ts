// What an error of each knob does: bars about the value as set, in two panels,
// the range and the field, the largest effect first.
import type { ErrorRow, ErrorsView } from '$lib/api/stimulus';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import { xAxis, type Frame } from './axes';
import { box, line, text, type Figure, type Mark } from './picture';
import { linearScale, type Scale } from './scale';

const w = words.range.errors;
const rowHeight = 40;
const labelWidth = 216;
/** Below this width the panels stand one under the other, and the names above their bars. */
const narrow = 700;

/** Bars is one knob with its two sets of ends: all off alike, and off by the season's own deviations. */
export interface Bars {
  what: string;
  alike: ErrorRow | undefined;
  season: ErrorRow | undefined;
}

type Side = 'range' | 'field';

/** endsOf gives both ends in cm or nV/cm; an end below the threshold everywhere is null. */
export function endsOf(row: ErrorRow | undefined, side: Side): [number | null, number | null] | undefined {
  if (!row) return undefined;
  const [low, high] = side === 'range' ? row.range_m : row.field_nV_per_cm;
  const scaled = (v: number | null | undefined) => (v == null ? null : side === 'range' ? v * 100 : v);
  const ends: [number | null, number | null] = [scaled(low), scaled(high)];
  return ends[0] === null && ends[1] === null ? undefined : ends;
}

const spread = (row: ErrorRow | undefined, side: Side): number => {
  const [a, b] = endsOf(row, side) ?? [0, 0];
  return Math.abs((b ?? 0) - (a ?? 0));
};

/** barsOf joins both sets by knob, the largest effect on the range first, on the field where those are alike. */
export function barsOf(view: ErrorsView): Bars[] {
  const whats = [...new Set([...view.rows, ...view.season].map((r) => r.what))];
  return whats
    .map((what) => ({
      what,
      alike: view.rows.find((r) => r.what === what),
      season: view.season.find((r) => r.what === what),
    }))
    .sort((a, b) => weight(b, 'range') - weight(a, 'range') || weight(b, 'field') - weight(a, 'field'));
}

const weight = (bars: Bars, side: Side): number => Math.max(spread(bars.alike, side), spread(bars.season, side));

export function tornadoFigure(view: ErrorsView, percent: number, width: number): Figure {
  const bars = barsOf(view);
  const stacked = width < narrow;
  const tall = bars.length * rowHeight + 66;
  const left = stacked ? 12 : labelWidth;
  const room = stacked ? width - 24 : (width - labelWidth - 48) / 2;
  const marks: Mark[] = legend(percent, width, view.season.length > 0);
  const top = 40 + (stacked && view.season.length > 0 ? 22 : 0);
  const panels: [Side, number | null, string][] = [
    ['range', view.range_m_base === null ? null : view.range_m_base * 100, w.rangeAxis],
    ['field', view.field_base, w.fieldAxis],
  ];
  panels.forEach(([side, base, label], i) => {
    const x0 = stacked ? left : left + i * (room + 40);
    const y0 = stacked ? top + i * tall : top;
    const frame: Frame = { left: x0, right: x0 + room, top: y0, bottom: y0 + bars.length * rowHeight };
    const scale = linearScale(domain(bars, side, base), [frame.left, frame.right]);
    marks.push(...xAxis(frame, scale, { label, write: tickText }));
    bars.forEach((b, row) => marks.push(...barMarks(b, side, base, scale, frame.top + row * rowHeight)));
    if (base !== null)
      marks.push(line(scale.at(base), frame.top, scale.at(base), frame.bottom, { stroke: 'ink', width: 1.5 }));
    bars.forEach((b, row) => {
      const y = frame.top + row * rowHeight;
      if (stacked) marks.push(text(frame.left, y + 11, w.whatIs(b.what), { halo: true, size: 13 }));
      else if (i === 0) marks.push(text(left - 12, y + 25, w.whatIs(b.what), { anchor: 'end' }));
    });
  });
  return {
    name: w.name,
    picture: {
      width,
      height: top + (stacked ? 2 : 1) * tall,
      title: w.figure,
      description: w.description(spoken(bars)),
      marks,
    },
    columns: [
      'set',
      'what',
      'change',
      'range_low_m',
      'range_high_m',
      'field_low_nV_per_cm',
      'field_high_nV_per_cm',
      'says',
    ],
    rows: bars.flatMap((b) =>
      [b.alike && ([`${percent} %`, b.alike] as const), b.season && (['season', b.season] as const)].flatMap((pair) =>
        pair
          ? [
              [
                pair[0],
                b.what,
                pair[1].change,
                pair[1].range_m[0],
                pair[1].range_m[1],
                pair[1].field_nV_per_cm[0],
                pair[1].field_nV_per_cm[1],
                pair[1].says,
              ],
            ]
          : [],
      ),
    ),
  };
}

function domain(bars: readonly Bars[], side: Side, base: number | null): [number, number] {
  const ends = bars.flatMap((b) => [endsOf(b.alike, side), endsOf(b.season, side)]).flatMap((e) => e ?? []);
  const values = [...ends, base].filter((v) => v !== null);
  // An end that is nowhere above the threshold is drawn as 0.
  if (ends.includes(null)) values.push(0);
  if (values.length === 0) return [0, 1];
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const pad = Math.max((high - low) * 0.08, Math.abs(high) * 1e-3, 1e-9);
  return [Math.max(low - pad, low > 0 ? 0 : low - pad), high + pad];
}

function barMarks(bars: Bars, side: Side, base: number | null, x: Scale, top: number): Mark[] {
  const marks: Mark[] = [];
  const alike = endsOf(bars.alike, side);
  const season = endsOf(bars.season, side);
  const drawn = (ends: [number | null, number | null]) => {
    const all = [ends[0] ?? 0, ends[1] ?? 0, ...(base === null ? [] : [base])];
    return [x.at(Math.min(...all)), x.at(Math.max(...all))] as const;
  };
  if (alike) {
    const [from, to] = drawn(alike);
    marks.push(
      box(from, top + 15, Math.max(1, to - from), 13, {
        fill: 'accent',
        title: said(bars.what, bars.alike!, alike, side),
      }),
    );
  }
  if (season) {
    const [from, to] = drawn(season);
    marks.push(
      box(from, top + 12, Math.max(1, to - from), 19, {
        stroke: 'ink',
        width: 2,
        dash: [5, 3],
        title: said(bars.what, bars.season!, season, side),
      }),
    );
  }
  return marks;
}

const end = (v: number | null): string => (v === null ? w.belowEverywhere : sig(v));

function said(what: string, row: ErrorRow, ends: [number | null, number | null], side: Side): string {
  const unit = side === 'range' ? 'cm' : 'nV/cm';
  return `${w.whatIs(what)}, ${row.change}: ${end(ends[0])} – ${end(ends[1])} ${unit}`;
}

function spoken(bars: readonly Bars[]): string {
  return bars
    .flatMap((b) => {
      const ends = endsOf(b.alike ?? b.season, 'range');
      return ends ? [w.said(w.whatIs(b.what), end(ends[0]), end(ends[1]))] : [];
    })
    .join(' ');
}

function legend(percent: number, width: number, season: boolean): Mark[] {
  const stacked = width < narrow;
  const marks: Mark[] = [box(4, 6, 26, 13, { fill: 'accent' }), text(38, 17, w.each(tickText(percent)))];
  const [x, y] = stacked ? [4, 28] : [200, 5];
  if (season) marks.push(box(x, y, 26, 15, { stroke: 'ink', width: 2, dash: [5, 3] }), text(x + 34, y + 12, w.season));
  return marks;
}

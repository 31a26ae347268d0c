// The currents of a rig's positions against what is wanted, and the current over
// the voltage of the battery.
import type { RigBattery, RigCurrent, RigDocument, RigPosition } from '$lib/api/rig';
import { alike } from '$lib/state/rig-spec';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { box, line, path, polyline, shapeAt, text, type Figure, type Mark } from './picture';
import { linearScale, linearTicks, type Scale } from './scale';

const w = words.rig.currents;
const rowHeight = 40;
/** More rows than this are shown for the chosen pair alone. */
const mostRows = 12;
const narrow = 620;

interface Row {
  position: RigPosition;
  current: RigCurrent;
  /** What 0 % stands for. */
  base: number;
  label: string;
}

/** rowsShown are the rows of the picture: pairs that read alike together, or where there are too many the chosen pair alone. */
export function rowsShown(doc: RigDocument, pair: string): { rows: Row[]; only: boolean } {
  const groups = doc.positions.map((position) => ({ position, groups: alike(position.currents) }));
  const only = groups.reduce((n, g) => n + g.groups.length, 0) > mostRows;
  const rows = groups.flatMap(({ position, groups: all }) =>
    all
      .filter((g) => !only || g.pairs.includes(pair))
      .map(({ pairs, current }) => ({
        position,
        current,
        base: position.wanted_uA ?? current.nominal_uA,
        label: w.row(position.label, all.length > 1 && !only ? pairs.join(', ') : ''),
      })),
  );
  return { rows: rows.filter((r) => r.base > 0), only };
}

const off = (v: number | null | undefined, base: number): number => (v == null ? NaN : (100 * (v - base)) / base);

export function currentsFigure(doc: RigDocument, pair: string, width: number): Figure {
  const { rows } = rowsShown(doc, pair);
  const stacked = width < narrow;
  const keys = keyMarks(width, doc.supply.kind === 'battery', rows);
  const top = keys.height + 8;
  const frame: Frame = {
    left: stacked ? 12 : 150,
    right: width - (stacked ? 12 : 96),
    top,
    bottom: top + rows.length * rowHeight + 6,
  };
  const values = rows.flatMap(({ current: c, base }) =>
    [...c.season_uA, ...c.worst_uA, c.nominal_uA, c.full_uA, c.empty_uA, c.measured_uA].map((v) => off(v, base)),
  );
  const finite = [0, ...values.filter(Number.isFinite)];
  const [low, high] = [Math.min(...finite), Math.max(...finite)];
  const pad = Math.max(0.5, (high - low) * 0.06);
  const x = linearScale([low - pad, high + pad], [frame.left, frame.right]);
  const wanted = rows.every((r) => r.position.wanted_uA !== null);
  const marks: Mark[] = [
    ...keys.marks,
    ...xAxis(frame, x, { label: wanted ? w.axisWanted : w.axisNominal, write: tickText }),
    line(x.at(0), frame.top, x.at(0), frame.bottom, { stroke: 'ink', width: 1.5, dash: [5, 3] }),
  ];
  rows.forEach((row, i) => marks.push(...rowMarks(row, x, frame.top + i * rowHeight, frame, stacked)));
  return {
    name: w.name,
    picture: {
      width,
      height: frame.bottom + 50,
      title: w.figure,
      description: w.description(
        rows
          .map(({ position, current: c }) =>
            w.said(position.label, c.pair, sig(c.nominal_uA), sig(c.worst_uA[0] ?? NaN), sig(c.worst_uA[1] ?? NaN)),
          )
          .join(' '),
      ),
      marks,
    },
    ...currentColumns(doc),
  };
}

function rowMarks(
  { position, current: c, base, label }: Row,
  x: Scale,
  top: number,
  frame: Frame,
  stacked: boolean,
): Mark[] {
  const y = top + 23;
  const at = (v: number | null | undefined) => x.at(off(v, base));
  const marks: Mark[] = [];
  const span = (ends: readonly number[], tall: number, style: Parameters<typeof box>[4]) => {
    const [a, b] = [at(ends[0]), at(ends[1])];
    if (Number.isFinite(a) && Number.isFinite(b)) marks.push(box(a, y - tall / 2, Math.max(1.5, b - a), tall, style));
  };
  const between = (ends: readonly number[]) => w.uA(`${sig(ends[0] ?? NaN)} – ${sig(ends[1] ?? NaN)}`);
  span(c.season_uA, 6, { fill: 'line', stroke: 'edge', width: 1, title: `${w.season}: ${between(c.season_uA)}` });
  span(c.worst_uA, 16, { fill: 'wash', stroke: 'accent', width: 1.5, title: `${w.worst}: ${between(c.worst_uA)}` });
  span(c.drawn_uA, 9, { fill: 'accent', title: `${w.drawn}: ${between(c.drawn_uA)}` });
  for (const [v, said] of [
    [c.empty_uA, w.empty],
    [c.full_uA, w.full],
  ] as const) {
    const to = at(v);
    if (v != null && Number.isFinite(to))
      marks.push(line(to, y - 8, to, y + 8, { stroke: 'ink', width: 2, title: `${said}: ${w.uA(sig(v))}` }));
  }
  const nominal = at(c.nominal_uA);
  if (Number.isFinite(nominal))
    marks.push(
      path(shapeAt('diamond', nominal, y, 6), {
        fill: 'paper',
        stroke: 'ink',
        width: 2,
        title: `${w.nominal}: ${w.uA(sig(c.nominal_uA))}`,
      }),
    );
  if (c.measured_uA !== null) {
    const to = at(c.measured_uA);
    const said = w.measuredOn(sig(c.measured_uA), c.measured_on ?? '');
    const end = to > (frame.left + frame.right) / 2;
    marks.push(
      path(shapeAt('circle', to, y, 5.5), {
        fill: 'species-2',
        stroke: 'paper',
        width: 1,
        title: `${w.measured}: ${said}`,
      }),
      text(to + (end ? -10 : 10), y - 10, said, { size: 12, halo: true, anchor: end ? 'end' : 'start' }),
    );
  }
  if (stacked) marks.push(text(frame.left, top + 10, `${label}: ${w.uA(sig(c.used_uA))}`, { size: 13, halo: true }));
  else {
    marks.push(
      text(frame.left - 12, y + 5, label, { anchor: 'end' }),
      text(frame.right + 10, y + 5, w.uA(sig(position.currents.length > 0 ? c.used_uA : base)), { bold: true }),
    );
  }
  return marks;
}

function keyMarks(width: number, battery: boolean, rows: readonly Row[]): { marks: Mark[]; height: number } {
  const entries: [string, (x: number, y: number) => Mark[]][] = [
    [w.nominal, (x, y) => [path(shapeAt('diamond', x + 12, y, 6), { fill: 'paper', stroke: 'ink', width: 2 })]],
    [w.drawn, (x, y) => [box(x, y - 4.5, 26, 9, { fill: 'accent' })]],
    [w.worst, (x, y) => [box(x, y - 8, 26, 16, { fill: 'wash', stroke: 'accent', width: 1.5 })]],
  ];
  if (battery) {
    entries.push(
      [w.season, (x, y) => [box(x, y - 3, 26, 6, { fill: 'line', stroke: 'edge', width: 1 })]],
      [`${w.empty}, ${w.full}`, (x, y) => [line(x + 12, y - 8, x + 12, y + 8, { stroke: 'ink', width: 2 })]],
    );
  }
  if (rows.some((r) => r.position.wanted_uA !== null))
    entries.push([
      w.wanted,
      (x, y) => [line(x + 12, y - 9, x + 12, y + 9, { stroke: 'ink', width: 1.5, dash: [5, 3] })],
    ]);
  if (rows.some((r) => r.current.measured_uA !== null))
    entries.push([w.measured, (x, y) => [path(shapeAt('circle', x + 12, y, 5.5), { fill: 'species-2' })]]);
  const marks: Mark[] = [];
  let [x, y] = [4, 12];
  for (const [said, draw] of entries) {
    const room = 34 + said.length * 7 + 18;
    if (x > 4 && x + room > width) [x, y] = [4, y + 24];
    marks.push(...draw(x, y), text(x + 34, y + 5, said, { size: 13 }));
    x += room;
  }
  return { marks, height: y + 16 };
}

/** currentColumns is the switch table as a file. */
export function currentColumns(doc: RigDocument): Pick<Figure, 'columns' | 'rows'> {
  return {
    columns: [
      ...['position', 'step', 'chain_ohm', 'pair', 'wanted_uA', 'nominal_uA', 'error_percent'],
      ...['drawn_low_uA', 'drawn_high_uA', 'worst_low_uA', 'worst_high_uA', 'full_uA', 'empty_uA'],
      ...['season_low_uA', 'season_high_uA', 'measured_uA', 'measured_on', 'used_uA'],
    ],
    rows: doc.positions.flatMap((p) =>
      p.currents.map((c) => [
        ...[p.label, p.step_text, p.chain_ohm, c.pair, p.wanted_uA, c.nominal_uA, c.error_percent],
        ...[c.drawn_uA[0], c.drawn_uA[1], c.worst_uA[0], c.worst_uA[1], c.full_uA, c.empty_uA],
        ...[c.season_uA[0], c.season_uA[1], c.measured_uA, c.measured_on ?? '', c.used_uA],
      ]),
    ),
  };
}

/** chargeFigure draws the current at the largest position as the battery empties. */
export function chargeFigure(battery: RigBattery, wanted: number | null, width: number): Figure {
  const b = words.rig.battery;
  const points = battery.charge;
  const frame: Frame = { left: 56, right: width - 16, top: 34, bottom: 250 };
  const volts = points.map((p) => p.voltage_V);
  const currents = [...points.map((p) => p.current_uA), ...(wanted === null ? [] : [wanted])];
  const [lowV, highV] = [Math.min(...volts), Math.max(...volts)];
  const pad = Math.max(0.05, (highV - lowV) * 0.04);
  // Full at the left: the day runs to the right.
  const x = linearScale([lowV - pad, highV + pad], [frame.right, frame.left]);
  const most = Math.max(...currents) * 1.1;
  const y = linearScale([0, most], [frame.bottom, frame.top]);
  const marks: Mark[] = [
    ...xAxis(frame, x, { label: b.axisV, write: tickText, ticks: linearTicks(x.domain, 6).reverse() }),
    ...yAxis(frame, y, { label: b.axisUA, write: tickText }),
  ];
  if (wanted !== null) {
    marks.push(
      line(frame.left, y.at(wanted), frame.right, y.at(wanted), { stroke: 'ink', width: 1.5, dash: [5, 3] }),
      text(frame.right - 4, y.at(wanted) - 7, b.wanted, { anchor: 'end', size: 13, halo: true }),
    );
  }
  const [xs, ys] = [points.map((p) => x.at(p.voltage_V)), points.map((p) => y.at(p.current_uA))];
  marks.push(path(polyline(xs, ys), { stroke: 'accent', width: 2.5 }));
  points.forEach((p, i) =>
    marks.push(
      path(shapeAt('circle', xs[i]!, ys[i]!, 4), {
        fill: 'accent',
        stroke: 'paper',
        width: 1,
        title: `${tickText(p.voltage_V)} V: ${sig(p.current_uA)} µA`,
      }),
    ),
  );
  const [first, last] = [points[0], points.at(-1)];
  if (first && last && first !== last) {
    marks.push(
      text(x.at(last.voltage_V) - 6, y.at(last.current_uA) + 24, `${tickText(last.change_percent)} %`, {
        anchor: 'end',
        bold: true,
        halo: true,
      }),
    );
  }
  return {
    name: b.name,
    picture: {
      width,
      height: frame.bottom + 50,
      title: b.figure,
      description: b.description(
        sig(first?.current_uA ?? NaN),
        sig(last?.current_uA ?? NaN),
        tickText(last?.change_percent ?? 0),
      ),
      marks,
    },
    columns: ['voltage_V', 'current_uA', 'change_percent'],
    rows: points.map((p) => [p.voltage_V, p.current_uA, p.change_percent]),
  };
}

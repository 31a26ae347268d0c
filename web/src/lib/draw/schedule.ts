// What a schedule draws: days as rows, trials as columns, spare draws apart.
import type { Drawn, DrawnSchedule } from '$lib/state/schedule-plan';
import { words } from '$lib/words';
import { tickText } from '$lib/words/numbers';
import { box, circleAt, line, path, shapeAt, text, type Figure, type Mark, type Paint } from './picture';

const w = words.schedule.picture;
const left = 62;
const cellHeight = 36;
const leastCell = 27;
const mostCell = 58;
/** A row of trials where nobody said how many a day has. */
const anyRow = 12;
/** More days than these are counted, not drawn: the file of the figure has all. */
const mostRows = 60;

/** The shades of the pairs: from near the paper to where ink can still be read on them. */
const shades: readonly Paint[] = ['field-1', 'field-2', 'field-3', 'field-4', 'field-5'];
export const pairPaint = (i: number, of: number): Paint =>
  shades[Math.round((Math.max(0, i) * (shades.length - 1)) / Math.max(1, of - 1))] ?? 'field-5';

/** short keeps a label within its cell. */
export const short = (label: string, width: number): string => {
  const room = Math.max(1, Math.floor((width - 6) / 9));
  return label.length <= room ? label : `${label.slice(0, Math.max(1, room - 1))}…`;
};

export function scheduleFigure(shown: DrawnSchedule, width: number): Figure {
  const days = shown.perDay > 0;
  const aRow = Math.max(1, days ? shown.perDay : anyRow);
  const fits = Math.max(1, Math.floor((width - left - 4) / leastCell));
  const columns = Math.min(aRow, fits);
  const cell = Math.min(mostCell, (width - left - 4) / columns);
  const marks: Mark[] = [text(4, 16, shown.example ? w.example : w.real, { bold: true, fill: exampleInk(shown) })];
  let y = keyMarks(shown, width, 28, marks);
  y += 20;
  if (days)
    for (let i = 0; i < columns; i++)
      if (columns <= 12 || i % 5 === 4 || i === 0)
        marks.push(text(left + (i + 0.5) * cell, y, String(i + 1), { anchor: 'middle', fill: 'soft', size: 13 }));
  if (days) marks.push(text(4, y, w.columns, { fill: 'soft', size: 13 }));
  y += 6;
  const put = (list: readonly Drawn[], from: number, name: (row: number) => string): number => {
    const rows = Math.ceil(list.length / aRow);
    for (let row = 0; row < Math.min(rows, mostRows); row++) {
      marks.push(text(left - 8, from + 23, name(row), { anchor: 'end', fill: 'soft', size: 13 }));
      const trials = list.slice(row * aRow, (row + 1) * aRow);
      trials.forEach((t, i) => {
        const x = left + (i % columns) * cell;
        const top = from + Math.floor(i / columns) * cellHeight;
        marks.push(...cellMarks(t, shown, x, top, cell));
        const at = row * aRow + i;
        if (list === shown.trials && shown.block > 0 && at > 0 && at % shown.block === 0)
          marks.push(line(x, top - 1, x, top + cellHeight - 3, { stroke: 'ink', width: 3 }));
      });
      from += Math.ceil(trials.length / columns) * cellHeight;
    }
    if (rows > mostRows) {
      marks.push(text(left, from + 18, w.more(rows - mostRows), { fill: 'soft' }));
      from += 26;
    }
    return from;
  };
  y = put(shown.trials, y, (row) => (days ? w.day(row + 1) : (shown.trials[row * aRow]?.trial ?? '')));
  if (shown.spare.length > 0) {
    y += 26;
    marks.push(text(4, y, w.spare, { fill: 'soft', size: 13 }));
    y = put(shown.spare, y + 8, (row) => shown.spare[row * aRow]?.trial ?? '');
  }
  return {
    name: shown.example ? w.exampleName : w.name,
    picture: {
      width,
      height: Math.ceil(y + 6),
      title: shown.example ? w.exampleTitle : w.title,
      description: describe(shown),
      marks,
    },
    ...scheduleColumns(shown),
  };
}

const exampleInk = (shown: DrawnSchedule): Paint => (shown.example ? 'caution' : 'ink');

function cellMarks(t: Drawn, shown: DrawnSchedule, x: number, top: number, cell: number): Mark[] {
  const tall = cellHeight - 4;
  const wide = cell - 3;
  const [cx, title] = [x + wide / 2, w.trial(t)];
  const levels = shown.currentsUA.length > 1 || shown.drawPolarity;
  const current = levels && t.currentUA !== null ? tickText(t.currentUA) : '';
  const fill: Paint =
    t.kind === 'active'
      ? pairPaint(shown.pairs.indexOf(t.pair), shown.pairs.length)
      : t.kind === 'sealed'
        ? 'sunk'
        : 'paper';
  const frame = { fill, stroke: 'edge' as Paint, width: 1, title };
  const marks: Mark[] = [
    box(x, top, wide, tall, t.kind === 'active' || t.kind === 'sealed' ? frame : { ...frame, dash: [3, 2] }),
  ];
  const middle = top + (current ? 14 : tall / 2 + 5);
  if (t.kind === 'active')
    marks.push(text(cx, middle, short(t.pair, wide), { anchor: 'middle', bold: true, size: 14 }));
  else if (t.kind === 'silent') marks.push(path(circleAt(cx, middle - 5, 4.5), { stroke: 'ink', width: 1.5 }));
  else if (t.kind === 'sham') marks.push(path(shapeAt('triangle', cx, middle - 5, 5), { stroke: 'ink', width: 1.5 }));
  else if (t.kind === 'sealed') marks.push(text(cx, middle, w.unknown, { anchor: 'middle', fill: 'soft' }));
  if (current)
    marks.push(
      text(cx, top + tall - 4, current, {
        anchor: 'middle',
        size: 12,
        ...(t.kind === 'active' ? {} : { fill: 'soft' }),
      }),
    );
  if (t.kind !== 'sealed' && !t.odour) marks.push(...noOdour(x + wide - 6, top + 6));
  return marks;
}

/** noOdour is a small drop that is struck out. */
const noOdour = (x: number, y: number): Mark[] => [
  path(circleAt(x, y, 3.4), { fill: 'paper', stroke: 'ink', width: 1.2 }),
  line(x - 4.5, y + 4.5, x + 4.5, y - 4.5, { stroke: 'ink', width: 1.6 }),
];

/** keyMarks says what each mark means, and gives where it ends. */
function keyMarks(shown: DrawnSchedule, width: number, top: number, marks: Mark[]): number {
  const all = [...shown.trials, ...shown.spare];
  const entries: [string, (x: number, y: number) => Mark[]][] = shown.pairs
    .slice(0, 12)
    .map((pair, i) => [
      w.pair(pair.slice(0, 16)),
      (x, y) => [
        box(x, y - 9, 22, 18, { fill: pairPaint(i, shown.pairs.length), stroke: 'edge', width: 1 }),
        text(x + 11, y + 5, short(pair, 22), { anchor: 'middle', bold: true, size: 13 }),
      ],
    ]);
  if (all.some((t) => t.kind === 'silent'))
    entries.push([w.silent, (x, y) => [path(circleAt(x + 11, y, 4.5), { stroke: 'ink', width: 1.5 })]]);
  if (all.some((t) => t.kind === 'sham'))
    entries.push([w.sham, (x, y) => [path(shapeAt('triangle', x + 11, y, 5), { stroke: 'ink', width: 1.5 })]]);
  if (all.some((t) => t.kind !== 'sealed' && !t.odour)) entries.push([w.noOdour, (x, y) => noOdour(x + 11, y)]);
  if (all.some((t) => t.kind === 'sealed'))
    entries.push([w.sealed, (x, y) => [text(x + 11, y + 5, w.unknown, { anchor: 'middle', fill: 'soft' })]]);
  if (shown.block > 0 && shown.block < shown.trials.length)
    entries.push([w.block, (x, y) => [line(x + 11, y - 9, x + 11, y + 9, { stroke: 'ink', width: 3 })]]);
  let [x, y] = [4, top + 14];
  for (const [said, draw] of entries) {
    const room = 28 + said.length * 7.4 + 14;
    if (x > 4 && x + room > width) [x, y] = [4, y + 26];
    marks.push(...draw(x, y), text(x + 28, y + 5, said, { size: 13 }));
    x += room;
  }
  return y + 12;
}

function describe(shown: DrawnSchedule): string {
  const count = (kind: string) => shown.trials.filter((t) => t.kind === kind).length;
  const pairs = shown.pairs.map((p) => w.ofPair(p, shown.trials.filter((t) => t.pair === p).length));
  return w.description(shown.example, shown.trials.length, pairs.join(', '), {
    silent: count('silent'),
    sham: count('sham'),
    sealed: count('sealed'),
    spare: shown.spare.length,
  });
}

/** scheduleColumns is the schedule as a file; an example says so in every row. */
function scheduleColumns(shown: DrawnSchedule): Pick<Figure, 'columns' | 'rows'> {
  const row = (spare: boolean) => (t: Drawn, i: number) => [
    ...(shown.example ? [w.example] : []),
    ...[t.trial, spare, !spare && shown.perDay > 0 ? Math.floor(i / shown.perDay) + 1 : null],
    ...[!spare && shown.block > 0 ? Math.floor(i / shown.block) + 1 : null],
    ...[t.kind, t.kind === 'active' ? t.pair : t.kind === 'sealed' ? '' : 'none', t.currentUA],
    t.kind === 'sealed' ? null : t.odour,
  ];
  return {
    columns: [
      ...(shown.example ? ['note'] : []),
      ...['trial', 'spare', 'day', 'block', 'kind', 'active_pair', 'current_uA', 'odour'],
    ],
    rows: [...shown.trials.map(row(false)), ...shown.spare.map(row(true))],
  };
}

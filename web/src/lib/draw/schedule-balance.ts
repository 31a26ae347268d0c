// How even a draw came out: trials of each pair over currents, polarity, days
// and the time of day.
import type { ScheduleBalance, PairBalance } from '$lib/api/schedule';
import { words } from '$lib/words';
import { tickText } from '$lib/words/numbers';
import { short } from './schedule';
import { box, line, text, type Figure, type Mark } from './picture';

const w = words.schedule.balance;
const left = 62;
const rowHeight = 38;
const bar = 20;
/** So many columns can still be told apart. */
const mostColumns = 60;

interface Panel {
  title: string;
  columns: string[];
  of: (p: PairBalance) => readonly number[];
}

export interface BalanceOf {
  balance: ScheduleBalance;
  currentsUA: readonly number[];
  drawPolarity: boolean;
  example: boolean;
}

export function balanceFigure({ balance, currentsUA, drawPolarity, example }: BalanceOf, width: number): Figure {
  const panels = panelsOf(balance, currentsUA, drawPolarity);
  const marks: Mark[] = [];
  let y = 8;
  if (example) {
    marks.push(text(4, 16, words.schedule.picture.example, { bold: true, fill: 'caution' }));
    y = 30;
  }
  for (const panel of panels) y = panelMarks(panel, balance, width, y, marks) + 22;
  return {
    name: example ? w.exampleName : w.name,
    picture: {
      width,
      height: Math.ceil(y),
      title: example ? w.exampleTitle : w.title,
      description: w.description(balance.pairs.map((p) => words.schedule.picture.ofPair(p.pair, p.trials)).join(', ')),
      marks,
    },
    columns: [...(example ? ['note'] : []), 'pair', 'over', 'of', 'trials'],
    rows: panels.flatMap((panel) =>
      balance.pairs.flatMap((p) =>
        panel
          .of(p)
          .map((n, i) => [
            ...(example ? [words.schedule.picture.example] : []),
            ...[p.pair, panel.title, panel.columns[i] ?? '', n],
          ]),
      ),
    ),
  };
}

function panelsOf(balance: ScheduleBalance, currentsUA: readonly number[], drawPolarity: boolean): Panel[] {
  const panels: Panel[] = [
    { title: w.currents, columns: currentsUA.map((c) => `${tickText(c)} µA`), of: (p) => p.by_current },
  ];
  if (drawPolarity)
    panels.push({
      title: w.polarity,
      columns: [w.forward, w.reversed],
      of: (p) => [p.trials - p.reversed, p.reversed],
    });
  const [days, times] = [balance.pairs[0]?.by_day?.length ?? 0, balance.pairs[0]?.by_time?.length ?? 0];
  const numbered = (n: number) => Array.from({ length: n }, (_, i) => String(i + 1));
  if (days > 0) panels.push({ title: w.days, columns: numbered(days), of: (p) => p.by_day ?? [] });
  if (times > 0) panels.push({ title: w.times, columns: numbered(times), of: (p) => p.by_time ?? [] });
  return panels;
}

function panelMarks(panel: Panel, balance: ScheduleBalance, width: number, top: number, marks: Mark[]): number {
  const shown = Math.min(panel.columns.length, mostColumns);
  const said = shown < panel.columns.length ? w.first(panel.title, shown) : panel.title;
  marks.push(text(4, top + 14, said, { bold: true, size: 13 }));
  const cell = Math.min(92, (width - left - 4) / Math.max(1, shown));
  const most = Math.max(1, ...balance.pairs.flatMap((p) => panel.of(p).slice(0, shown)));
  let y = top + 22;
  for (const p of balance.pairs) {
    const base = y + rowHeight - 3;
    marks.push(
      text(left - 8, base - 3, short(p.pair, left - 12), { anchor: 'end', bold: true, size: 13 }),
      line(left, base, left + shown * cell, base, { stroke: 'edge', width: 1 }),
    );
    for (const [i, n] of panel.of(p).slice(0, shown).entries()) {
      const tall = (bar * n) / most;
      const title = w.one(p.pair, panel.title, panel.columns[i] ?? '', n);
      if (n > 0)
        marks.push(box(left + i * cell + 1, base - tall, Math.max(1, cell - 3), tall, { fill: 'accent', title }));
      if (cell >= 16)
        marks.push(text(left + (i + 0.5) * cell - 0.5, base - tall - 2, String(n), { anchor: 'middle', size: 11 }));
    }
    y += rowHeight;
  }
  const every = Math.max(1, Math.ceil((Math.max(...panel.columns.map((c) => c.length)) * 7 + 8) / cell));
  for (let i = 0; i < shown; i += every)
    marks.push(
      text(left + (i + 0.5) * cell - 0.5, y + 15, panel.columns[i] ?? '', { anchor: 'middle', fill: 'soft', size: 12 }),
    );
  return y + 18;
}

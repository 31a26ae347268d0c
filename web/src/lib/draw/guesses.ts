// Hits of the guesses beside the hits that chance alone gives: one row a scorer.
import type { GuessTest } from '$lib/api/schedule';
import { named } from '$lib/state/blinding';
import { words } from '$lib/words';
import { pValue, sig, tickText, whole } from '$lib/words/numbers';
import { xAxis, type Frame } from './axes';
import { line, path, shapeAt, text, type Figure, type Mark } from './picture';
import { linearScale, linearTicks } from './scale';

const w = words.blinding.hits;
const rowHeight = 44;

export function guessesFigure(tests: readonly GuessTest[], width: number): Figure {
  const left = Math.min(180, Math.round(width * 0.36));
  const frame: Frame = { left, right: width - 84, top: 44, bottom: 50 + tests.length * rowHeight };
  const most = Math.max(1, ...tests.map((t) => t.guesses));
  const x = linearScale([0, most], [frame.left, frame.right]);
  const ticks = linearTicks([0, most]).filter((t) => Number.isInteger(t.value));
  const marks: Mark[] = [...xAxis(frame, x, { write: tickText, label: w.axis, ticks }), ...legend(frame)];
  tests.forEach((t, i) => {
    const y = frame.top + 6 + (i + 0.5) * rowHeight;
    const at = x.at(t.hits);
    marks.push(text(0, y + 5, short(t.by === 'all' ? w.all : t.by, left), { bold: t.by === 'all' }));
    // All guesses of the row, so that hits are seen as a share of them.
    marks.push(line(x.at(0), y, x.at(t.guesses), y, { stroke: 'line', width: 6 }));
    if (t.expected !== null) {
      const chance = x.at(t.expected);
      marks.push(
        line(chance, y, at, y, { stroke: 'edge', width: 2 }),
        path(shapeAt('diamond', chance, y, 7), { fill: 'paper', stroke: 'ink', width: 2.5 }),
      );
    }
    marks.push(
      path(shapeAt('circle', at, y, 7), { fill: 'accent', stroke: 'paper', width: 1 }),
      text(at, y - 12, `${whole(t.hits)}/${whole(t.guesses)}`, {
        anchor: 'middle',
        fill: 'accent',
        bold: true,
        halo: true,
      }),
      text(width, y + 5, t.p === null ? w.notEstimable : `p ${t.p < 0.0001 ? '' : '= '}${pValue(t.p)}`, {
        anchor: 'end',
        fill: 'soft',
      }),
    );
  });
  return {
    name: w.name,
    picture: { width, height: frame.bottom + 52, title: w.pictureTitle, description: describe(tests), marks },
    columns: ['by', 'guesses', 'named', 'hits', 'expected', 'p', 'not_estimable'],
    rows: tests.map((t) => [t.by, t.guesses, named(t), t.hits, t.expected, t.p, t.not_estimable]),
  };
}

const describe = (tests: readonly GuessTest[]): string =>
  [
    w.description,
    ...tests.map(
      (t) =>
        `${t.by === 'all' ? w.all : t.by}: ${t.hits} ${w.hits}, ${t.expected === null ? w.notEstimable : sig(t.expected, 2)} ${w.expected}.`,
    ),
  ].join(' ');

/** short keeps a long name within its column. */
const short = (name: string, room: number): string => {
  const most = Math.max(4, Math.floor(room / 8.5));
  return name.length > most ? `${name.slice(0, most - 1)}…` : name;
};

function legend(frame: Frame): Mark[] {
  const y = 14;
  return [
    path(shapeAt('circle', frame.left + 6, y, 6.5), { fill: 'accent' }),
    text(frame.left + 20, y + 5, w.hits),
    path(shapeAt('diamond', frame.left + 74, y, 6.5), { fill: 'paper', stroke: 'ink', width: 2.5 }),
    text(frame.left + 88, y + 5, w.expected),
  ];
}

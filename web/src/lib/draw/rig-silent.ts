// What flows through the silent pairs, by what the switch does with them, beside
// the driven current.
import type { RigDocument, RigSilent } from '$lib/api/rig';
import { currentText, percentText } from '$lib/state/rig-spec';
import { words } from '$lib/words';
import { sig } from '$lib/words/numbers';
import { xAxis, type Frame } from './axes';
import { box, line, path, shapeAt, text, type Figure, type Mark } from './picture';
import { logScale } from './scale';

const w = words.rig.silent;
const order = ['open_both', 'open_one', 'closed'];
const rowHeight = 32;
const narrow = 620;
/** Less than this share of the driven current is drawn at the left edge. */
const smallest = 1e-7;

/** silentGroups are the pairs with their three states, in one order. */
export function silentGroups(doc: RigDocument): { pair: string; states: RigSilent[] }[] {
  const names = [...new Set(doc.silent.map((s) => s.pair))];
  return names.map((pair) => ({
    pair,
    states: doc.silent.filter((s) => s.pair === pair).sort((a, b) => order.indexOf(a.state) - order.indexOf(b.state)),
  }));
}

export function silentFigure(doc: RigDocument, width: number): Figure {
  const groups = silentGroups(doc);
  const stacked = width < narrow;
  const driven = Math.max(0, ...doc.silent.map((s) => s.driven_uA));
  const values = doc.silent.flatMap((s) => [s.largest_uA, s.drive_uA, s.offset_uA]).filter((v) => v > 0);
  const high = Math.max(driven, ...values, 1e-3) * 3;
  const low = Math.max(Math.min(driven * 1e-3, ...values) / 3, Math.max(driven, 1e-3) * smallest);
  const tall = stacked ? rowHeight + 14 : rowHeight;
  const top = 58;
  const rows = groups.reduce((n, g) => n + g.states.length, 0) + groups.length * 0.75;
  const frame: Frame = {
    left: stacked ? 10 : 208,
    right: width - (stacked ? 10 : 160),
    top,
    bottom: top + rows * tall + 4,
  };
  const x = logScale([low, high], [frame.left, frame.right]);
  const marks: Mark[] = [...xAxis(frame, x, { label: w.axis, write: decade })];
  for (const [v, said, dash, y] of [
    [driven, w.driven, [] as number[], 40],
    [driven / 100, w.onePercent, [5, 3], 22],
  ] as const) {
    if (v <= low) continue;
    marks.push(line(x.at(v), y + 6, x.at(v), frame.bottom, { stroke: 'ink', width: 2, dash }));
    const end = x.at(v) > (frame.left + frame.right) / 2;
    marks.push(text(x.at(v) + (end ? -6 : 6), y + 3, said, { size: 13, anchor: end ? 'end' : 'start', halo: true }));
  }
  let y = frame.top;
  for (const { pair, states } of groups) {
    marks.push(text(stacked ? frame.left : 8, y + 16, pair, { bold: true, halo: true }));
    y += tall * 0.75;
    for (const s of states) {
      marks.push(...stateMarks(s, { y: y + tall - rowHeight / 2, low, frame, stacked, at: x.at }));
      y += tall;
    }
  }
  return {
    name: w.name,
    picture: {
      width,
      height: frame.bottom + 50,
      title: w.figure,
      description: w.description(doc.silent.map((s) => said(s)).join(' ')),
      marks,
    },
    columns: ['pair', 'state', 'chosen', 'driven_pair', 'driven_uA', 'drive_uA', 'offset_uA', 'largest_uA', 'percent'],
    rows: doc.silent.map((s) => [
      ...[s.pair, s.state, s.chosen, s.driven_pair, s.driven_uA, s.drive_uA, s.offset_uA, s.largest_uA, s.percent],
    ]),
  };
}

const said = (s: RigSilent): string =>
  w.said(s.pair, w.state(s.state), currentText(s.largest_uA, 2), percentText(s.percent));

const decade = (v: number): string =>
  v >= 1e-3 && v <= 1e4 ? String(Number(v.toPrecision(2))) : sig(v, 1).replace(/^1\u202f×\u202f/, '');

interface Place {
  y: number;
  low: number;
  frame: Frame;
  stacked: boolean;
  at: (v: number) => number;
}

function stateMarks(s: RigSilent, { y, low, frame, stacked, at }: Place): Mark[] {
  const marks: Mark[] = [];
  const bold = s.chosen;
  const name = s.chosen ? `${w.state(s.state)} (${w.chosen})` : w.state(s.state);
  marks.push(
    stacked
      ? text(frame.left, y - 12, `${name}: ${currentText(s.largest_uA, 2)}`, {
          size: 13,
          bold,
          halo: true,
        })
      : text(frame.left - 12, y + 5, name, { anchor: 'end', bold, size: 13 }),
  );
  const title = said(s);
  if (s.largest_uA > low) {
    const to = at(s.largest_uA);
    marks.push(
      box(frame.left, y - 6, Math.max(2, to - frame.left), 12, {
        fill: s.second_pair ? 'species-2' : 'accent',
        title,
      }),
    );
    // Not by colour alone: a second live pair ends in a flag.
    if (s.second_pair) marks.push(path(shapeAt('flag', to + 9, y, 8), { fill: 'species-2', title }));
  } else {
    marks.push(path(`M${frame.left + 9} ${y - 6}l-8 6l8 6`, { stroke: 'accent', width: 2.5, title }));
  }
  if (!stacked) {
    marks.push(
      text(frame.right + 14, y + 5, w.amount(currentText(s.largest_uA, 2), percentText(s.percent)), { size: 13, bold }),
    );
  }
  return marks;
}

// The lower half of the circuit: pair switch, cables, pairs in the water.
import type { RigDocument, RigSpec } from '$lib/api/rig';
import { ohmText } from '$lib/state/rig-spec';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import { fitting, heights, type CircuitChoice, type Pen } from './circuit-pen';
import { box, circleAt, line, path, px } from './picture';

const w = words.rig.circuit;
const { busPlus, busMinus, foot } = heights;
const mostPairs = 4;
const switchTop = 342;
const switchFoot = 376;
const cableTop = 402;
const waterTop = 492;

/** pairs draws the pair switch, the cables and the pairs in the water. */
export function pairs(pen: Pen, spec: RigSpec, doc: RigDocument, choice: CircuitChoice, right: number): void {
  const driven = spec.pairs.find((p) => p.label === choice.pair) ?? spec.pairs[0];
  const silent = spec.pairs.filter((p) => p !== driven);
  const shown = spec.pairs.filter((p) => p === driven || silent.indexOf(p) < mostPairs - 1);
  const room = (right - 30) / Math.max(1, shown.length);
  const onPlate = spec.electrodes.on === 'plate';
  const waterFoot = foot - 6;
  pen.wires.unshift(
    box(10, waterTop, right + 2, waterFoot - waterTop, { fill: 'wash' }),
    path(wave(10, right + 12, waterTop), { stroke: 'edge', width: 1.25 }),
  );
  if (onPlate) {
    pen.wires.push(line(18, waterTop + 74, right + 4, waterTop + 74, { stroke: 'edge', width: 3 }));
    pen.say(22, waterTop + 90, w.plate, { fill: 'soft', size: 12 });
  }
  pen.say(right + 4, waterFoot - 6, w.waterIs(sig(doc.water_S_per_m)), { anchor: 'end', fill: 'soft', size: 12 });
  const tight = room < 240;
  const gap = tight ? 36 : 56;
  const columns = shown.map((pair, i) => ({
    pair,
    x: (tight ? 52 : 26 + Math.min(room / 2 - 20, 74)) + room * i,
    live: pair === driven,
  }));
  const first = columns[0];
  const live = columns.find((c) => c.live);
  if (!first || !live) return;
  // The rails; the part that carries current is heavier.
  pen.wire(false, [first.x, busPlus], [live.x, busPlus]);
  pen.wire(false, [first.x + gap, busMinus], [live.x + gap, busMinus]);
  pen.wire(true, [live.x, busPlus], [right, busPlus]);
  pen.wire(true, [live.x + gap, busMinus], [right - 22, busMinus]);
  for (const { pair, x, live } of columns) {
    onePair(pen, spec, doc, { x, gap, live, first: x === first.x, label: pair.label, room });
  }
  pen.say(first.x - 34, busPlus + 4, w.plus, { bold: true, size: 15 });
  pen.say(first.x - 34, busMinus + 4, w.minus, { bold: true, size: 15 });
  if (shown.length < spec.pairs.length) {
    pen.say(76, waterTop + 90, w.more(spec.pairs.length - shown.length), { size: 12 });
  }
}

interface Column {
  x: number;
  gap: number;
  live: boolean;
  first: boolean;
  label: string;
  /** Pixels from one pair to the next. */
  room: number;
}

function onePair(pen: Pen, spec: RigSpec, doc: RigDocument, c: Column): void {
  const { x, gap, live } = c;
  const state = live ? 'driven' : spec.silent;
  const [plus, minus] = [x, x + gap];
  const middle = x + gap / 2;
  for (const [leg, from] of [
    [plus, busPlus],
    [minus, busMinus],
  ] as const) {
    pen.wire(live, [leg, from], [leg, switchTop]);
    pen.dot(live, leg, from);
    const closed = live || (state === 'open_one' && leg === minus);
    if (closed) pen.wire(live, [leg, switchTop], [leg, switchFoot]);
    else if (state === 'closed') pen.wire(false, [leg, switchFoot], [middle, switchFoot - 12]);
    else pen.wire(false, [leg, switchFoot], [leg + 18, switchTop + 6]);
    pen.contact(live, leg, switchTop);
    pen.contact(live, leg, switchFoot);
    const end = waterTop + (spec.electrodes.on === 'plate' ? 68 : 40);
    pen.wire(live, [leg, switchFoot + 4], [leg, end]);
    pen.resistor(live, leg, cableTop + 26, true);
    if (spec.electrodes.bridge) pen.resistor(live, leg, waterTop + 22, true);
    electrode(pen, spec, leg, end, live);
    pen.say(leg + (leg === plus ? -16 : 16), end + 2, leg === plus ? w.plus : w.minus, {
      anchor: 'middle',
      bold: true,
      size: 15,
    });
  }
  if (state === 'closed') pen.dot(false, middle, switchFoot - 12);
  else {
    // The two poles move together.
    pen.wires.push(
      line(plus + (live ? 2 : 10), (switchTop + switchFoot) / 2, minus - 2, (switchTop + switchFoot) / 2, {
        stroke: 'soft',
        width: 1.25,
        dash: [3, 3],
      }),
    );
  }
  const side = minus + (gap < 50 ? 22 : 26);
  const name = fitting(c.label, c.room - gap - 100);
  const facts = doc.electrodes.find((e) => e.pair === c.label);
  pen.say(side, switchTop + 8, live ? w.driven(name) : w.silent(name), { bold: live, size: 14 });
  if (!live) pen.say(side, switchTop + 25, w.state(spec.silent), { fill: 'soft' });
  if (c.first) {
    const tight = gap < 50;
    const core = tight ? coreText(spec).split(', ') : [coreText(spec)];
    const said = [w.cableIs(tickText(spec.cable.length_m)), ...core, w.leg(ohmText(doc.cable.leg_ohm, 3))];
    said.forEach((l, i) => pen.say(side, cableTop + 10 + i * 16, l, { fill: 'soft', size: tight ? 12 : 13 }));
  }
  // Through the water between the two electrodes.
  const y = waterTop + (spec.electrodes.on === 'plate' ? 50 : 40);
  const inset = spec.electrodes.on === 'plate' ? 12 : 14;
  pen.wires.push(
    path(`M${px(plus + inset)} ${y}L${px(minus - inset)} ${y}`, {
      stroke: live ? 'accent' : 'soft',
      width: live ? 2.5 : 1.25,
      dash: [3, 3],
    }),
  );
  if (facts) {
    const bridges = facts.bridge_ohm > 0 ? [w.bridge, ohmText(facts.bridge_ohm, 3)] : [];
    bridges.forEach((l, i) => pen.say(side, waterTop + 18 + i * 14, l, { size: 12 }));
    pen.say(side, waterTop + 54, w.water(ohmText(facts.pair_ohm - 2 * facts.bridge_ohm, 3)), { size: 12 });
  }
}

function electrode(pen: Pen, spec: RigSpec, x: number, y: number, live: boolean): void {
  const fill = live ? 'accent' : 'ink';
  const r = 8;
  if (spec.electrodes.shape === 'sphere') pen.parts.push(path(circleAt(x, y, r), { fill }));
  else if (spec.electrodes.shape === 'hemisphere')
    pen.parts.push(path(`M${px(x - r)} ${y + 4}a${r} ${r} 0 0 1 ${2 * r} 0z`, { fill }));
  else pen.parts.push(box(x - 11, y - 1, 22, 6, { fill }));
}

const coreText = ({ cable }: RigSpec): string =>
  cable.awg != null ? w.awg(cable.awg) : cable.mm2 != null ? w.mm2(tickText(cable.mm2), String(cable.class ?? 5)) : '';

export const cableText = (spec: RigSpec): string => `${w.cableIs(tickText(spec.cable.length_m))}, ${coreText(spec)}`;

function wave(from: number, to: number, y: number): string {
  let d = `M${from} ${y}`;
  const n = Math.max(1, Math.round((to - from) / 24));
  const quarter = (to - from) / n / 4;
  for (let i = 0; i < n; i++) d += `q${px(quarter)} -5 ${px(2 * quarter)} 0t${px(2 * quarter)} 0`;
  return d;
}

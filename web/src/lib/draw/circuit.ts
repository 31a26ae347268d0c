// The circuit of a rig: supply, limiting resistors, ammeter and the ladder of the
// switch above; the pair switch, the cable and the pairs in the water below.
// Symbols after IEC 60617: a resistor is a rectangle.
import type { RigDocument, RigSpec } from '$lib/api/rig';
import { ohmText } from '$lib/state/rig-spec';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import { cableText, pairs } from './circuit-pairs';
import { fitting, heights, Pen, type CircuitChoice } from './circuit-pen';
import { circleAt, line, path, type Figure } from './picture';

const w = words.rig.circuit;
const { top, rail, busPlus, busMinus, foot } = heights;
const least = 640;

export function circuitFigure(spec: RigSpec, doc: RigDocument, choice: CircuitChoice, width: number): Figure {
  const ladder = doc.positions;
  const constant = spec.supply.kind === 'constant_current';
  const wide = Math.max(least, width, constant ? 0 : 320 + ladder.length * 66);
  const pen = new Pen();
  const right = wide - 22;
  supply(pen, spec, doc, constant);
  const wiper = constant ? settings(pen, spec, doc, right) : chain(pen, spec, doc, choice, right);
  // Down to the rails of the pair switch.
  pen.wire(true, [right, wiper], [right, busPlus]);
  pen.wire(true, [182, rail], [right - 22, rail], [right - 22, busMinus]);
  chosenText(pen, doc, choice, right - 40);
  pairs(pen, spec, doc, choice, right);
  return {
    name: w.name,
    picture: {
      width: wide,
      height: foot + 8,
      title: w.figure,
      description: w.description(spoken(spec, doc, choice, constant)),
      marks: [...pen.wires, ...pen.parts],
    },
    columns: ['part', 'value'],
    rows: doc.parts.map((p) => [p.what, p.value]),
  };
}

/** The supply at the left, with the limiting resistors in both legs. */
function supply(pen: Pen, spec: RigSpec, doc: RigDocument, constant: boolean): void {
  const x = 46;
  const plus = { bold: true, size: 15 } as const;
  if (constant) {
    pen.wire(true, [x, 160], [x, top], [240, top]);
    pen.wire(true, [x, 208], [x, rail], [182, rail]);
    pen.parts.push(
      path(circleAt(x, 184, 24), { fill: 'surface', stroke: 'accent', width: 2.5 }),
      line(x - 24, 184, x + 24, 184, { stroke: 'accent', width: 2.5 }),
    );
    pen.say(x + 34, 180, w.constant, { bold: true });
    if (spec.supply.compliance_V) pen.say(x + 34, 198, `≤ ${tickText(spec.supply.compliance_V)} V`, { fill: 'soft' });
    pen.say(x + 10, 152, w.plus, plus);
    pen.say(x + 10, 224, w.minus, plus);
    return;
  }
  const volts = doc.supply.voltage_V ?? spec.supply.voltage_V;
  const inside = doc.supply.internal_ohm ?? spec.supply.internal_ohm;
  pen.wire(true, [x, 156], [x, top], [240, top]);
  pen.wire(true, [x, 176], [x, rail], [182, rail]);
  // Two cells: the long line is the positive pole.
  for (const [y, half, heavy] of [
    [156, 15, false],
    [162, 8, true],
    [169, 15, false],
    [175, 8, true],
  ] as const) {
    pen.parts.push(line(x - half, y, x + half, y, { stroke: 'ink', width: heavy ? 4 : 2 }));
  }
  pen.say(x + 10, 146, w.plus, plus);
  pen.say(x + 10, 192, w.minus, plus);
  if (volts != null) pen.say(x + 24, 170, `${tickText(volts)} V`, { bold: true });
  pen.resistor(true, x, 216, true);
  if (inside != null) pen.say(x + 14, 220, w.inside(ohmText(inside)), { fill: 'soft' });
  const [a = '', b = ''] = doc.supply.limiting;
  const tolerance = spec.limiting ? ` ± ${tickText(spec.limiting.tolerance_percent)} %` : '';
  pen.resistor(true, 138, top);
  pen.resistor(true, 138, rail);
  pen.say(138, top - 14, `${a}${a && tolerance}`, { anchor: 'middle' });
  pen.say(138, rail + 25, `${b}${b && tolerance}`, { anchor: 'middle' });
  pen.frame(10, top - 34, 190, rail - top + 68);
  pen.say(12, top - 42, w.potted, { fill: 'soft' });
}

function ammeter(pen: Pen, spec: RigSpec, x: number): void {
  if (!spec.ammeter) {
    pen.wire(true, [x - 18, top], [x + 18, top]);
    return;
  }
  const stays = spec.ammeter.stays_in;
  pen.wire(true, [x - 18, top], [x + 18, top]);
  pen.parts.push(
    path(circleAt(x, top, 15), {
      fill: 'surface',
      stroke: stays ? 'accent' : 'ink',
      width: stays ? 2.5 : 1.5,
      dash: stays ? [] : [4, 3],
    }),
  );
  pen.say(x, top + 5, w.ammeter, { anchor: 'middle', bold: true, size: 14 });
  pen.say(x, top + 33, ohmText(spec.ammeter.burden_ohm), { anchor: 'middle', fill: 'soft' });
  if (!stays) pen.say(x - 42, top + 49, w.ammeterOut, { fill: 'soft', size: 12 });
}

/** The ladder: a chain of steps, a contact after each, and the arm of the switch; it gives the height at which the arm leaves. */
function chain(pen: Pen, spec: RigSpec, doc: RigDocument, choice: CircuitChoice, right: number): number {
  ammeter(pen, spec, 252);
  const from = 282;
  const n = doc.positions.length;
  const step = (right - 26 - from) / Math.max(1, n);
  const chosen = Math.max(
    0,
    doc.positions.findIndex((p) => p.label === choice.position),
  );
  const bar = top - 56;
  const contactY = top - 28;
  pen.wire(true, [270, top], [from, top]);
  pen.say(212, top - 65, w.switch, { fill: 'soft' });
  doc.positions.forEach((p, i) => {
    const live = i <= chosen;
    const [x0, x] = [from + i * step, from + (i + 1) * step - 12];
    pen.wire(live, [i === 0 ? x0 : x0 - 12, top], [x, top]);
    if (p.step_ohm.length > 0) {
      pen.resistor(live, (x0 + x) / 2 - 4, top, false, p.step_text);
      // Two values fit side by side only where there is room.
      const parts = step > 118 ? [p.step_text] : p.step_text.split(/\s*(?=\+)/);
      parts.forEach((part, line) =>
        pen.say((x0 + x) / 2 - 4, top + 25 + line * 15, part, { anchor: 'middle', size: 12 }),
      );
    }
    pen.wire(i === chosen, [x, top], [x, contactY]);
    pen.dot(live, x, top);
    pen.contact(i === chosen, x, contactY);
    const heavy = i === chosen;
    pen.say(x, bar - 25, fitting(p.label, step - 8), { anchor: 'middle', bold: heavy });
    pen.say(x, bar - 9, `${tickText(used(doc, i, choice.pair))} µA`, {
      anchor: 'middle',
      size: 12,
      bold: heavy,
      fill: heavy ? 'ink' : 'soft',
    });
    if (heavy) pen.wire(true, [x, contactY - 4], [x, bar]);
  });
  const at = from + (chosen + 1) * step - 12;
  pen.wire(false, [from + step - 12, bar], [at, bar]);
  pen.wire(true, [at, bar], [right, bar]);
  return bar;
}

/** A supply of constant current needs no ladder: its positions are its settings. */
function settings(pen: Pen, spec: RigSpec, doc: RigDocument, right: number): number {
  ammeter(pen, spec, 252);
  pen.wire(true, [270, top], [right, top]);
  pen.say(
    right - 14,
    top - 16,
    w.settings(doc.positions.map((p) => `${p.label}: ${tickText(p.nominal_uA)} µA`).join(', ')),
    { anchor: 'end' },
  );
  return top;
}

const used = (doc: RigDocument, i: number, pair: string): number => {
  const p = doc.positions[i]!;
  return p.currents.find((c) => c.pair === pair)?.used_uA ?? p.nominal_uA;
};

function chosenText(pen: Pen, doc: RigDocument, choice: CircuitChoice, right: number): void {
  const position = doc.positions.find((p) => p.label === choice.position) ?? doc.positions[0];
  const current = position?.currents.find((c) => c.pair === choice.pair) ?? position?.currents[0];
  if (!position || !current) return;
  const lines = [
    current.measured_uA === null
      ? w.chosenNominal(sig(current.nominal_uA))
      : w.chosenMeasured(sig(current.measured_uA), current.measured_on ?? ''),
    w.chosenWorst(sig(current.worst_uA[0] ?? NaN), sig(current.worst_uA[1] ?? NaN)),
  ];
  if (doc.supply.kind === 'battery') {
    lines.push(w.chosenSeason(sig(current.season_uA[0] ?? NaN), sig(current.season_uA[1] ?? NaN)));
  }
  pen.say(right, rail - 58, w.chosen(position.label, current.pair), { anchor: 'end', bold: true, size: 14 });
  lines.forEach((l, i) => pen.say(right, rail - 41 + i * 16, l, { anchor: 'end' }));
}

function spoken(spec: RigSpec, doc: RigDocument, choice: CircuitChoice, constant: boolean): string[] {
  const s = w.said;
  const [a = '', b = ''] = doc.supply.limiting;
  const silent = spec.pairs.filter((p) => p.label !== choice.pair).map((p) => p.label);
  return [
    constant
      ? s.constant(`${tickText(spec.supply.compliance_V ?? NaN)} V`)
      : s.battery(`${tickText(doc.supply.voltage_V ?? NaN)} V`, ohmText(doc.supply.internal_ohm ?? NaN)),
    a ? s.limiting(a, b) : '',
    s.ladder(
      doc.positions
        .map((p) => s.position(p.label, p.step_ohm.length > 0 ? p.step_text : w.noStep, `${sig(p.nominal_uA)} µA`))
        .join('; '),
    ),
    s.chosen(choice.position),
    s.cable(cableText(spec), ohmText(doc.cable.leg_ohm, 3)),
    s.pairs(choice.pair, silent.join(', '), w.state(spec.silent)),
  ];
}

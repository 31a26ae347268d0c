import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { RequestError } from '$lib/api/client';
import type { RigBench, RigDocument, RigProgram, RigSpec, RigStart } from '$lib/api/rig';
import type { EditRequest } from '$lib/api/studies';
import { circuitFigure } from '$lib/draw/circuit';
import type { Figure, Mark } from '$lib/draw/picture';
import { chargeFigure, currentsFigure, rowsShown } from '$lib/draw/rig-currents';
import { silentFigure, silentGroups } from '$lib/draw/rig-silent';
import { toSvg } from '$lib/export/svg';
import {
  alike,
  currentText,
  ohmText,
  percentText,
  plain,
  readCurrents,
  readOhm,
  readOhms,
  rigFaults,
  sameRig,
  standingOf,
} from '$lib/state/rig-spec';
import { Rig } from '$lib/state/rig.svelte';

// An invented rig, and the program's own answer to it.
const { spec, doc } = JSON.parse(readFileSync(new URL('../fixtures/rig.json', import.meta.url), 'utf8')) as {
  spec: RigSpec;
  doc: RigDocument;
};
const four: RigSpec = {
  ...spec,
  silent: 'closed',
  pairs: ['P1', 'P2', 'P3', 'P4', 'P5'].map((label) => ({ ...spec.pairs[0]!, label })),
};
const constant: RigSpec = { ...spec, supply: { kind: 'constant_current', current_uA: 15, compliance_V: 9 } };
const constantDoc: RigDocument = { ...doc, supply: { ...doc.supply, kind: 'constant_current', limiting: [] } };

const figures: [string, Figure][] = [
  ['rig-circuit', circuitFigure(spec, doc, { position: '2', pair: 'P1' }, 860)],
  ['rig-circuit-pairs', circuitFigure(four, doc, { position: '3', pair: 'P2' }, 640)],
  ['rig-circuit-constant', circuitFigure(constant, constantDoc, { position: '1', pair: 'P2' }, 800)],
  ['rig-currents', currentsFigure(doc, 'P1', 860)],
  ['rig-currents-narrow', currentsFigure(doc, 'P1', 340)],
  ['rig-silent', silentFigure(doc, 860)],
  ['rig-silent-narrow', silentFigure(doc, 340)],
  ['rig-charge', chargeFigure(doc.battery!, 15, 560)],
];
const saying = (f: Figure): string[] => f.picture.marks.flatMap((m: Mark) => (m.kind === 'text' ? [m.text] : []));

describe.each(figures)('%s', (name, figure) => {
  test('looks as stored', async () => {
    await expect(toSvg(figure.picture, (p) => `var(--${p})`)).toMatchFileSnapshot(`../pictures/${name}.svg`);
  });
  test('holds no number that is none', () => {
    expect(toSvg(figure.picture, (p) => p)).not.toMatch(/NaN|Infinity|undefined|null/);
  });
  test('text stays within the picture', () => {
    for (const m of figure.picture.marks) {
      if (m.kind !== 'text') continue;
      // A letter is at most about 0.62 of its height on the average.
      const wide = m.text.length * (m.size ?? 14) * 0.62;
      const left = m.anchor === 'end' ? m.x - wide : m.anchor === 'middle' ? m.x - wide / 2 : m.x;
      expect(left, m.text).toBeGreaterThan(-8);
      expect(left + wide, m.text).toBeLessThan(figure.picture.width + 12);
    }
  });
});

test('the circuit names every part with its value, and what is chosen', () => {
  const said = saying(figures[0]![1]);
  for (const part of ['270 kΩ ± 1 %', '9 V', '1.7 Ω inside', 'A', 'P1, driven', 'P2, silent', 'both legs open'])
    expect(said).toContain(part);
  expect(said).toContain('Position 2, pair P1');
  expect(said).toContain('9.71 µA measured on 2026-05-30');
  for (const p of doc.positions) expect(said).toContain(p.label);
  expect(figures[0]![1].picture.description).toContain('Pair P1 is driven; P2 silent, both legs open.');
});

test('more pairs than fit are counted', () => {
  expect(saying(figures[1]![1])).toContain('and 1 more silent pair');
});

test('long names are shortened, not laid over their neighbours', () => {
  const long = (label: string) => `${label} north of the rock with the ring`;
  const named: RigSpec = { ...four, pairs: four.pairs.map((p) => ({ ...p, label: long(p.label) })) };
  const positions = doc.positions.map((p) => ({ ...p, label: long(p.label) }));
  const said = saying(circuitFigure(named, { ...doc, positions }, { position: '', pair: '' }, 640));
  expect(said.filter((t) => t.includes('…'))).toHaveLength(positions.length + 4);
  expect(said.filter((t) => /, (driven|silent)$/.test(t)).every((t) => t.length <= 16)).toBe(true);
});

test('with constant current there are settings and no resistors', () => {
  const said = saying(figures[2]![1]);
  expect(said).toContain('constant current');
  expect(said.some((t) => t.includes('kΩ ±'))).toBe(false);
});

test('pairs that read alike stand together, a measured one by itself', () => {
  const [a, b] = doc.positions[0]!.currents;
  expect(alike([a!, { ...a!, pair: 'P9' }])).toEqual([{ pairs: ['P1', 'P9'], current: a }]);
  expect(alike([a!, { ...b!, measured_uA: 1, measured_on: '2026-06-01' }])).toHaveLength(2);
  const many = { ...doc, positions: Array.from({ length: 20 }, (_, i) => ({ ...doc.positions[0]!, label: `${i}` })) };
  expect(rowsShown(many, 'P1').only).toBe(true);
});

test('each silent pair has its three states in one order', () => {
  expect(silentGroups(doc).map((g) => g.states.map((s) => s.state))).toEqual(
    silentGroups(doc).map(() => ['open_both', 'open_one', 'closed']),
  );
});

test.each([
  ['120k + 5.1 kΩ', [120e3, 5100]],
  ['4k7', [4700]],
  ['1M5; 1.5M', [1.5e6, 1.5e6]],
  ['750000', [750e3]],
  ['4,7 k', [4700]],
  ['0R47', [0.47]],
  ['none', []],
  ['', []],
  ['-5k', undefined],
  ['4.7k7', undefined],
  ['lots', undefined],
])('resistors %s', (text, expected) => expect(readOhms(text)).toEqual(expected));

test('what is written can be read again', () => {
  for (const v of [0.47, 1, 9.1, 470, 5110, 301e3, 1.5e6, 22e6]) expect(readOhm(ohmText(v, 6)), ohmText(v, 6)).toBe(v);
  expect([ohmText(0.63), ohmText(5110), ohmText(999.99999), ohmText(0)]).toEqual(['0.63 Ω', '5.11 kΩ', '1 kΩ', '0 Ω']);
});

test('wanted currents', () => {
  expect(readCurrents('15, 10 8;6.5')).toEqual([15, 10, 8, 6.5]);
  for (const odd of ['', '10 -3', 'ten', '0']) expect(readCurrents(odd), odd).toBeUndefined();
});

test('currents of any size have a unit that can be read', () => {
  expect([12800, 9.14, 0.018, 3.2e-5, 1e-8, 0].map((v) => currentText(v))).toEqual([
    '12.8 mA',
    '9.14 µA',
    '18.0 nA',
    '32.0 pA',
    '< 1 pA',
    '0 µA',
  ]);
  expect([61, 0.16, 0.00003, 0].map(percentText)).toEqual(['61 %', '0.16 %', '< 0.01 %', '0 %']);
});

test('what says nothing is not kept, and does not make another rig', () => {
  const noisy = { ...spec, cable: { ...spec.cable, tinned: false, mm2: null }, measured: [] } as RigSpec;
  expect(sameRig(noisy, spec)).toBe(true);
  expect(JSON.stringify(plain(noisy))).toBe(JSON.stringify(plain(spec)));
  expect(plain(spec).ammeter).toEqual({ burden_ohm: 1000, stays_in: false });
  expect(sameRig({ ...spec, silent: 'closed' }, spec)).toBe(false);
});

test('a refusal finds its value', () => {
  const { faults, rest } = rigFaults([
    { location: 'rig/supply/voltage_V', message: 'a' },
    { location: 'body.rig.pairs.0.separation_m', message: 'b' },
    { location: 'elsewhere', message: 'c' },
  ]);
  expect([...faults]).toEqual([
    ['supply/voltage_V', 'a'],
    ['pairs/0/separation_m', 'b'],
  ]);
  expect(rest).toEqual(['c']);
});

test('what a measurement stands for', () => {
  const b: RigBench = { date: '2026-05-30', position: '2', pair: 'P1', current_uA: 9.71 };
  expect(standingOf(b, doc)).toBe('counts');
  expect(standingOf({ ...b, date: '2026-05-01', current_uA: 9.5 }, doc)).toBe('older');
  expect(standingOf({ ...b, position: 'gone' }, doc)).toBe('elsewhere');
  expect(standingOf({ ...b, current_uA: null }, doc)).toBe('beside');
});

/** A program that keeps one rig, as the real one would. */
function kept(saved = '') {
  const asked: RigSpec[] = [];
  const edits: Omit<EditRequest, 'author'>[] = [];
  let text = saved;
  const program: RigProgram = {
    start: () =>
      Promise.resolve<RigStart>({
        spec: text ? (JSON.parse(text) as RigSpec) : spec,
        saved: text !== '',
        spec_text: text,
        from: [],
        bench: [],
        warnings: [],
      }),
    calculate: (body) => {
      asked.push(body);
      return Promise.resolve(doc);
    },
  };
  const edit = (request: Omit<EditRequest, 'author'>) => {
    edits.push(request);
    const change = request.changes?.[0];
    if (change) {
      if (change.from !== text) return Promise.reject(new RequestError(409, 'changed meanwhile'));
      text = change.to;
    }
    return Promise.resolve({ entries: [] } as never);
  };
  const rig = new Rig(program, { edit }, () => undefined);
  return { rig, asked, edits, set: (to: string) => (text = to), held: () => text };
}

test('a rig is saved as it stands, once', async () => {
  const { rig, edits, held } = kept();
  await rig.load();
  expect(rig.unsaved).toBe(true);
  rig.turn('supply/voltage_V', 12);
  await rig.save();
  expect(rig.saving?.state).toBe('saved');
  expect(JSON.parse(held())).toMatchObject({ supply: { voltage_V: 12 } });
  expect(rig.unsaved).toBe(false);
  await rig.save();
  expect(edits).toHaveLength(1);
  rig.turn('supply/voltage_V', 9);
  expect([rig.unsaved, rig.asAtStart('supply/voltage_V')]).toEqual([true, false]);
  rig.reset('supply/voltage_V');
  expect(rig.unsaved).toBe(false);
});

test('what somebody else saved meanwhile is not overwritten unasked', async () => {
  const theirs = JSON.stringify(plain({ ...spec, silent: 'closed' }));
  for (const mine of [true, false]) {
    const { rig, set, held } = kept(JSON.stringify(plain(spec)));
    await rig.load();
    rig.turn('silent', 'open_one');
    set(theirs);
    await rig.save();
    expect(rig.saving?.state).toBe('changed');
    expect([held(), rig.spec?.silent]).toEqual([theirs, 'open_one']);
    if (mine) {
      await rig.save();
      expect(JSON.parse(held())).toMatchObject({ silent: 'open_one' });
    } else {
      rig.theirs();
      expect([rig.spec?.silent, rig.unsaved]).toEqual(['closed', false]);
    }
  }
});

test('a measurement is added with what was filled in', async () => {
  const { rig, edits } = kept();
  await rig.load();
  await rig.addBench({ date: ' 2026-06-01 ', position: '2', current_uA: '9.8', note: ' ' });
  expect(edits[0]?.add?.[0]).toMatchObject({
    kind: 'bench',
    fields: { date: '2026-06-01', position: '2', current_uA: '9.8' },
  });
  expect(Object.keys(edits[0]?.add?.[0]?.fields ?? {})).not.toContain('note');
});

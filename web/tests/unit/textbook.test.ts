// The textbook form of the field beside the computed one. Values by hand, and
// the closed form of an ideal dipole.
import { describe, expect, test } from 'vitest';
import type { ExposureRow } from '$lib/api/types';
import { nearestDot } from '$lib/draw/paint-dots';
import { classesOf, compare, idealRatio, ratioOf, smallestAtTurn, tally } from '$lib/draw/textbook';
import { dotMarks, dotsAt, groundMarks, layOut, ringMarks, styleOf, textbookFigure } from '$lib/draw/textbook-figure';
import { tableData } from '$lib/table/columns';
import { words } from '$lib/words';
import { passFacts } from '$lib/words/pass';
import { exposures, season } from './fixtures';

const base = exposures.rows[0]!;
const row = (more: Partial<ExposureRow>): ExposureRow => ({ ...base, distance_cm: 10, angle_deg: 30, ...more });
const withRatio = (ratio: number, more: Partial<ExposureRow> = {}) =>
  row({ textbook_nV_per_cm: ratio * 20, position_nV_per_cm: 20, ...more });
const ratios = (...list: number[]) => Float64Array.from(list);

describe('which passes are compared', () => {
  test('the ratio is textbook ÷ computed', () =>
    expect(ratioOf(row({ textbook_nV_per_cm: 3, position_nV_per_cm: 12 }))).toBe(0.25));
  test.each([
    ['no textbook value', { textbook_nV_per_cm: null, position_nV_per_cm: 12 }],
    ['no computed value, as in a sealed trial', { textbook_nV_per_cm: 3, position_nV_per_cm: null }],
    ['no current', { textbook_nV_per_cm: 0, position_nV_per_cm: 0 }],
    ['no distance', { textbook_nV_per_cm: 3, position_nV_per_cm: 12, distance_cm: null }],
    ['at the very centre', { textbook_nV_per_cm: 3, position_nV_per_cm: 12, distance_cm: 0 }],
    ['no angle', { textbook_nV_per_cm: 3, position_nV_per_cm: 12, angle_deg: null }],
  ])('left out: %s', (_, more) => expect(compare([row(more)]).rows).toEqual([]));
  test('exactly beside the pair the ratio is 0, and is kept', () => {
    const c = compare([withRatio(0, { angle_deg: 90 })]);
    expect([...c.ratio]).toEqual([0]);
    expect([...c.angle]).toEqual([90]);
  });
});

describe('in numbers', () => {
  test('nothing gives nothing', () =>
    expect(tally(ratios())).toEqual({ passes: 0, median: null, offTenth: null, offTwofold: null }));
  test('the middle of an odd number, the mean of the middle two of an even one', () => {
    expect(tally(ratios(3, 1, 2)).median).toBe(2);
    expect(tally(ratios(4, 1, 2, 3)).median).toBe(2.5);
  });
  test('the borders themselves are not off', () => {
    const t = tally(ratios(0.4, 0.5, 0.89, 0.9, 1, 1.1, 1.11, 2, 2.1, 0));
    expect(t.offTenth).toBeCloseTo(0.7, 12); // all but 0.9, 1 and 1.1
    expect(t.offTwofold).toBeCloseTo(0.3, 12); // 0.4, 2.1 and 0
  });
  test('the input is left as it was', () => {
    const list = ratios(3, 1, 2);
    tally(list);
    expect([...list]).toEqual([3, 1, 2]);
  });
});

describe('the smallest field at a turn', () => {
  const turn = { turned: 'yes', role: 'active', used: true, falling_field: false } as const;
  test('is found by either way of computing it, not on one and the same pass', () => {
    const rows = [
      row({ ...turn, textbook_nV_per_cm: 1, position_nV_per_cm: 30 }),
      row({ ...turn, textbook_nV_per_cm: 25, position_nV_per_cm: 20 }),
    ];
    expect(smallestAtTurn(compare(rows))).toEqual({ turns: 2, textbook: 1, computed: 20 });
  });
  test.each([
    ['did not turn', { turned: 'no' }],
    ['at a control pair', { role: 'control' }],
    ['a sealed role', { role: null, used: null }],
    ['not used', { used: false }],
    ['in a falling field', { falling_field: true }],
  ] as const)('not counted: %s', (_, more) =>
    expect(smallestAtTurn(compare([withRatio(0.5, { ...turn, ...more })])).turns).toBe(0),
  );
  test('without a turn there is none', () =>
    expect(smallestAtTurn(compare([]))).toEqual({ turns: 0, textbook: null, computed: null }));
});

describe('an ideal small pair', () => {
  // Field of a dipole: radial 2k·cos θ/r³, transverse k·sin θ/r³.
  test.each([0, 15, 30, 45, 60, 75, 89, 120, 180])('at %d°', (deg) => {
    const [cos, sin] = [Math.cos((deg * Math.PI) / 180), Math.sin((deg * Math.PI) / 180)];
    expect(idealRatio(deg)).toBeCloseTo(Math.abs(2 * cos) / Math.hypot(2 * cos, sin), 12);
  });
  test('agrees on the axis and is 0 beside the pair', () => {
    expect(idealRatio(0)).toBe(1);
    expect(idealRatio(180)).toBe(1);
    expect(idealRatio(90)).toBe(0);
  });
});

describe('classes', () => {
  test('a class of angles holds its lower edge; 180° belongs to the last', () => {
    const c = compare([0, 29, 30, 90, 150, 180].map((angle_deg) => withRatio(1, { angle_deg })));
    expect(classesOf(c, 'angle').map((k) => [k.low, k.high, k.passes])).toEqual([
      [0, 30, 2],
      [30, 60, 1],
      [80, 100, 1],
      [150, 180, 2],
    ]);
  });
  test('classes of distance begin at 1, 2 and 5 times a power of ten', () => {
    const c = compare([3, 4.9, 5, 10, 19, 60].map((distance_cm) => withRatio(0.4, { distance_cm })));
    const classes = classesOf(c, 'distance');
    expect(classes.map((k) => [k.low, k.high, k.passes])).toEqual([
      [2, 5, 2],
      [5, 10, 1],
      [10, 20, 2],
      [50, 100, 1],
    ]);
    expect(classes[0]).toMatchObject({ median: 0.4, offTenth: 1, offTwofold: 1 });
  });
  test.each([0.001, 1, 5, 99.999, 1e5])('one pass at %d cm has one class that holds it', (distance_cm) => {
    const [k, ...more] = classesOf(compare([withRatio(1, { distance_cm })]), 'distance');
    expect(more).toEqual([]);
    expect(k!.low).toBeLessThanOrEqual(distance_cm);
    expect(k!.high).toBeGreaterThan(distance_cm);
  });
  test('nobody is lost', () => {
    const c = compare(exposures.rows);
    for (const by of ['distance', 'angle'] as const) {
      expect(classesOf(c, by).reduce((n, k) => n + k.passes, 0)).toBe(c.rows.length);
    }
  });
  test('no pass, no class', () => expect(classesOf(compare([]), 'distance')).toEqual([]));
});

describe('the picture', () => {
  const { species } = season;
  const list = [0, 0.009, 0.01, 1, 100, 101, 1e9].map((r, i) => withRatio(r, { pass: `P${i}`, distance_cm: 5 + i }));
  const c = compare(list);
  const l = layOut(c, 'distance', species, 700);
  const { y } = dotsAt(c, l);

  test('equal values lie in the middle, a hundredth and a hundred at the ends of the scale', () => {
    expect(y[3]).toBeCloseTo((l.frame.top + l.frame.bottom) / 2, 9);
    expect(y[2]).toBeCloseTo(l.y.range[0], 9);
    expect(y[4]).toBeCloseTo(l.y.range[1], 9);
  });
  test('what lies beyond stands at the border, within the frame, and is marked as beyond', () => {
    expect(y[0]).toBe(y[1]);
    expect(y[5]).toBe(y[6]);
    expect(y[0]).toBeGreaterThan(l.y.range[0]);
    expect(y[0]).toBeLessThan(l.frame.bottom);
    expect(y[5]).toBeLessThan(l.y.range[1]);
    expect(y[5]).toBeGreaterThan(l.frame.top);
    const said = (rows: ExposureRow[]) =>
      groundMarks(compare(rows), l, species).filter((m) => m.kind === 'text' && m.text === 'beyond').length;
    expect(said(list)).toBe(2);
    expect(said(list.slice(2))).toBe(1);
    expect(said(list.slice(2, 5))).toBe(0);
  });
  test('there is one dot a pass, in the file as on the screen', () =>
    expect(dotMarks(c, l, species).length).toBe(c.rows.length));
  test('no dot tells whether its pair was active', () => {
    const as = (role: string) => {
      const some = compare(exposures.rows.map((r) => ({ ...r, role })));
      return ['distance', 'angle'].map((by) => textbookFigure(some, by as 'distance', species, 700));
    };
    expect(as('active')).toEqual(as('control'));
  });
  test('the chosen pass has its ring; one that is not compared has none', () => {
    expect(ringMarks(c, l, 'P3').length).toBe(2);
    expect(ringMarks(c, l, 'P99')).toEqual([]);
    expect(ringMarks(c, l, '')).toEqual([]);
  });
  test('the nearest dot is found, a turn before a plain dot, and none out of reach', () => {
    const dots = { x: ratios(10, 11, 300), y: ratios(10, 10, 10), style: Uint8Array.of(0, 1, 0) };
    expect(nearestDot(dots, { x: 10, y: 10 }, 12)).toBe(1);
    expect(nearestDot(dots, { x: 299, y: 12 }, 12)).toBe(2);
    expect(nearestDot(dots, { x: 150, y: 10 }, 12)).toBe(-1);
  });
  test('no legend runs out of a narrow picture', () => {
    const narrow = layOut(c, 'angle', species, 480);
    for (const m of groundMarks(c, narrow, species)) if (m.kind === 'text') expect(m.x).toBeLessThan(480);
    expect(narrow.frame.top).toBeGreaterThan(layOut(c, 'angle', species, 1400).frame.top);
  });
  test('a hundred thousand passes make a whole picture', () => {
    const many = compare(
      Array.from({ length: 100_000 }, (_, i) =>
        withRatio(1 + (i % 7), { pass: `P${i}`, distance_cm: 1 + (i % 97), responded: i % 5 === 0 }),
      ),
    );
    const wide = layOut(many, 'distance', species, 900);
    const dots = dotsAt(many, wide);
    expect(dots.x.length).toBe(100_000);
    expect(dots.x.every((v) => v >= wide.frame.left && v <= wide.frame.right)).toBe(true);
    expect(tally(many.ratio).median).toBe(4);
    expect(styleOf(many.rows[0]!, species)).toBeGreaterThan(0);
    expect(styleOf(many.rows[1]!, species)).toBe(0);
  });
});

describe('in words', () => {
  const w = words.textbook;
  test.each([
    [0.01, '1/100'],
    [0.1, '1/10'],
    [1, '1'],
    [100, '100'],
  ])('the axis writes %d as %s', (v, said) => expect(w.figure.tick(v)).toBe(said));
  test('the verdict of a pass', () => {
    expect(w.detail.verdict(0.95)).toMatch(/within 10/);
    expect(w.detail.verdict(0)).toMatch(/is 0 here/);
    expect(w.detail.verdict(0.31).replace(/\s/g, ' ')).toBe('The textbook form gives 0.31 × the computed field here.');
  });
  test('the textbook value stands among the facts only where the two are not shown side by side', () => {
    const names = (position_nV_per_cm: number | null) => passFacts(row({ position_nV_per_cm })).map((f) => f.name);
    expect(names(null)).toContain('Textbook field');
    expect(names(12)).not.toContain('Textbook field');
  });
  test('the table of passes is saved with the components', () => {
    const { columns, rows } = tableData([
      row({ position_nV_per_cm: 13, position_components_nV_per_cm: [3, -4, 12] }),
      row({ position_nV_per_cm: null, position_components_nV_per_cm: null }),
    ]);
    const at = (name: string) => columns.indexOf(name);
    expect(rows[0]![at('position_nV_per_cm')]).toBe(13);
    expect(['along', 'across', 'up'].map((k) => rows[0]![at(`position_${k}_nV_per_cm`)])).toEqual([3, -4, 12]);
    expect(rows[1]![at('position_up_nV_per_cm')]).toBeUndefined();
    expect(rows.every((r) => r.length === columns.length)).toBe(true);
  });
});

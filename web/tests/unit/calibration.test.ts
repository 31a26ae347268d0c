// Tables of readings: as typed, as pasted from spreadsheets, as proposed.
// Cells and quotes as in RFC 4180; the rest is what spreadsheets hand over.
import { describe, expect, test } from 'vitest';
import type { Knobs } from '$lib/api/stimulus';
import { columnOf, fillBlock, isTable, readPasted, splitCells } from '$lib/calibration/paste';
import { proposePlaces } from '$lib/calibration/propose';
import { cellsOf, columns, correlationText, mostReadings, noCells, readNumber, readRows } from '$lib/calibration/rows';
import { toCsv } from '$lib/export/csv';
import { knobs, pair } from './calibration-knobs';

describe('numbers', () => {
  test.each([
    ['1.5', 1.5],
    [' 1,5 ', 1.5],
    ['−2', -2],
    ['+.25', 0.25],
    ['1e-3', 0.001],
    ['3.', 3],
  ])('%s is read', (text, v) => expect(readNumber(text)).toBe(v));
  test.each(['', '-', '1.2.3', '1 000', '0x10', 'NaN', 'Infinity', '1e999', '12 µV', '1,000,000'])(
    '“%s” is none',
    (t) => expect(readNumber(t)).toBeUndefined(),
  );
});

describe('cells', () => {
  test('tabs go before commas, which are then decimal', () =>
    expect(splitCells('a\t1,5\r\nb\t2\r\n')).toEqual({
      cells: [
        ['a', '1,5'],
        ['b', '2'],
      ],
      separator: '\t',
    }));
  test('quotes hold commas, breaks and quotes', () =>
    expect(splitCells('"a, ""b""\nc",1\n').cells).toEqual([['a, "b"\nc', '1']]));
  test('blank lines and the mark of the encoding are dropped', () =>
    expect(splitCells('\uFEFF1,2\n\n,\n3,4').cells).toEqual([
      ['1', '2'],
      ['3', '4'],
    ]));
});

describe('headers', () => {
  test.each([
    ['label', 'label', 1],
    ['Plus x, cm', 'px', 1],
    ['plus_y_m', 'py', 100],
    ['z+ (mm)', 'pz', 0.1],
    ['x-', 'mx', 1],
    ['minus tip y', 'my', 1],
    ['-z', 'mz', 1],
    ['x2', 'mx', 1],
    ['py', 'py', 1],
    ['reading, µV', 'uV', 1],
    ['Potential (mV)', 'uV', 1000],
    ['sd_uV', 'sd', 1],
  ])('%s', (header, column, factor) => expect(columnOf(header)).toEqual({ column, factor }));
  test.each(['date', 'foretold_uV', 'residual_uV', 'designed_uV', 'residual_over_its_standard_deviation', ''])(
    '“%s” is left out',
    (header) => expect(columnOf(header)).toBeUndefined(),
  );
});

describe('a pasted table', () => {
  test('without headers, nine columns', () =>
    expect(readPasted('A\t5\t0\t1\t7\t0\t1\t-0,25\t0,01').rows).toEqual([
      { label: 'A', px: '5', py: '0', pz: '1', mx: '7', my: '0', mz: '1', uV: '-0.25', sd: '0.01' },
    ]));
  test('labels may be numbers when all nine columns are there', () =>
    expect(readPasted('1,5,0,1,7,0,1,2,3').rows[0]).toMatchObject({ label: '1', px: '5', sd: '3' }));
  test('far stands for the three cells of the minus tip', () =>
    expect(readPasted('A,5,0,1,far,2.5,0.1').rows[0]).toMatchObject({
      mx: 'far',
      my: '',
      mz: '',
      uV: '2.5',
      sd: '0.1',
    }));
  test('far in three cells of its own', () =>
    expect(readPasted('A,5,0,1,far,,,2.5,0.1').rows[0]).toMatchObject({ mx: 'far', uV: '2.5', sd: '0.1' }));
  test('places alone', () =>
    expect(readPasted('5 ,0,1\n-5,0,1').rows.map((r) => [r.px, r.pz, r.uV])).toEqual([
      ['5', '1', ''],
      ['-5', '1', ''],
    ]));
  test('with headers in another order and other units', () => {
    const pasted = readPasted('name;by;reading mV;plus x m;plus y m;plus z m\nP1;N;0,002;0,05;0;0,01');
    expect(pasted.faults).toEqual([]);
    expect(pasted.unused).toEqual(['by']);
    expect(pasted.rows).toEqual([{ ...noCells, label: 'P1', px: '5', py: '0', pz: '1', uV: '2' }]);
  });
  test('a cell that is no number is kept and said with its row and column', () => {
    const { rows } = readPasted('A,5,0,1,7,0,1,two,0.1\nB,5,O,1,7,0,1,2,0.1');
    const { faults } = readRows(rows);
    expect(faults.map((f) => [f.row, f.column, f.found])).toEqual([
      [1, 'uV', 'two'],
      [2, 'py', 'O'],
    ]);
  });
  test.each([
    ['', /Nothing/],
    ['label,plus x,plus y,plus z', /no row/],
    ['name,depth,voltage\nA,1,2', /plus tip x, plus tip y, plus tip z/],
    ['A,5', /2 cells in a row/],
    ['plus x,plus y,plus z\n1,2,3\n1,2,3,4', /Row 3: 4 cells where 3/],
    [
      Array(mostReadings + 1)
        .fill('A,1,2,3')
        .join('\n'),
      /501 rows/,
    ],
  ])('%.20s … is refused', (text, says) => {
    const pasted = readPasted(text);
    expect(pasted.rows).toEqual([]);
    expect(pasted.faults.join(' ')).toMatch(says);
  });
  test('odd texts neither throw nor make numbers of nothing', () => {
    for (const text of [
      '"',
      '"a',
      '\t\t\t',
      ';;;',
      'far',
      'far,far,far,far,far',
      '\u0000',
      ',,,\n"",""',
      '1\n'.repeat(50),
    ]) {
      const pasted = readPasted(text);
      for (const r of readRows(pasted.rows).readings) expect(r.plus_m.every(Number.isFinite), text).toBe(true);
    }
  });
  test('what is written as CSV is read back', () => {
    const rows = [
      { ...noCells, label: 'P, 1', px: '1.25', py: '-3', pz: '1', mx: 'far', uV: '0.5', sd: '0.1' },
      { ...noCells, label: 'P2', px: '2', py: '3', pz: '1', mx: '4', my: '5', mz: '1', uV: '', sd: '' },
    ];
    const head = ['label', 'plus_x_cm', 'plus_y_cm', 'plus_z_cm', 'minus_x_cm', 'minus_y_cm', 'minus_z_cm'];
    const text = toCsv(
      [...head, 'reading_uV', 'sd_uV', 'foretold_uV', 'fitted_uV', 'residual_uV'],
      rows.map((r) => [...columns.map((c) => r[c]), 1, 2, 3]),
    );
    expect(readPasted(text).rows).toEqual(rows);
  });
  test('a table is told from a block of cells', () => {
    expect(isTable('label,plus x,plus y,plus z\nA,1,2,3')).toBe(true);
    expect(isTable('A\t1\t2\t3\t4\t5\t6\t7')).toBe(true);
    expect(isTable('1.5\n1.6')).toBe(false);
  });
  test('a block fills cells from the cursor on and adds rows', () => {
    const filled = fillBlock([{ ...noCells, label: 'A' }], '1,5\t0,1\n2\t0,2', 0, 'uV');
    expect(filled.map((r) => [r.label, r.uV, r.sd])).toEqual([
      ['A', '1.5', '0.1'],
      ['', '2', '0.2'],
    ]);
  });
});

describe('rows', () => {
  const row = { ...noCells, label: 'A', px: '5', py: '0', pz: '1' };
  test('become metres, and come back as they were', () => {
    const { readings } = readRows([{ ...row, mx: '7', my: '0.1', mz: '1', uV: '-0.25' }]);
    expect(readings).toEqual([
      { label: 'A', plus_m: [0.05, 0, 0.01], minus_m: [0.07, 0.001, 0.01], uV: -0.25, sd_uV: null },
    ]);
    expect(cellsOf(readings[0]!)).toEqual({ ...row, mx: '7', my: '0.1', mz: '1', uV: '-0.25' });
  });
  test('blank rows are left out, and the others keep their numbers', () => {
    const table = readRows([noCells, row, noCells, { ...row, px: 'x' }]);
    expect(table.rowOf).toEqual([1]);
    expect(table.faults.map((f) => f.row)).toEqual([4]);
  });
  test('no minus tip is a reference far away, but not in a tank', () => {
    expect(readRows([row]).readings[0]!.minus_m).toBeNull();
    expect(readRows([{ ...row, mx: 'far away' }]).readings[0]!.minus_m).toBeNull();
    expect(readRows([row], true).faults[0]).toMatchObject({ column: 'mx', row: 1 });
  });
  test('half a minus tip is a fault', () =>
    expect(readRows([{ ...row, mx: '1' }]).faults.map((f) => f.column)).toEqual(['my', 'mz']));
  test('a place is foretold though its reading cannot be read', () => {
    const table = readRows([{ ...row, uV: 'much' }]);
    expect(table.faults).toHaveLength(1);
    expect(table.readings[0]).toMatchObject({ uV: null });
  });
  test('standard deviations for all or for none', () => {
    const table = readRows([{ ...row, uV: '1', sd: '0.1' }, { ...row, uV: '2' }, row]);
    expect(table.faults.map((f) => [f.row, f.column])).toEqual([[2, 'sd']]);
    expect(table.readings.map((r) => r.uV)).toEqual([1, null, null]);
  });
  test.each([
    [{ sd: '0', uV: '1' }, 'sd'],
    [{ sd: '-1', uV: '1' }, 'sd'],
    [{ pz: '' }, 'pz'],
    [{ px: '1e9' }, 'px'],
    [{ mx: '5', my: '0', mz: '1' }, 'mx'],
    [{ label: 'x'.repeat(101) }, 'label'],
  ])('%o', (more, column) => expect(readRows([{ ...row, ...more }]).faults[0]!.column).toBe(column));
  test('a correlation has two decimals and no minus nought', () => {
    expect(correlationText(-0.486)).toBe('−0.49');
    expect(correlationText(-2.4e-5)).toBe('0.00');
  });
});

describe('proposed places', () => {
  const read = (spacing: number | undefined, k = knobs) => readRows(proposePlaces(k, spacing)).readings;
  test('stand round the driven pair, on its axis with both signs, across it and above', () => {
    const places = read(0.02);
    expect(places.length).toBeGreaterThanOrEqual(12);
    const axis = [Math.cos(Math.PI / 6), Math.sin(Math.PI / 6)] as const;
    const along = places.map((p) => p.plus_m[0]! * axis[0] + p.plus_m[1]! * axis[1]);
    const far = places.map((p) => Math.hypot(p.plus_m[0]!, p.plus_m[1]!));
    expect(along.some((v, i) => Math.abs(v - far[i]!) < 1e-3 && far[i]! > 0.02)).toBe(true);
    expect(along.some((v, i) => Math.abs(v + far[i]!) < 1e-3 && far[i]! > 0.02)).toBe(true);
    expect(along.filter((v, i) => Math.abs(v) < 1e-3 && far[i]! > 0.02).length).toBeGreaterThan(1);
    expect(new Set(places.map((p) => p.plus_m[2])).size).toBeGreaterThan(1);
    expect(new Set(places.map((p) => p.label)).size).toBe(places.length);
  });
  test('the tips are as far apart as the probe has them', () => {
    for (const { plus_m: p, minus_m: m } of read(0.02))
      expect(Math.hypot(p[0]! - m![0]!, p[1]! - m![1]!, p[2]! - m![2]!)).toBeCloseTo(0.02, 2.9);
  });
  test('without a spacing the reference is far away', () =>
    expect(read(undefined).every((p) => p.minus_m === null)).toBe(true));
  test('a wider pair is kept farther away from', () => {
    const wide = { ...knobs, pairs: [{ ...pair('A', 1), separation_m: 0.1 }] };
    const nearest = (k: Knobs) =>
      Math.min(
        ...read(0.02, k)
          .filter((p) => p.plus_m[2]! < 0.02)
          .map((p) => Math.hypot(p.plus_m[0]!, p.plus_m[1]!)),
      );
    expect(nearest(knobs)).toBeCloseTo(0.03, 3);
    expect(nearest(wide)).toBeCloseTo(0.25, 3);
  });
  test('none lies beyond the wall of a tank or above shallow water', () => {
    const tank: Knobs = { ...knobs, enclosure: { centre_m: [0, 0], diameter_m: 0.16, size_m: null } };
    const inTank = read(0.02, tank);
    expect(inTank.length).toBeGreaterThan(3);
    for (const p of inTank) for (const m of [p.plus_m, p.minus_m!]) expect(Math.hypot(m[0]!, m[1]!)).toBeLessThan(0.08);
    for (const p of read(0.02, { ...knobs, depth_m: 0.03 })) expect(p.plus_m[2]).toBeLessThan(0.03);
  });
  test('none without a driven pair', () =>
    expect(proposePlaces({ ...knobs, pairs: [pair('A', 0)] }, 0.02)).toEqual([]));
});

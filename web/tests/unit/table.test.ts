import { describe, expect, test } from 'vitest';
import type { ExposureRow } from '$lib/api/types';
import { columns, response, tableData, used } from '$lib/table/columns';
import { filterRows, missing, optionsOf, readFilter, readPass, writeSearch } from '$lib/table/filter';
import { sortRows } from '$lib/table/sort';
import { rowsInView, scrollToShow } from '$lib/table/virtual';
import { chances, exposures } from './fixtures';

const rows = exposures.rows;

describe('filters', () => {
  test('nothing chosen lets everything through, untouched', () => expect(filterRows(rows, {})).toBe(rows));
  test('choices are joined by and', () => {
    const some = filterRows(rows, { species: 'Raja clavata', role: 'active', responded: 'yes' });
    expect(some.length).toBeGreaterThan(0);
    expect(some.every((r) => r.species === 'Raja clavata' && r.role === 'active' && r.responded)).toBe(true);
    const others = rows.filter((r) => !some.includes(r));
    expect(others.some((r) => r.species === 'Raja clavata' && r.role === 'active' && r.responded)).toBe(false);
  });
  test('unidentified animals can be asked for', () => {
    const some = filterRows(rows, { individual: missing });
    expect(some.length).toBeGreaterThan(0);
    expect(some.every((r) => r.individual === '')).toBe(true);
  });
  test('options are those that occur, the missing last', () => {
    const options = optionsOf(rows, 'individual');
    expect(options.at(-1)).toBe(missing);
    expect(options.slice(0, 2)).toEqual(['RC01', 'RC02']);
  });
  test('an address holds the view and gives it back', () => {
    const filter = { species: 'Raja clavata', individual: 'A&B=1', trial: undefined };
    const search = writeSearch(filter, 'P 1');
    expect(readFilter(search)).toEqual({ species: 'Raja clavata', individual: 'A&B=1' });
    expect(readPass(search)).toBe('P 1');
    expect(writeSearch({}, '')).toBe('');
    expect(readFilter('?evil=1&pair=')).toEqual({});
  });
});

describe('sorting', () => {
  const list = [3, null, 1, 2, null, 1].map((v, i) => ({ v, i }));
  test('ascending, ties in their order, missing last', () =>
    expect(sortRows(list, (r) => r.v, 'ascending').map((r) => r.i)).toEqual([2, 5, 3, 0, 1, 4]));
  test('descending, missing still last', () =>
    expect(sortRows(list, (r) => r.v, 'descending').map((r) => r.i)).toEqual([0, 3, 2, 5, 1, 4]));
  test('every column sorts without losing a row', () => {
    for (const c of columns) {
      expect(new Set(sortRows(rows, c.sort, 'descending')).size, c.key).toBe(rows.length);
    }
  });
  test('a hundred thousand rows sort in less than a second of processor time', () => {
    const many = Array.from({ length: 100_000 }, (_, i) => ({ v: (i * 7919) % 100_003 }));
    const began = process.cpuUsage();
    sortRows(many, (r) => r.v, 'ascending');
    expect(process.cpuUsage(began).user / 1000).toBeLessThan(1000);
  });
});

describe('virtual rows', () => {
  test('only those in view and a few beyond', () =>
    expect(rowsInView(100_000, 34, 34_000, 340, 8)).toEqual({
      first: 992,
      end: 1018,
      above: 992 * 34,
      below: 98_982 * 34,
    }));
  test('at the ends', () => {
    expect(rowsInView(5, 34, 0, 340)).toEqual({ first: 0, end: 5, above: 0, below: 0 });
    expect(rowsInView(100, 34, 34 * 100, 340)).toMatchObject({ end: 100, below: 0 });
    expect(rowsInView(0, 34, 0, 340)).toEqual({ first: 0, end: 0, above: 0, below: 0 });
  });
  test('a list that was cut short while scrolled down still draws its end', () => {
    const seen = rowsInView(10, 34, 34_000, 340);
    expect(seen.end).toBe(10);
    expect(seen.first).toBeLessThan(10);
  });
  test('heights always add up', () => {
    const chance = chances(2);
    for (let i = 0; i < 300; i++) {
      const count = Math.floor(chance() * 1000);
      const seen = rowsInView(count, 34, chance() * 40_000, chance() * 900);
      expect(seen.above + seen.below + (seen.end - seen.first) * 34).toBe(count * 34);
    }
  });
  test('scrolls no further than it must', () => {
    expect(scrollToShow(5, 34, 0, 340)).toBe(0);
    expect(scrollToShow(2, 34, 340, 340)).toBe(68);
    expect(scrollToShow(20, 34, 0, 340)).toBe(21 * 34 - 340);
  });
});

describe('cells', () => {
  const row = (more: Partial<ExposureRow>): ExposureRow => ({ ...rows[0]!, ...more });
  test.each([
    [{ turned: 'yes', bit: 'no' }, 'turned'],
    [{ turned: 'yes', bit: 'yes' }, 'turned, bit'],
    [{ turned: 'yes', bit: 'no', falling_field: true }, 'turned, falling'],
    [{ turned: 'no', bit: 'yes' }, 'bit'],
    [{ turned: '', bit: 'yes' }, 'bit'],
    [{ turned: 'no', bit: 'no' }, 'no'],
    [{ turned: '', bit: '' }, 'not scored'],
  ] as const)('response %o', (more, expected) => expect(response(row(more))).toBe(expected));
  test('used, or why not', () => {
    expect(used(row({ used: true }))).toBe('yes');
    expect(used(row({ used: false, not_used_because: 'not scored' }))).toBe('no: not scored');
    expect(used(row({ used: null }))).toBe('sealed');
  });
  test('the file has every row with full digits', () => {
    const data = tableData(rows);
    expect(data.rows.length).toBe(rows.length);
    expect(data.rows[0]![data.columns.indexOf('field_low_nV_per_cm')]).toBe(rows[0]!.field_low_nV_per_cm);
  });
});

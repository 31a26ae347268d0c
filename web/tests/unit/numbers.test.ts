import { describe, expect, test } from 'vitest';
import { clock, percent, plural, pValue, ratio, sentenceCase, sig, tickText, whole } from '$lib/words/numbers';

const plain = (text: string) => text.replace(/\u202f/g, ' ');

describe('significant digits', () => {
  test.each<[number, number, string]>([
    [32.385087, 3, '32.4'],
    [32.385087, 2, '32'],
    [9.96, 2, '10'],
    [0.99951, 3, '1.00'],
    [163.4, 2, '160'],
    [0.03712, 2, '0.037'],
    [12345, 3, '12 300'],
    [1234.5, 3, '1230'],
    [-0.05, 2, '−0.050'],
    [0, 3, '0'],
    [5.189e-38, 2, '5.2 × 10⁻³⁸'],
    [NaN, 3, ''],
    [Infinity, 3, ''],
  ])('%d with %d digits', (v, digits, expected) => expect(plain(sig(v, digits))).toBe(expected));
});

test('axis labels carry no needless zeros', () => {
  expect([0.05, 5, 10, 100, 0.2, 1.5].map(tickText)).toEqual(['0.05', '5', '10', '100', '0.2', '1.5']);
});

test('a p value is never 0', () => {
  expect(plain(pValue(0))).toBe('< 0.0001');
  expect(pValue(0.0001)).toBe('0.0001');
  expect(pValue(0.0432)).toBe('0.043');
  expect(pValue(1)).toBe('1');
});

test('shares', () => {
  expect(plain(percent(0.1112))).toBe('11 %');
  expect(plain(percent(0.0042))).toBe('0.4 %');
  expect(plain(percent(0))).toBe('0 %');
  expect(plain(percent(1))).toBe('100 %');
});

test('counts and their nouns', () => {
  expect(plural(1, 'pass', 'passes')).toBe('1 pass');
  expect(plural(0, 'pass', 'passes')).toBe('0 passes');
  expect(plain(whole(100000))).toBe('100 000');
  expect(whole(9999)).toBe('9999');
});

test('ratios and clocks', () => {
  expect(plain(ratio(1.265))).toBe('1.3 ×');
  expect(clock('2025-06-01T09:04:41+01:00')).toBe('2025-06-01 09:04:41');
});

test('remarks of the program stand alone', () => {
  expect(sentenceCase('few animals')).toBe('Few animals.');
  expect(sentenceCase('did you mean "T001"?')).toBe('Did you mean "T001"?');
});

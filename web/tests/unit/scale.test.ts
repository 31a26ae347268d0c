import { describe, expect, test } from 'vitest';
import { chances } from './fixtures';
import { linearScale, linearTicks, logDomain, logScale, logTicks, niceStep } from '$lib/draw/scale';

const majors = (domain: [number, number]) =>
  logTicks(domain)
    .filter((t) => t.major)
    .map((t) => t.value);

describe('log ticks', () => {
  test.each<[string, [number, number], number[]]>([
    ['a decade and a half shows 1, 2, 5', [3, 100], [5, 10, 20, 50, 100]],
    ['long axes show decades only', [0.1, 5000], [0.1, 1, 10, 100, 1000]],
    ['short axes show every step', [3, 7], [3, 4, 5, 6, 7]],
    ['ends are counted in', [1, 10], [1, 2, 5, 10]],
  ])('%s', (_, domain, expected) => expect(majors(domain)).toEqual(expected));

  test('minor ticks fill the decade', () => {
    expect(logTicks([1, 10]).map((t) => t.value)).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
  });

  test.each([
    [0, 10],
    [-1, 10],
    [5, 5],
    [NaN, 1],
  ])('nothing for the impossible domain %d to %d', (low, high) => expect(logTicks([low, high])).toEqual([]));

  test('all ticks lie within the domain and rise', () => {
    const chance = chances(1);
    for (let i = 0; i < 200; i++) {
      const low = 10 ** (chance() * 8 - 4);
      const domain: [number, number] = [low, low * 10 ** (0.05 + chance() * 6)];
      const values = logTicks(domain).map((t) => t.value);
      expect(values.every((v) => v >= domain[0] * 0.999999 && v <= domain[1] * 1.000001)).toBe(true);
      expect([...values].sort((a, b) => a - b)).toEqual(values);
    }
  });
});

test('linear ticks are round and within the domain', () => {
  expect(linearTicks([0, 3]).map((t) => t.value)).toEqual([0, 1, 2, 3]);
  expect(linearTicks([0, 0.2], 4).map((t) => t.value)).toEqual([0, 0.05, 0.1, 0.15, 0.2]);
  expect(linearTicks([1, 1])).toEqual([]);
});

test('nice steps are 1, 2 or 5 times a power of ten', () => {
  expect([0.9, 1.1, 3, 7, 0.03].map(niceStep)).toEqual([1, 2, 5, 10, 0.05]);
});

test('scales go there and back', () => {
  const log = logScale([1, 1000], [0, 300]);
  expect(log.at(10)).toBeCloseTo(100, 9);
  expect(log.back(log.at(37))).toBeCloseTo(37, 9);
  const linear = linearScale([2, 4], [100, 0]);
  expect(linear.at(3)).toBe(50);
  expect(linear.back(25)).toBeCloseTo(3.5, 12);
});

test('nothing at or below zero has a place on a log axis: it stays at the low end', () => {
  const log = logScale([1, 10], [40, 140]);
  expect([log.at(0), log.at(-5)]).toEqual([40, 40]);
});

describe('log domain', () => {
  test('spans what is positive and finite', () => {
    const [low, high] = logDomain([null, 0, -3, undefined, Infinity, 2, 200]);
    expect(low).toBeLessThan(2);
    expect(high).toBeGreaterThan(200);
    expect(high).toBeLessThan(1000);
  });
  test('is at least a factor of four wide round one value', () => {
    const [low, high] = logDomain([10, 10]);
    expect(high / low).toBeCloseTo(4, 9);
    expect(Math.sqrt(low * high)).toBeCloseTo(10, 9);
  });
  test('exists where there is nothing', () => expect(logDomain([])).toEqual([1, 100]));
});

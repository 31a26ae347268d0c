import { describe, expect, test } from 'vitest';
import { gridOf, isolines, regionsAbove, type Grid, type Line } from '$lib/draw/isolines';

const steps = (low: number, high: number, n: number) =>
  Array.from({ length: n }, (_, i) => low + ((high - low) * i) / (n - 1));

/** made lays a function on a grid of n by n places from −1 to 1. */
function made(n: number, value: (u: number, v: number) => number | null): Grid {
  const at = steps(-1, 1, n);
  return gridOf(
    at,
    at,
    at.flatMap((v) => at.map((u) => value(u, v))),
  );
}

/** area by the shoelace formula: positive anticlockwise. */
const area = ({ u, v }: Line): number =>
  u.reduce((sum, x, i) => sum + x * v[(i + 1) % v.length]! - u[(i + 1) % u.length]! * v[i]!, 0) / 2;
const areas = (lines: Line[]): number => lines.reduce((sum, l) => sum + area(l), 0);

describe('a circle', () => {
  // Closed forms: radius 0.6, area π·0.36. Linear interpolation of a square
  // function is off by at most h²/8 times its second derivative 2, over its slope 1.2.
  const grid = made(101, (u, v) => 1 - u * u - v * v);
  const lines = isolines(grid, 1 - 0.36);
  test('is one closed line, anticlockwise round the higher values', () => {
    expect(lines).toHaveLength(1);
    expect(lines[0]!.closed).toBe(true);
    expect(area(lines[0]!)).toBeGreaterThan(0);
  });
  test('lies on the circle to a ten-thousandth', () => {
    const radii = lines[0]!.u.map((u, i) => Math.hypot(u, lines[0]!.v[i]!));
    expect(Math.max(...radii.map((r) => Math.abs(r - 0.6)))).toBeLessThan(1.2e-4);
    expect(area(lines[0]!)).toBeCloseTo(Math.PI * 0.36, 3);
  });
  test('is found to second order: half the step, a quarter of the error', () => {
    const error = (n: number) =>
      Math.abs(
        areas(
          isolines(
            made(n, (u, v) => 1 - u * u - v * v),
            0.64,
          ),
        ) -
          Math.PI * 0.36,
      );
    const order = Math.log2(error(26) / error(51));
    expect(order).toBeGreaterThan(1.6);
    expect(order).toBeLessThan(2.6);
  });
  test('a hole runs the other way', () => {
    const bowl = regionsAbove(
      made(101, (u, v) => u * u + v * v),
      0.36,
    );
    expect(bowl).toHaveLength(2);
    expect(areas(bowl)).toBeCloseTo(4 - Math.PI * 0.36, 3);
    expect(Math.min(...bowl.map(area))).toBeCloseTo(-Math.PI * 0.36, 3);
  });
});

test('a field that falls with the cube of the distance is a circle in its logarithm', () => {
  // 1/r³ = 8 at r = 1/2; on the raw values the chord of a cell is well outside.
  const grid = made(60, (u, v) => -3 * Math.log10(Math.hypot(u, v)));
  const [line] = isolines(grid, Math.log10(8));
  for (const [i, u] of line!.u.entries()) expect(Math.abs(Math.hypot(u, line!.v[i]!) - 0.5)).toBeLessThan(5e-4);
});

describe('a saddle in one cell', () => {
  const corners = (values: number[]) => gridOf([0, 1], [0, 1], values);
  test('is parted where its middle is below the level', () => {
    const lines = isolines(corners([1, 0, 0, 1]), 0.6);
    expect(lines).toHaveLength(2);
    // Two triangles of legs 0.4 at the high corners.
    const parts = regionsAbove(corners([1, 0, 0, 1]), 0.6);
    expect(parts).toHaveLength(2);
    expect(areas(parts)).toBeCloseTo(2 * 0.08, 12);
  });
  test('is joined where its middle is above the level', () => {
    const parts = regionsAbove(corners([1, 0, 0, 1]), 0.4);
    expect(parts).toHaveLength(1);
    // All but two triangles of legs 0.4 at the low corners.
    expect(areas(parts)).toBeCloseTo(1 - 2 * 0.08, 12);
  });
  test('and so is the other saddle', () => {
    expect(areas(regionsAbove(corners([0, 1, 1, 0]), 0.6))).toBeCloseTo(0.16, 12);
    const parts = regionsAbove(corners([0, 1, 1, 0]), 0.4);
    expect(parts).toHaveLength(1);
    expect(areas(parts)).toBeCloseTo(0.84, 12);
  });
  test('x·y has its two lines at level 0.1 in two quarters', () => {
    const lines = isolines(
      made(41, (u, v) => u * v),
      0.1,
    );
    expect(lines).toHaveLength(2);
    for (const { u, v, closed } of lines) {
      expect(closed).toBe(false);
      // The hyperbola itself, to the chord of a cell.
      u.forEach((x, i) => expect(x * v[i]!).toBeCloseTo(0.1, 2));
    }
  });
});

describe('where there is no number', () => {
  const holed = made(21, (u, v) => (Math.abs(u) < 0.25 && Math.abs(v) < 0.25 ? null : 2 - u));
  test('the region ends at the cells that are whole', () => {
    const parts = regionsAbove(holed, 0);
    expect(parts).toHaveLength(2);
    // Steps of 0.1: the places from −0.2 to 0.2 are missing, the cells from −0.3 to 0.3.
    expect(areas(parts)).toBeCloseTo(4 - 0.36, 12);
  });
  test('a line stops there and goes on beyond', () => {
    const lines = isolines(holed, 2);
    expect(lines).toHaveLength(2);
    expect(lines.every((l) => !l.closed)).toBe(true);
    const reached = lines.flatMap((l) => l.v.map(Math.abs));
    expect(Math.min(...reached)).toBeCloseTo(0.3, 12);
  });
  test('nothing at all gives nothing', () => {
    const none = made(5, () => null);
    expect(isolines(none, 0)).toEqual([]);
    expect(regionsAbove(none, 0)).toEqual([]);
    expect(
      regionsAbove(
        made(5, () => -1),
        0,
      ),
    ).toEqual([]);
  });
  test('a value of minus infinity keeps the line finite', () => {
    const grid = made(21, (u) => Math.log10(Math.max(0, u)));
    for (const { u, v } of isolines(grid, -0.5)) for (const x of [...u, ...v]) expect(Number.isFinite(x)).toBe(true);
  });
  test('two whole cells that touch at a corner are two regions or one, of the right area', () => {
    const at = [0, 1, 2];
    const grid = gridOf(at, at, [1, 1, null, 1, 1, 1, null, 1, 1]);
    expect(areas(regionsAbove(grid, 0))).toBeCloseTo(2, 12);
  });
});

test('everything above is the whole rectangle', () => {
  const parts = regionsAbove(
    made(11, () => 5),
    1,
  );
  expect(parts).toHaveLength(1);
  expect(areas(parts)).toBeCloseTo(4, 12);
});

// Surfaces against closed forms: area 4πr² and volume 4πr³/3 of a sphere, and
// the dipole's own surface. Watertight is meant as in geometry: every edge
// belongs to two triangles that run along it in opposite directions.
import { describe, expect, test } from 'vitest';
import { extentOf, isoSurface, withoutSpecks, type Grid, type Mesh } from '$lib/draw/iso-surface';

function grid(n: number, half: number, f: (x: number, y: number, z: number) => number | null): Grid {
  const axis = Array.from({ length: n }, (_, i) => -half + (2 * half * i) / (n - 1));
  const values = axis.flatMap((z) => axis.flatMap((y) => axis.map((x) => f(x, y, z))));
  return { x_m: axis, y_m: axis, z_m: axis, values };
}

function corners(mesh: Mesh, t: number): [number[], number[], number[]] {
  const point = (i: number) => [...mesh.positions.subarray(3 * mesh.triangles[3 * t + i]!).subarray(0, 3)];
  return [point(0), point(1), point(2)];
}

const minus = (a: number[], b: number[]) => a.map((v, i) => v - b[i]!);
const dot = (a: number[], b: number[]) => a.reduce((s, v, i) => s + v * b[i]!, 0);
const cross = (a: number[], b: number[]) => [
  a[1]! * b[2]! - a[2]! * b[1]!,
  a[2]! * b[0]! - a[0]! * b[2]!,
  a[0]! * b[1]! - a[1]! * b[0]!,
];

/** measures gives the area, and the volume by the theorem of Gauss: positive where triangles look outwards. */
function measures(mesh: Mesh): { area: number; volume: number } {
  let [area, volume] = [0, 0];
  for (let t = 0; t < mesh.triangles.length / 3; t++) {
    const [a, b, c] = corners(mesh, t);
    const n = cross(minus(b, a), minus(c, a));
    area += Math.hypot(...n) / 2;
    volume += dot(a, cross(b, c)) / 6;
  }
  return { area, volume };
}

/** openEdges counts the edges that do not have exactly one partner in the other direction. */
function openEdges(mesh: Mesh): number {
  const seen = new Map<string, number>();
  for (let i = 0; i < mesh.triangles.length; i += 3) {
    for (let e = 0; e < 3; e++) {
      const [a, b] = [mesh.triangles[i + e]!, mesh.triangles[i + ((e + 1) % 3)]!];
      seen.set(`${a}>${b}`, (seen.get(`${a}>${b}`) ?? 0) + 1);
    }
  }
  return [...seen].filter(([key, n]) => {
    const [a, b] = key.split('>');
    return n !== 1 || seen.get(`${b}>${a}`) !== 1;
  }).length;
}

const monopole = (x: number, y: number, z: number) => 1 / (x * x + y * y + z * z || 1e-6);

describe('a sphere: 1/r² at the level of r = 0.7', () => {
  const mesh = isoSurface(grid(40, 1, monopole), 1 / 0.49);
  test('area and volume to 1 %', () => {
    const { area, volume } = measures(mesh);
    expect(area / (4 * Math.PI * 0.7 ** 2)).toBeCloseTo(1, 2);
    expect(Math.abs(area / (4 * Math.PI * 0.49) - 1)).toBeLessThan(0.01);
    expect(Math.abs(volume / ((4 / 3) * Math.PI * 0.343) - 1)).toBeLessThan(0.01);
  });
  test('is watertight and looks outwards', () => expect(openEdges(mesh)).toBe(0));
  test('reaches as far as its radius on every side', () => {
    const extent = extentOf(mesh)!;
    for (const v of [...extent.high, ...extent.low.map((l) => -l)]) expect(Math.abs(v / 0.7 - 1)).toBeLessThan(0.01);
  });
});

test('the error goes with the square of the step', () => {
  const wrong = (n: number) =>
    1 - measures(isoSurface(grid(n, 1, monopole), 1 / 0.49)).volume / (1.3333333 * Math.PI * 0.343);
  const order = Math.log2(wrong(17) / wrong(33));
  expect(order).toBeGreaterThan(1.6);
  expect(order).toBeLessThan(2.6);
});

test('a dipole along x: on the axis twice as strong as beside it, so its surface reaches 2^⅓ as far', () => {
  const dipole = (x: number, y: number, z: number) => {
    const r2 = x * x + y * y + z * z || 1e-4;
    return Math.sqrt(1 + (3 * x * x) / r2) / r2 ** 1.5;
  };
  const mesh = isoSurface(grid(48, 1, dipole), 8); // beside the dipole r = 8^(−1/3) = 0.5
  const { high } = extentOf(mesh)!;
  expect(Math.abs(high[1] / 0.5 - 1)).toBeLessThan(0.01);
  expect(Math.abs(high[0] / (0.5 * 2 ** (1 / 3)) - 1)).toBeLessThan(0.01);
  expect(openEdges(mesh)).toBe(0);
});

test('values exactly at the level leave no gap', () => {
  // On whole numbers many grid points lie on the surface itself.
  const whole = grid(9, 4, (x, y, z) => 20 - Math.abs(x) - Math.abs(y) - Math.abs(z));
  expect(openEdges(isoSurface(whole, 17))).toBe(0);
});

test('a hole opens the surface only there', () => {
  const holed = isoSurface(
    grid(40, 1, (x, y, z) => (z < -0.5 ? null : monopole(x, y, z))),
    1 / 0.49,
  );
  expect(openEdges(holed)).toBeGreaterThan(0);
  // The cap below a height h off the centre is missing: 2πr(r + h) of the area remains, h the lowest whole layer.
  const lowest = extentOf(holed)!.low[2];
  expect(lowest).toBeGreaterThanOrEqual(-0.5);
  expect(Math.abs(measures(holed).area / (2 * Math.PI * 0.7 * (0.7 - lowest)) - 1)).toBeLessThan(0.01);
  expect([...holed.positions].every(Number.isFinite)).toBe(true);
});

test.each([
  ['above all values', grid(5, 1, () => 3), 4],
  ['below all values', grid(5, 1, () => 3), 2],
  ['no value at all', grid(5, 1, () => null), 1],
  ['a level of 0', grid(5, 1, monopole), 0],
  ['one layer', { x_m: [0, 1], y_m: [0, 1], z_m: [0], values: [1, 2, 3, 4] }, 2],
])('no surface: %s', (_, g, level) => {
  expect(isoSurface(g, level).triangles).toHaveLength(0);
  expect(extentOf(isoSurface(g, level))).toBeUndefined();
});

test('a field of nothing beside one of something is cut at the something', () => {
  const step = grid(5, 1, (x) => (x > 0 ? 10 : 0));
  const { high, low } = extentOf(isoSurface(step, 5))!;
  expect(low[0]).toBeGreaterThan(0);
  expect(high[0]).toBeLessThanOrEqual(0.5);
});

describe('specks', () => {
  // A ball of radius 0.4 at the middle, and a single point that stands out in a corner.
  const peaks = grid(21, 1, (x, y, z) => (Math.hypot(x - 0.9, y - 0.9, z - 0.9) < 0.02 ? 100 : monopole(x, y, z)));
  const whole = isoSurface(peaks, 1 / 0.16);
  const kept = withoutSpecks(whole, peaks);
  test('go, the shell stays as it was', () => {
    expect(extentOf(whole)!.high[0]).toBeGreaterThan(0.85);
    expect(extentOf(kept)!.high[0]).toBeLessThan(0.42);
    expect(openEdges(kept)).toBe(0);
    expect(kept.triangles.length).toBeLessThan(whole.triangles.length);
    expect(Math.abs(measures(kept).volume / ((4 / 3) * Math.PI * 0.064) - 1)).toBeLessThan(0.03);
  });
  test('a surface without any is given back itself', () => {
    const plain = grid(21, 1, monopole);
    const mesh = isoSurface(plain, 1 / 0.16);
    expect(withoutSpecks(mesh, plain)).toBe(mesh);
    const small = isoSurface(plain, 1 / 0.01);
    expect(small.triangles.length).toBeGreaterThan(0);
    expect(withoutSpecks(small, plain)).toBe(small);
    const none = isoSurface(plain, 1e9);
    expect(withoutSpecks(none, plain)).toBe(none);
  });
});

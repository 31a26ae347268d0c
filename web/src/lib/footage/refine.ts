// Refining a match between pixels: least squares over the template's grey values,
// in which the place, a small turn and a change of size, brightness and contrast
// are free (Gauss-Newton, with the template's own slopes, so that its normal
// equations are the same in every round). It has no pull towards whole pixels; what
// is left comes of interpolating the picture (Catmull-Rom): below 0.01 px for
// detail of five pixels and more, 0.05 px for detail of three.
import type { Grey } from './grey';

export interface Detail {
  half: number;
  /** Weights of a row; that of a pixel is the product of two. */
  weights: Float32Array;
  /** For each pixel: grey value, 1, and its slopes along x, y, size and turn. */
  columns: Float64Array[];
  /** Cholesky factor of the weighted normal equations. */
  factor: Float64Array;
}

export interface Refined {
  /** Of the template's centre, pixels of the picture. */
  at: [number, number];
  /** What the template's own steps are in the picture: a small turn and change of size. */
  turn: [number, number];
  score: number;
}

const unknowns = 6;
type Columns = [Float64Array, Float64Array, Float64Array, Float64Array, Float64Array, Float64Array];

/** detailOf takes slopes of the template around (cx, cy) of the cutting; undefined where they tell no place. */
export function detailOf(grey: Grey, cx: number, cy: number, half: number, weights: Float32Array): Detail | undefined {
  const n = 2 * half + 1;
  const columns = Array.from({ length: unknowns }, () => new Float64Array(n * n));
  const [value, one, along, down, size, turn] = columns as Columns;
  const g = (x: number, y: number): number =>
    grey.data[Math.min(grey.height - 1, Math.max(0, y)) * grey.width + Math.min(grey.width - 1, Math.max(0, x))]!;
  for (let j = -half; j <= half; j++)
    for (let i = -half; i <= half; i++) {
      const [x, y, k] = [cx + i, cy + j, (j + half) * n + i + half];
      // Slopes by central differences of the fourth order.
      const sx = (8 * (g(x + 1, y) - g(x - 1, y)) - (g(x + 2, y) - g(x - 2, y))) / 12;
      const sy = (8 * (g(x, y + 1) - g(x, y - 1)) - (g(x, y + 2) - g(x, y - 2))) / 12;
      value[k] = g(x, y);
      one[k] = 1;
      along[k] = sx;
      down[k] = sy;
      size[k] = sx * i + sy * j;
      turn[k] = sy * i - sx * j;
    }
  const normal = new Float64Array(unknowns * unknowns);
  for (let j = 0; j < n; j++)
    for (let i = 0; i < n; i++) {
      const w = weights[i]! * weights[j]!;
      const k = j * n + i;
      for (let a = 0; a < unknowns; a++)
        for (let b = 0; b <= a; b++) normal[a * unknowns + b]! += w * columns[a]![k]! * columns[b]![k]!;
    }
  const factor = cholesky(normal);
  return factor && { half, weights, columns, factor };
}

/** cholesky is the lower factor; undefined where the matrix is (nearly) singular. */
function cholesky(m: Float64Array): Float64Array | undefined {
  const l = new Float64Array(unknowns * unknowns);
  for (let a = 0; a < unknowns; a++)
    for (let b = 0; b <= a; b++) {
      let sum = m[a * unknowns + b]!;
      for (let k = 0; k < b; k++) sum -= l[a * unknowns + k]! * l[b * unknowns + k]!;
      if (a === b) {
        if (!(sum > 1e-9 * m[a * unknowns + a]!)) return undefined;
        l[a * unknowns + a] = Math.sqrt(sum);
      } else l[a * unknowns + b] = sum / l[b * unknowns + b]!;
    }
  return l;
}

function solve(l: Float64Array, right: Float64Array): Float64Array {
  const x = Float64Array.from(right);
  for (let a = 0; a < unknowns; a++) {
    for (let k = 0; k < a; k++) x[a]! -= l[a * unknowns + k]! * x[k]!;
    x[a]! /= l[a * unknowns + a]!;
  }
  for (let a = unknowns - 1; a >= 0; a--) {
    for (let k = a + 1; k < unknowns; k++) x[a]! -= l[k * unknowns + a]! * x[k]!;
    x[a]! /= l[a * unknowns + a]!;
  }
  return x;
}

/** The four weights of Catmull and Rom's cubic at t between the second and the third value. */
const cubic = (t: number, out: Float64Array): void => {
  out[0] = t * (-0.5 + t * (1 - 0.5 * t));
  out[1] = 1 + t * t * (-2.5 + 1.5 * t);
  out[2] = t * (0.5 + t * (2 - 1.5 * t));
  out[3] = t * t * (-0.5 + 0.5 * t);
};

const [wx, wy] = [new Float64Array(4), new Float64Array(4)];

/** valueAt interpolates; places count in the cutting's own pixels. NaN outside. */
export function valueAt(grey: Grey, x: number, y: number): number {
  const ix = Math.floor(x);
  const iy = Math.floor(y);
  if (!(ix >= 1 && iy >= 1 && ix + 2 < grey.width && iy + 2 < grey.height)) return NaN;
  cubic(x - ix, wx);
  cubic(y - iy, wy);
  let sum = 0;
  for (let j = 0; j < 4; j++) {
    const from = (iy - 1 + j) * grey.width + ix - 1;
    sum +=
      wy[j]! *
      (wx[0]! * grey.data[from]! +
        wx[1]! * grey.data[from + 1]! +
        wx[2]! * grey.data[from + 2]! +
        wx[3]! * grey.data[from + 3]!);
  }
  return sum;
}

/** A step below this ends it, pixels. */
const enough = 0.002;
const mostRounds = 12;

/** refine begins at a place of the picture that is right within about a pixel; undefined where it leads nowhere. */
export function refine(d: Detail, to: Grey, start: readonly [number, number]): Refined | undefined {
  const n = 2 * d.half + 1;
  let [px, py] = [start[0] - to.left, start[1] - to.top];
  // A turn and a change of size together are one complex number.
  let [za, zb] = [1, 0];
  const right = new Float64Array(unknowns);
  const [value0, , along, down, size, turn] = d.columns as Columns;
  const seen = new Float64Array(n * n);
  for (let round = 0; round < mostRounds; round++) {
    right.fill(0);
    for (let j = 0; j < n; j++)
      for (let i = 0; i < n; i++) {
        const u = i - d.half;
        const v = j - d.half;
        const k = j * n + i;
        const value = valueAt(to, px + za * u - zb * v, py + zb * u + za * v);
        if (Number.isNaN(value)) return undefined;
        seen[k] = value;
        const w = d.weights[i]! * d.weights[j]! * value;
        right[0]! += w * value0[k]!;
        right[1]! += w;
        right[2]! += w * along[k]!;
        right[3]! += w * down[k]!;
        right[4]! += w * size[k]!;
        right[5]! += w * turn[k]!;
      }
    const step = solve(d.factor, right);
    const gain = step[0]!;
    if (!(gain > 0.05)) return undefined;
    const [dx, dy, ds, dt] = [step[2]! / gain, step[3]! / gain, step[4]! / gain, step[5]! / gain];
    // z / (1 + ds + i·dt), and the place goes back by the step as it is seen there.
    const below = (1 + ds) ** 2 + dt * dt;
    if (!(below > 0.25)) return undefined;
    [za, zb] = [(za * (1 + ds) + zb * dt) / below, (zb * (1 + ds) - za * dt) / below];
    const [mx, my] = [za * dx - zb * dy, zb * dx + za * dy];
    px -= mx;
    py -= my;
    const away = Math.hypot(px + to.left - start[0], py + to.top - start[1]);
    if (!(away < 2 && Math.abs(za - 1) < 0.25 && Math.abs(zb) < 0.35)) return undefined;
    if (Math.hypot(mx, my) < enough)
      return { at: [px + to.left, py + to.top], turn: [za, zb], score: likeness(d, seen) };
  }
  return undefined;
}

/** likeness is the weighted correlation of the template with what is seen. */
function likeness(d: Detail, seen: Float64Array): number {
  const n = 2 * d.half + 1;
  const value = d.columns[0]!;
  let [a, b, aa, bb, ab] = [0, 0, 0, 0, 0];
  for (let j = 0; j < n; j++)
    for (let i = 0; i < n; i++) {
      const w = d.weights[i]! * d.weights[j]!;
      const [p, q] = [value[j * n + i]!, seen[j * n + i]!];
      a += w * p;
      b += w * q;
      aa += w * p * p;
      bb += w * q * q;
      ab += w * p * q;
    }
  const below = Math.sqrt(Math.max(0, (aa - a * a) * (bb - b * b)));
  return below > 1e-9 ? Math.min(1, (ab - a * b) / below) : 0;
}

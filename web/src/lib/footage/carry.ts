// Carrying a point from one picture to the next: the neighbourhood of the point
// (the template) is laid on every place of a window in the next picture, and the
// place where it correlates best is taken.
//
// The correlation is normalised and has its mean removed, so that a brighter or
// paler picture changes nothing (Pearson's r of the grey values, under a Gaussian
// weight that is 1 at the point and e^-2 at the template's edge: the animal counts
// more than the bottom that does not move with it).
//
// Between pixels a paraboloid is fitted by least squares to the nine values around
// the best. The peak of r is no paraboloid, so that its answer is drawn by up to a
// tenth of a pixel towards whole pixels; refine.ts begins there and goes on without
// that pull, and lets the animal turn and grow a little. Where it leads nowhere
// the paraboloid's answer stands. tests/unit/carry.test.ts measures both.
//
// What is not sure is not carried: the answer then says why, and the point stays
// with the person.
import { toClip, toPicture, type Grey, type Pixel } from './grey';
import { detailOf, refine, type Detail } from './refine';

export type { Grey } from './grey';

/**
 * Why a point is not carried on. flat: its neighbourhood is all of one tone; poor:
 * nothing there looks like it; alike: two places look like it; edge: it comes to
 * the edge of the picture or of the window; far: it would have jumped.
 */
export type Why = '' | 'flat' | 'poor' | 'alike' | 'edge' | 'far';

export interface CarryOptions {
  /** Width of the template, pixels of the picture; odd. */
  template?: number;
  /** Largest step from the place that is expected, pixels of the picture. */
  search?: number;
  /** Where the point is expected in the next picture, pixels of the clip; else where it was. */
  expected?: Pixel;
  /** Least correlation that is believed. */
  leastScore?: number;
  /** The best must stand out from the second best: (1 − best) / (1 − second) is at most this. */
  mostAlike?: number;
  /** A step away from the expected place that is no longer believed, pixels of the picture. */
  farthest?: number;
}

export interface Carried {
  /** Where the point is, pixels of the clip; where it was, if why says that it was not found. */
  pixel: [number, number];
  /** Correlation there, −1 to 1. */
  score: number;
  /** Correlation of the best place that is another one. */
  second: number;
  why: Why;
}

export const carryDefaults = { template: 31, search: 32, leastScore: 0.75, mostAlike: 0.6, farthest: 28 };

/** reachOf is how far from a point its cutting must reach, so that nothing is missed. */
export const reachOf = (o: CarryOptions = {}): number =>
  (o.search ?? carryDefaults.search) + ((o.template ?? carryDefaults.template) - 1) / 2 + 2;

/** Template is the neighbourhood of a point, ready to be looked for. */
export interface Template {
  half: number;
  /** Weight times grey value less the weighted mean: sums to 0. */
  values: Float32Array;
  /** Weights of a row; that of a pixel is the product of two, which sum to 1. */
  weights: Float32Array;
  /** Weighted standard deviation, grey values. */
  sd: number;
  /** From the template's central pixel to the point, pixels of the picture. */
  offset: [number, number];
  /** For refining; undefined where its slopes tell no place, as along a straight edge. */
  detail: Detail | undefined;
}

/** Below this standard deviation (of 255 grey values) there is nothing to hold on to. */
const flatSD = 1.5;

/** templateOf cuts the template out; undefined where it does not fit into the picture. */
export function templateOf(grey: Grey, pixel: Pixel, size = carryDefaults.template): Template | undefined {
  const half = Math.max(2, Math.floor(size / 2));
  const [px, py] = toPicture(grey, pixel);
  const [cx, cy] = [Math.round(px), Math.round(py)];
  const [x0, y0] = [cx - half - grey.left, cy - half - grey.top];
  const n = 2 * half + 1;
  if (!(x0 >= 0 && y0 >= 0 && x0 + n <= grey.width && y0 + n <= grey.height)) return undefined;
  const weights = weightsOf(half);
  const values = new Float32Array(n * n);
  let [mean, square] = [0, 0];
  for (let j = 0; j < n; j++)
    for (let i = 0; i < n; i++) {
      const [v, w] = [grey.data[(y0 + j) * grey.width + x0 + i]!, weights[i]! * weights[j]!];
      mean += w * v;
      square += w * v * v;
    }
  for (let j = 0; j < n; j++)
    for (let i = 0; i < n; i++) {
      const v = grey.data[(y0 + j) * grey.width + x0 + i]!;
      values[j * n + i] = weights[i]! * weights[j]! * (v - mean);
    }
  const sd = Math.sqrt(Math.max(0, square - mean * mean));
  const detail = detailOf(grey, x0 + half, y0 + half, half, weights);
  return { half, values, weights, sd, offset: [px - cx, py - cy], detail };
}

/** weightsOf is a Gaussian that falls to e^-2 at half, and sums to 1. */
function weightsOf(half: number): Float32Array {
  const w = Float32Array.from({ length: 2 * half + 1 }, (_, i) => Math.exp(-2 * ((i - half) / half) ** 2));
  const sum = w.reduce((a, b) => a + b, 0);
  return w.map((v) => v / sum);
}

/** Scores are correlations for every whole step of a window. */
interface Scores {
  width: number;
  height: number;
  r: Float32Array;
}

/** correlate lays the template on every place of the cutting whose first centre is (x0 + half, y0 + half). */
function correlate(t: Template, grey: Grey, x0: number, y0: number, width: number, height: number): Scores {
  const n = 2 * t.half + 1;
  const [wide, tall] = [width + n - 1, height + n - 1];
  // Weighted means and squares of every place: two passes, since the weight is a product.
  const [rowMean, rowSquare] = [new Float32Array(width * tall), new Float32Array(width * tall)];
  const line = new Float32Array(wide);
  for (let y = 0; y < tall; y++) {
    const from = (y0 + y) * grey.width + x0;
    for (let x = 0; x < wide; x++) line[x] = grey.data[from + x]!;
    for (let x = 0; x < width; x++) {
      let m = 0;
      let s = 0;
      for (let i = 0; i < n; i++) {
        const v = line[x + i]!;
        const wv = t.weights[i]! * v;
        m += wv;
        s += wv * v;
      }
      rowMean[y * width + x] = m;
      rowSquare[y * width + x] = s;
    }
  }
  const r = new Float32Array(width * height);
  const row = new Float64Array(width + 3);
  const { data } = grey;
  const { values } = t;
  for (let y = 0; y < height; y++) {
    row.fill(0);
    for (let j = 0; j < n; j++) {
      const from = (y0 + y + j) * grey.width + x0;
      const at = j * n;
      // Four places at a time: their sums do not wait for each other. What is read
      // past the window's end falls into the row's last three and is not used.
      for (let x = 0; x < width; x += 4) {
        let a = 0;
        let b = 0;
        let c = 0;
        let d = 0;
        let k = from + x;
        let v0 = data[k]!;
        let v1 = data[k + 1]!;
        let v2 = data[k + 2]!;
        for (let i = 0; i < n; i++, k++) {
          const v = values[at + i]!;
          const v3 = data[k + 3]!;
          a += v * v0;
          b += v * v1;
          c += v * v2;
          d += v * v3;
          v0 = v1;
          v1 = v2;
          v2 = v3;
        }
        row[x]! += a;
        row[x + 1]! += b;
        row[x + 2]! += c;
        row[x + 3]! += d;
      }
    }
    for (let x = 0; x < width; x++) {
      let m = 0;
      let s = 0;
      for (let j = 0; j < n; j++) {
        m += t.weights[j]! * rowMean[(y + j) * width + x]!;
        s += t.weights[j]! * rowSquare[(y + j) * width + x]!;
      }
      const sd = Math.sqrt(Math.max(0, s - m * m));
      r[y * width + x] = sd < flatSD / 2 ? 0 : Math.max(-1, Math.min(1, row[x]! / (sd * t.sd)));
    }
  }
  return { width, height, r };
}

/** peakOf refines a maximum between pixels; |step| is at most 1. */
export function peakOf(r: Float32Array, width: number, x: number, y: number): { at: [number, number]; score: number } {
  const v = (i: number, j: number): number => r[(y + j) * width + x + i]!;
  // Least squares of a + bx + cy + dx² + exy + fy² on the 3×3 grid, in closed form.
  let [a, b, c, d, e, f] = [0, 0, 0, 0, 0, 0];
  for (let j = -1; j <= 1; j++)
    for (let i = -1; i <= 1; i++) {
      const z = v(i, j);
      a += z * (5 / 9 - (i * i + j * j) / 3);
      b += (z * i) / 6;
      c += (z * j) / 6;
      d += z * ((i * i) / 2 - 1 / 3);
      e += (z * i * j) / 4;
      f += z * ((j * j) / 2 - 1 / 3);
    }
  const det = 4 * d * f - e * e;
  // No maximum: the whole pixel stands.
  if (!(d < 0 && f < 0 && det > 1e-12)) return { at: [x, y], score: v(0, 0) };
  const [sx, sy] = [(e * c - 2 * f * b) / det, (e * b - 2 * d * c) / det];
  if (!(Math.abs(sx) <= 1 && Math.abs(sy) <= 1)) return { at: [x, y], score: v(0, 0) };
  const top = a + b * sx + c * sy + d * sx * sx + e * sx * sy + f * sy * sy;
  return { at: [x + sx, y + sy], score: Math.min(1, Math.max(top, v(0, 0))) };
}

/** find looks for a template around a place of the clip. */
export function find(t: Template, to: Grey, around: Pixel, options: CarryOptions = {}): Carried {
  const o = { ...carryDefaults, ...options };
  const stay = (why: Why, score = 0, second = 0): Carried => ({ pixel: [around[0], around[1]], score, second, why });
  if (t.sd < flatSD) return stay('flat');
  const [ex, ey] = toPicture(to, around);
  const [cx, cy] = [Math.round(ex - t.offset[0]), Math.round(ey - t.offset[1])];
  // The window, as far as the template stays inside the picture.
  const low = (c: number, from: number): number => Math.max(c - o.search, from + t.half);
  const high = (c: number, from: number, size: number): number => Math.min(c + o.search, from + size - 1 - t.half);
  const [xa, xb] = [low(cx, to.left), high(cx, to.left, to.width)];
  const [ya, yb] = [low(cy, to.top), high(cy, to.top, to.height)];
  const [width, height] = [xb - xa + 1, yb - ya + 1];
  if (!(width >= 3 && height >= 3)) return stay('edge');
  const { r } = correlate(t, to, xa - t.half - to.left, ya - t.half - to.top, width, height);
  let best = 0;
  for (let i = 1; i < r.length; i++) if (r[i]! > r[best]!) best = i;
  const [bx, by] = [best % width, Math.floor(best / width)];
  const second = secondOf(r, width, height, bx, by, Math.max(4, Math.round(t.half / 2)));
  if (r[best]! < o.leastScore) return stay('poor', r[best], second);
  if (bx === 0 || by === 0 || bx === width - 1 || by === height - 1) return stay('edge', r[best], second);
  const peak = peakOf(r, width, bx, by);
  if (second >= o.leastScore * 0.9 && 1 - peak.score > o.mostAlike * (1 - second))
    return stay('alike', peak.score, second);
  const begin: [number, number] = [xa + peak.at[0], ya + peak.at[1]];
  const fine = t.detail && refine(t.detail, to, begin);
  const better = fine && fine.score >= peak.score - 0.02 ? fine : undefined;
  const [c, score] = better ? [better.at, better.score] : [begin, peak.score];
  const [za, zb] = better?.turn ?? [1, 0];
  const [ox, oy] = t.offset;
  const at: Pixel = [c[0] + za * ox - zb * oy, c[1] + zb * ox + za * oy];
  if (Math.hypot(at[0] - ex, at[1] - ey) > o.farthest) return stay('far', score, second);
  return { pixel: toClip(to, at), score, second, why: '' };
}

/** secondOf is the highest score that is a summit of its own, away from the best. */
function secondOf(r: Float32Array, width: number, height: number, bx: number, by: number, apart: number): number {
  let second = -1;
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const v = r[y * width + x]!;
      if (v <= second || (x - bx) ** 2 + (y - by) ** 2 <= apart * apart) continue;
      if (summit(r, width, height, x, y)) second = v;
    }
  return second;
}

function summit(r: Float32Array, width: number, height: number, x: number, y: number): boolean {
  const v = r[y * width + x]!;
  for (let j = Math.max(0, y - 1); j <= Math.min(height - 1, y + 1); j++)
    for (let i = Math.max(0, x - 1); i <= Math.min(width - 1, x + 1); i++) if (r[j * width + i]! > v) return false;
  return true;
}

/** carry takes a point of one picture to another. */
export function carry(from: Grey, to: Grey, pixel: Pixel, options: CarryOptions = {}): Carried {
  const t = templateOf(from, pixel, options.template);
  if (!t) return { pixel: [pixel[0], pixel[1]], score: 0, second: 0, why: 'edge' };
  const found = find(t, to, options.expected ?? pixel, options);
  return found.why ? { ...found, pixel: [pixel[0], pixel[1]] } : found;
}

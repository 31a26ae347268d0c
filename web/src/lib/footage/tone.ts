// What the light does to a grey value, as a table over the picture: 8×8 tiles, each
// with its own curve, between which it goes over smoothly. Numbers only, so that the
// graphics card, the plain canvas and the tests use the same.
//
// Clearing is a local equalisation whose slopes are limited (contrast limited
// adaptive histogram equalisation, common practice since Pizer and others 1987,
// doi:10.1016/S0734-189X(87)80186-X): haze is a local loss of contrast. Lifting is a
// power of the grey value with the white point drawn down; contrast draws black and
// white to where the picture ends.
import type { Light } from './light';

/** Tiles across and down. */
export const tiles = 8;
/** Values of each curve, over the square root of the grey value: steps are fine where it is dark. */
export const levels = 64;
const bins = 256;

/** Where counting ends for black and white: specks and bubbles do not set them. */
const tail = 0.004;
/** Black and white are never drawn further apart than this makes of it, else noise is all there is. */
const leastSpan = 0.08;
/** Share of the newest picture in the counts that curves are made of: lights flicker less than the sea. */
const newest = 0.15;
/** Counts that differ by more than this share are another scene, which begins anew. */
const otherScene = 0.35;

/** Weights of red, green and blue. Under water red is lost first and noise is what is left of it, so that grey is mostly green. */
export const weightsOf = (grey: boolean): readonly [number, number, number] =>
  grey ? [0.12, 0.76, 0.12] : [0.299, 0.587, 0.114];

export const isPlain = (l: Light): boolean => l.lift <= 0 && l.clear <= 0 && l.contrast <= 0 && !l.grey;

/** countsOf are shares of grey values in each tile; bytes are RGBA. */
export function countsOf(bytes: Uint8ClampedArray, width: number, height: number, grey: boolean): Float32Array {
  const counts = new Float32Array(tiles * tiles * bins);
  const sizes = new Float32Array(tiles * tiles);
  const [r, g, b] = weightsOf(grey);
  for (let y = 0; y < height; y++) {
    const ty = Math.floor((y * tiles) / height) * tiles;
    for (let x = 0; x < width; x++) {
      const tile = ty + Math.floor((x * tiles) / width);
      const i = (y * width + x) * 4;
      const v = Math.round(r * bytes[i]! + g * bytes[i + 1]! + b * bytes[i + 2]!);
      counts[tile * bins + v]!++;
      sizes[tile]!++;
    }
  }
  for (let t = 0; t < tiles * tiles; t++)
    if (sizes[t]! > 0) for (let v = 0; v < bins; v++) counts[t * bins + v]! /= sizes[t]!;
  return counts;
}

/** blended are the counts that curves are made of after one more picture. */
export function blended(before: Float32Array | undefined, now: Float32Array): Float32Array {
  if (!before || before.length !== now.length) return now;
  // Compared as cumulated: a shift by one grey value is a small change.
  let apart = 0;
  for (let t = 0; t < tiles * tiles; t++) {
    let [a, b] = [0, 0];
    for (let v = 0; v < bins; v++) {
      a += before[t * bins + v]!;
      b += now[t * bins + v]!;
      apart += Math.abs(a - b);
    }
  }
  // The mean distance of two tiles' values, as a share of all grey values.
  if (apart / (tiles * tiles * bins) > otherScene / 4) return now;
  return before.map((v, i) => v + newest * (now[i]! - v));
}

/** ends are black and white of the whole picture, 0 to 1. */
function ends(counts: Float32Array): [number, number] {
  const whole = new Float32Array(bins);
  for (let i = 0; i < counts.length; i++) whole[i % bins]! += counts[i]! / (tiles * tiles);
  const end = (from: number, by: number): number => {
    let sum = 0;
    for (let v = from; v >= 0 && v < bins; v += by) {
      sum += whole[v]!;
      if (sum > tail) return v / (bins - 1);
    }
    return from / (bins - 1);
  };
  return [end(0, 1), end(bins - 1, -1)];
}

const clamp = (v: number): number => Math.min(1, Math.max(0, v));

/** toneOf is what lift and contrast make of a grey value, 0 to 1, alike everywhere in the picture. */
export function toneOf(light: Light, [black, white]: readonly [number, number]): (v: number) => number {
  const low = black * clamp(light.contrast);
  const high = Math.max(low + leastSpan, 1 - (1 - white) * clamp(Math.max(light.contrast, light.lift)));
  const power = 1 / (1 + 1.6 * clamp(light.lift));
  return (v) => clamp((v - low) / (high - low)) ** power;
}

/** curvesOf is the table: levels × tiles × tiles values 0 to 1, level fastest, then across, then down. */
export function curvesOf(counts: Float32Array, light: Light): Float32Array {
  const tone = toneOf(light, ends(counts));
  const curves = new Float32Array(levels * tiles * tiles);
  const clear = clamp(light.clear);
  // The steepest slope of the equalised curve: enough to bring haze back, too little for noise to fill the picture.
  const steepest = (1 + 3 * clear) / bins;
  const toned = Float32Array.from({ length: bins }, (_, v) => tone(v / (bins - 1)));
  const counted = new Float32Array(bins);
  const sums = new Float32Array(bins + 1);
  for (let t = 0; t < tiles * tiles; t++) {
    if (clear > 0) equalise(counts.subarray(t * bins, (t + 1) * bins), toned, steepest, counted, sums);
    for (let k = 0; k < levels; k++) {
      const v = tone((k / (levels - 1)) ** 2);
      const at = v * bins;
      const i = Math.min(bins - 1, Math.floor(at));
      const even = clear > 0 ? sums[i]! + (at - i) * (sums[i + 1]! - sums[i]!) : 0;
      curves[t * levels + k] = v + clear * (even - v);
    }
  }
  return curves;
}

/** equalise cumulates a tile's counts after the tone; what is above the limit is spread over all. */
function equalise(
  counts: Float32Array,
  toned: Float32Array,
  steepest: number,
  counted: Float32Array,
  sums: Float32Array,
): void {
  counted.fill(0);
  // A tone draws values apart: each is spread up to the next, so that no gaps are taken for structure.
  for (let v = 0; v < bins; v++) {
    const c = counts[v]!;
    if (c === 0) continue;
    const from = toned[v]! * (bins - 1);
    const to = Math.max(from + 1, v + 1 < bins ? toned[v + 1]! * (bins - 1) : from + 1);
    const [a, b] = [Math.floor(from), Math.min(bins, Math.ceil(to))];
    for (let i = a; i < b; i++) counted[i]! += c / (b - a);
  }
  // Two rounds: what was spread may pass the limit again.
  for (let round = 0; round < 2; round++) {
    let over = 0;
    for (let i = 0; i < bins; i++)
      if (counted[i]! > steepest) {
        over += counted[i]! - steepest;
        counted[i] = steepest;
      }
    for (let i = 0; i < bins; i++) counted[i]! += over / bins;
  }
  sums[0] = 0;
  for (let i = 0; i < bins; i++) sums[i + 1] = Math.min(1, sums[i]! + counted[i]!);
}

/** Colours grow with the light, but no further: in the dark they are mostly noise. */
export const mostColour = 3;

/** Steps of the grey value in the table of the plain canvas: four for each value of eight bits. */
const steps = 4 * bins;

/** unrolled writes the curves over the grey value itself: the square roots are taken once for the picture. */
function unrolled(curves: Float32Array): Float32Array {
  const out = new Float32Array(tiles * tiles * steps);
  for (let v = 0; v < steps; v++) {
    const level = Math.sqrt(v / (steps - 4)) * (levels - 1);
    const k = Math.min(levels - 2, Math.floor(level));
    const w = Math.min(1, level - k);
    for (let t = 0; t < tiles * tiles; t++) {
      const at = t * levels + k;
      out[t * steps + v] = 255 * (curves[at]! + w * (curves[at + 1]! - curves[at]!));
    }
  }
  return out;
}

/** between says between which two tiles a pixel lies, and how far on. */
function between(at: number, size: number): [number, number] {
  const f = Math.min(tiles - 1, Math.max(0, ((at + 0.5) * tiles) / size - 0.5));
  const tile = Math.min(tiles - 2, Math.floor(f));
  return [tile, f - tile];
}

/** applied is what the table makes of RGBA bytes, in place: the way without a graphics card. */
export function applied(
  bytes: Uint8ClampedArray,
  width: number,
  height: number,
  curves: Float32Array,
  grey: boolean,
): void {
  const table = unrolled(curves);
  const [r, g, b] = weightsOf(grey);
  const across = Array.from({ length: width }, (_, x) => between(x, width));
  const column = Int32Array.from(across, ([t]) => t * steps);
  const weight = Float32Array.from(across, ([, w]) => w);
  const down = tiles * steps;
  for (let y = 0, i = 0; y < height; y++) {
    const [ty, wy] = between(y, height);
    const above = ty * down;
    for (let x = 0; x < width; x++, i += 4) {
      const cr = bytes[i]!;
      const cg = bytes[i + 1]!;
      const cb = bytes[i + 2]!;
      const luma = r * cr + g * cg + b * cb;
      const k = above + column[x]! + ((luma * 4 + 0.5) | 0);
      const wx = weight[x]!;
      const a = table[k]!;
      const c = table[k + down]!;
      const top = a + wx * (table[k + steps]! - a);
      const to = top + wy * (c + wx * (table[k + down + steps]! - c) - top);
      if (grey) {
        bytes[i] = bytes[i + 1] = bytes[i + 2] = to;
        continue;
      }
      let gain = to / (luma > 4 ? luma : 4);
      if (gain > mostColour) gain = mostColour;
      const base = to - gain * luma;
      bytes[i] = base + gain * cr;
      bytes[i + 1] = base + gain * cg;
      bytes[i + 2] = base + gain * cb;
    }
  }
}

// Carrying a point: invented pictures, whose every grey value is a formula, so
// that a shift by any part of a pixel is exact. The truth is that shift; the
// limits are stated beside each check.
import { describe, expect, test } from 'vitest';
import { Carrier } from '$lib/footage/carrier';
import { carry, carryDefaults, peakOf, templateOf } from '$lib/footage/carry';
import { toClip, toPicture, type Grey, type Pixel } from '$lib/footage/grey';

/** A stream of numbers in 0…1 that is the same everywhere (mulberry32, public domain). */
function stream(seed: number): () => number {
  let a = seed;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

const normal = (next: () => number): number => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next());

type Scene = (x: number, y: number) => number;

/** bottom is a sum of waves no shorter than finest pixels, grey values about 128. */
function bottom(seed: number, finest: number, contrast = 30): Scene {
  const next = stream(seed);
  const waves = Array.from({ length: 10 }, () => {
    const k = (2 * Math.PI) / (finest * (1 + 4 * next()));
    const a = 2 * Math.PI * next();
    return [k * Math.cos(a), k * Math.sin(a), 2 * Math.PI * next()] as const;
  });
  const scale = contrast * Math.sqrt(2 / waves.length);
  return (x, y) => {
    let sum = 0;
    for (const [kx, ky, p] of waves) sum += Math.cos(kx * x + ky * y + p);
    return 128 + scale * sum;
  };
}

function picture(scene: Scene, width = 104, height = 100, noise = 0, seed = 1, scale = 1): Grey {
  const next = stream(seed);
  const data = new Float32Array(width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) data[y * width + x] = scene(x, y) + (noise ? noise * normal(next) : 0);
  return { width, height, data, left: 0, top: 0, scale };
}

const moved =
  (scene: Scene, dx: number, dy: number): Scene =>
  (x, y) =>
    scene(x - dx, y - dy);

const off = (a: Pixel, b: Pixel): number => Math.hypot(a[0] - b[0], a[1] - b[1]);

/** worst and rms error over shifts by parts of a pixel. */
function errors(finest: number, noise: number, change: (s: Scene) => Scene = (s) => s): { rms: number; worst: number } {
  let [sum, worst, n] = [0, 0, 0];
  for (let seed = 1; seed <= 3; seed++) {
    const scene = bottom(seed, finest);
    const from = picture(scene, 104, 100, noise, 10 * seed);
    for (const [dx, dy] of [
      [0.25, 0.1],
      [3.5, -2.5],
      [-7.37, 4.81],
      [12.63, 9.2],
      [-0.5, 0.5],
    ] as const) {
      const to = picture(change(moved(scene, dx, dy)), 104, 100, noise, 10 * seed + 1);
      const at: Pixel = [52.3, 49.8];
      const found = carry(from, to, at, { search: 18 });
      expect(found.why).toBe('');
      const e = off(found.pixel, [at[0] + dx, at[1] + dy]);
      sum += e * e;
      worst = Math.max(worst, e);
      n++;
    }
  }
  return { rms: Math.sqrt(sum / n), worst };
}

describe('a shift by parts of a pixel', () => {
  test.each([
    [3, 0.1],
    [4, 0.05],
    [8, 0.02],
  ])('without noise, detail of %s px: worst below %s px', (finest, limit) => {
    expect(errors(finest, 0).worst).toBeLessThan(limit);
  });

  // Least squares of known slopes would give noise·√2·√2 / (slope·√(4π)·σ): slopes of 7.4 grey values a
  // pixel in each direction (waves of 8 to 40 px, contrast 30), weights of σ = 7.5 px: 0.06 px. Here brightness,
  // turn and size are free too, and the slopes carry noise; twice that is allowed.
  test('noise of 6 grey values at a contrast of 30: below 0.12 px rms', () => {
    expect(errors(8, 6).rms).toBeLessThan(0.12);
  });

  test('half as bright and paler in the second picture: as good as before', () => {
    const paler = errors(6, 0, (s) => (x, y) => 20 + 0.5 * s(x, y) + 0.05 * x);
    expect(paler.worst).toBeLessThan(0.06);
  });

  test('out of focus in the second picture: below 0.1 px', () => {
    // The mean over 3×3 points: an even blur moves nothing.
    const disc = Array.from({ length: 9 }, (_, i) => [(i % 3) - 1, Math.floor(i / 3) - 1] as const);
    const blur =
      (s: Scene): Scene =>
      (x, y) =>
        disc.reduce((sum, [i, j]) => sum + s(x + i, y + j), 0) / disc.length;
    expect(errors(6, 0, blur).worst).toBeLessThan(0.1);
  });

  test('places are pixels of the clip, though a small copy is looked at', () => {
    const scene = bottom(3, 6);
    const from = picture(scene, 120, 110, 0, 1, 3);
    const to = picture(moved(scene, 2.5, 1.25), 120, 110, 0, 1, 3);
    const at = toClip({ scale: 3 }, [60, 50]);
    expect(at).toEqual([181, 151]); // the middle of 3×3: (60 + ½)·3 − ½
    expect(toPicture({ scale: 3 }, at)).toEqual([60, 50]);
    expect(off(carry(from, to, at).pixel, [181 + 7.5, 151 + 3.75])).toBeLessThan(0.15);
  });

  test('a cutting that begins elsewhere answers the same', () => {
    const scene = bottom(5, 6);
    const to = picture(moved(scene, 1.5, 2.5));
    const cut = (g: Grey, left: number, top: number, width: number, height: number): Grey => ({
      ...g,
      left,
      top,
      width,
      height,
      data: Float32Array.from({ length: width * height }, (_, i) => {
        return g.data[(top + Math.floor(i / width)) * g.width + left + (i % width)]!;
      }),
    });
    const whole = carry(picture(scene), to, [60, 55]);
    const part = carry(cut(picture(scene), 40, 35, 41, 41), cut(to, 9, 4, 103, 103), [60, 55]);
    expect(off(part.pixel, whole.pixel)).toBeLessThan(1e-9);
    expect(part.score).toBeCloseTo(whole.score, 9);
  });
});

test('the paraboloid of a paraboloid is exact', () => {
  const z = (x: number, y: number): number =>
    0.9 - 0.02 * (x - 0.3) ** 2 - 0.03 * (y + 0.2) ** 2 + 0.01 * (x - 0.3) * (y + 0.2);
  const r = Float32Array.from({ length: 9 }, (_, i) => z((i % 3) - 1, Math.floor(i / 3) - 1));
  const peak = peakOf(r, 3, 1, 1);
  expect(peak.at[0]).toBeCloseTo(1.3, 4);
  expect(peak.at[1]).toBeCloseTo(0.8, 4);
  expect(peak.score).toBeCloseTo(0.9, 5);
  expect(peakOf(new Float32Array(9), 3, 1, 1)).toEqual({ at: [1, 1], score: 0 });
});

describe('what is not sure is not carried', () => {
  const scene = bottom(7, 6);
  const at: Pixel = [60, 55];

  test('something else lies over the point: it stays, and says so', () => {
    const other = bottom(8, 6);
    for (const seed of [21, 22, 23, 24, 25]) {
      const over = bottom(seed, 6);
      const to = picture((x, y) => (Math.hypot(x - 62, y - 56) < 24 ? over(x, y) : other(x, y)));
      const found = carry(picture(scene), to, at);
      expect(['poor', 'alike']).toContain(found.why);
      expect(found.pixel).toEqual([60, 55]);
    }
  });

  test('half of it hidden is no longer believed, or is still in place', () => {
    for (const edge of [56, 58, 60, 62, 64]) {
      const to = picture((x, y) => (x < edge ? 40 + ((x * 7 + y * 3) % 5) : scene(x - 1, y)));
      const found = carry(picture(scene), to, at);
      if (found.why === '') expect(off(found.pixel, [61, 55])).toBeLessThan(0.5);
      else expect(found.pixel).toEqual([60, 55]);
    }
  });

  test('a pattern that repeats itself: two places are alike', () => {
    const stripes: Scene = (x, y) => 128 + 40 * Math.cos((2 * Math.PI * x) / 20) * Math.cos((2 * Math.PI * y) / 20);
    expect(carry(picture(stripes), picture(moved(stripes, 3, 1)), at).why).toBe('alike');
  });

  test('one tone: nothing to hold on to', () => {
    const flat = picture(() => 90);
    expect(carry(flat, flat, at).why).toBe('flat');
    expect(carry(picture(scene), flat, at).why).toBe('poor');
  });

  test('at the edge of the picture, and at that of the window', () => {
    expect(carry(picture(scene), picture(scene), [5, 55]).why).toBe('edge');
    // Further than the window is wide: found nowhere, or at its edge, never in a wrong place.
    const found = carry(picture(scene), picture(moved(scene, 20, 0)), at, { search: 12 });
    expect(['edge', 'poor']).toContain(found.why);
    expect(carry(picture(scene), picture(moved(scene, 20, 0)), at, { search: 20 }).why).toBe('edge');
  });

  test('a jump is not believed', () => {
    const to = picture(moved(scene, 22, 22));
    expect(carry(picture(scene), to, at).why).toBe('far');
    expect(carry(picture(scene), to, at, { expected: [80, 75] }).why).toBe('');
  });

  test('pictures of no size, places that are none: no throw', () => {
    const none: Grey = { width: 0, height: 0, data: new Float32Array(0), left: 0, top: 0, scale: 1 };
    expect(carry(none, none, at).why).toBe('edge');
    expect(carry(picture(scene), none, at).why).toBe('edge');
    expect(carry(picture(scene), picture(scene), [NaN, 3]).why).toBe('edge');
  });
});

describe('through many pictures', () => {
  /** An animal of its own texture swims over a bottom that rests. */
  const swims = (at: (frame: number) => Pixel, frame: number, noise = 3): Grey => {
    const [ground, skin] = [bottom(31, 9, 15), bottom(32, 6, 40)];
    const [x0, y0] = at(frame);
    const scene: Scene = (x, y) => {
      const inside = 1 / (1 + Math.exp((Math.hypot((x - x0) / 1.6, y - y0) - 13) * 1.5));
      return inside * (skin(x - x0, y - y0) - 30) + (1 - inside) * ground(x, y);
    };
    return picture(scene, 200, 96, noise, frame + 1);
  };

  test('16 frames at 6 px a frame: errors do not add up', () => {
    const path = (k: number): Pixel => [40.2 + 6.1 * k, 52 + 12 * Math.sin(k / 6)];
    const carrier = new Carrier(swims(path, 0), path(0), { search: 12 });
    let worst = 0;
    for (let k = 1; k <= 16; k++) {
      const found = carrier.step(swims(path, k));
      expect(found.why).toBe('');
      worst = Math.max(worst, off(found.pixel, path(k)));
    }
    expect(carrier.renewed).toBe(0);
    expect(worst).toBeLessThan(0.35);
  });

  test('what it has learned of the speed lets it follow a quick animal in a small window', () => {
    const path = (k: number): Pixel => [40 + 9 * k, 52];
    const carrier = new Carrier(swims(path, 0), path(0), { search: 10 });
    for (let k = 1; k <= 12; k++) expect(carrier.step(swims(path, k)).why).toBe('');
    expect(off(carrier.at, path(12))).toBeLessThan(0.35);
    expect(carry(swims(path, 10), swims(path, 12), path(10), { search: 10 }).why).not.toBe('');
    // Backwards as well.
    for (let k = 11; k >= 8; k--) expect(carrier.step(swims(path, k), -1).why).toBe('');
    expect(off(carrier.at, path(8))).toBeLessThan(0.35);
  });

  test('an animal that turns is followed with templates taken anew, and what is hidden is not', () => {
    const [ground, skin] = [bottom(31, 9, 15), bottom(33, 7, 40)];
    const turned = (frame: number): Grey => {
      const a = frame * 0.09;
      const [c, s] = [Math.cos(a), Math.sin(a)];
      const scene: Scene = (x, y) => {
        const [u, v] = [x - 60 - 2 * frame, y - 55];
        if (frame >= 14) return ground(x, y);
        return u * u + v * v < 500 ? skin(c * u + s * v, c * v - s * u) : ground(x, y);
      };
      return picture(scene, 130, 100, 2, frame + 1);
    };
    const carrier = new Carrier(turned(0), [60, 55]);
    for (let k = 1; k < 14; k++) expect(carrier.step(turned(k)).why).toBe('');
    expect(carrier.renewed).toBeGreaterThan(0);
    expect(off(carrier.at, [60 + 2 * 13, 55])).toBeLessThan(0.5);
    const before = [...carrier.at];
    expect(carrier.step(turned(14)).why).not.toBe('');
    expect(carrier.at).toEqual(before);
  });
});

test('a template sums to nothing, so that brightness cannot move it', () => {
  const t = templateOf(picture(bottom(2, 5)), [50, 50])!;
  expect(t.values.length).toBe(carryDefaults.template ** 2);
  expect(Math.abs(t.values.reduce((a, b) => a + b, 0))).toBeLessThan(1e-4);
  expect(Math.abs(t.weights.reduce((a, b) => a + b, 0) - 1)).toBeLessThan(1e-6);
});

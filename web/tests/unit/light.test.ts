// The light: what it does to grey values. Closed forms where there are some.
import { describe, expect, test } from 'vitest';
import { applied, blended, countsOf, curvesOf, isPlain, levels, tiles, toneOf } from '$lib/footage/tone';
import { plainLight, type Light } from '$lib/footage/light';

const light = (change: Partial<Light>): Light => ({ ...plainLight, ...change });

const rgba = (width: number, height: number, at: (x: number, y: number) => number | [number, number, number]) => {
  const bytes = new Uint8ClampedArray(width * height * 4);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) {
      const v = at(x, y);
      const [r, g, b] = typeof v === 'number' ? [v, v, v] : v;
      bytes.set([r, g, b, 255], (y * width + x) * 4);
    }
  return bytes;
};

const shown = (bytes: Uint8ClampedArray, width: number, height: number, l: Light): Uint8ClampedArray => {
  const out = bytes.slice();
  applied(out, width, height, curvesOf(countsOf(bytes, width, height, l.grey), l), l.grey);
  return out;
};

const spread = (bytes: Uint8ClampedArray): number => {
  const values = Array.from({ length: bytes.length / 4 }, (_, i) => bytes[4 * i + 1]!);
  const mean = values.reduce((a, b) => a + b, 0) / values.length;
  return Math.sqrt(values.reduce((a, b) => a + (b - mean) ** 2, 0) / values.length);
};

test('only what changes nothing is plain', () => {
  expect(isPlain(plainLight)).toBe(true);
  for (const change of [{ lift: 0.1 }, { clear: 0.1 }, { contrast: 0.1 }, { grey: true }])
    expect(isPlain(light(change))).toBe(false);
});

test('counts of a tile sum to 1, and stand where the pixels are', () => {
  const counts = countsOf(
    rgba(80, 40, (x) => (x < 40 ? 10 : 200)),
    80,
    40,
    false,
  );
  for (let t = 0; t < tiles * tiles; t++) {
    const mine = counts.subarray(t * 256, (t + 1) * 256);
    expect(mine.reduce((a, b) => a + b, 0)).toBeCloseTo(1, 6);
    expect(mine[t % tiles < 4 ? 10 : 200]).toBeCloseTo(1, 6);
  }
});

test('with everything at 0 the table is the grey value itself', () => {
  const curves = curvesOf(
    countsOf(
      rgba(64, 64, (x, y) => (x * y) % 256),
      64,
      64,
      false,
    ),
    plainLight,
  );
  for (let i = 0; i < curves.length; i++) expect(curves[i]).toBeCloseTo(((i % levels) / (levels - 1)) ** 2, 6);
});

describe('the tone', () => {
  test('lift is a power of 1/(1 + 1.6 lift) where the picture reaches white', () => {
    const tone = toneOf(light({ lift: 1 }), [0, 1]);
    expect(tone(0.1)).toBeCloseTo(0.1 ** (1 / 2.6), 9); // 0.412
    expect([tone(0), tone(1)]).toEqual([0, 1]);
  });
  test('contrast draws black and white to the ends of the picture', () => {
    const tone = toneOf(light({ contrast: 1 }), [0.4, 0.6]);
    expect(tone(0.4)).toBe(0);
    expect(tone(0.5)).toBeCloseTo(0.5, 9);
    expect(tone(0.6)).toBe(1);
  });
  test('a picture of one tone is not drawn apart into noise', () => {
    const tone = toneOf(light({ contrast: 1, lift: 1 }), [0.5, 0.5]);
    expect(tone(0.51) - tone(0.5)).toBeLessThan(0.5);
    expect(Number.isFinite(tone(0.5))).toBe(true);
  });
});

test('every curve rises: what is brighter stays brighter, in every tile and setting', () => {
  const murky = rgba(160, 90, (x, y) => 120 + ((x * 7 + y * 13) % 11) + (x > 80 ? 20 : 0));
  for (const l of [
    { clear: 1 },
    { lift: 1, clear: 1 },
    { contrast: 1, clear: 0.5 },
    { lift: 1, clear: 1, contrast: 1, grey: true },
  ]) {
    const curves = curvesOf(countsOf(murky, 160, 90, false), light(l));
    let falls = 0;
    for (let t = 0; t < tiles * tiles; t++)
      for (let k = 1; k < levels; k++) falls = Math.max(falls, curves[t * levels + k - 1]! - curves[t * levels + k]!);
    expect(falls).toBeLessThan(1e-6);
    expect(Math.min(...curves)).toBeGreaterThanOrEqual(0);
    expect(Math.max(...curves)).toBeLessThanOrEqual(1);
  }
});

describe('pictures', () => {
  test('murk: contrast of 4 grey values grows by more than half again, not beyond the limit of four times', () => {
    const murky = rgba(160, 96, (x, y) => 130 + 4 * Math.SQRT2 * Math.sin(x / 3) * Math.SQRT2 * Math.sin(y / 3));
    const cleared = shown(murky, 160, 96, light({ clear: 1 }));
    expect(spread(cleared) / spread(murky)).toBeGreaterThan(1.5);
    expect(spread(cleared) / spread(murky)).toBeLessThan(4.1);
  });
  test('night: a picture that ends at 30 of 255 comes up, and keeps its order', () => {
    const night = rgba(96, 96, (x) => Math.round((x / 95) * 30));
    const lifted = shown(night, 96, 96, light({ lift: 1 }));
    expect(lifted[4 * 48 + 1]).toBeGreaterThan(100);
    for (let x = 1; x < 96; x++) expect(lifted[4 * x + 1]!).toBeGreaterThanOrEqual(lifted[4 * (x - 1) + 1]!);
  });
  test('grey is grey, and is mostly the green', () => {
    const green = rgba(16, 16, () => [10, 200, 30]);
    const out = shown(green, 16, 16, light({ grey: true }));
    expect([out[0], out[1], out[2]]).toEqual([out[0], out[0], out[0]]);
    // The table's 64 levels: within one grey value.
    expect(Math.abs(out[0]! - (0.12 * 10 + 0.76 * 200 + 0.12 * 30))).toBeLessThanOrEqual(1);
  });
  test('colours keep their hue', () => {
    const out = shown(
      rgba(16, 16, () => [20, 60, 40]),
      16,
      16,
      light({ lift: 0.5 }),
    );
    expect(out[1]! > out[2]! && out[2]! > out[0]!).toBe(true);
    expect((out[2]! - out[0]!) / (out[1]! - out[0]!)).toBeCloseTo(0.5, 1);
  });
  test.each([
    [1, 1],
    [7, 3],
    [640, 1],
  ])('%s × %s pixels: no fault', (w, h) => {
    const out = shown(
      rgba(w, h, () => 77),
      w,
      h,
      light({ lift: 1, clear: 1, contrast: 1 }),
    );
    expect(out.length).toBe(w * h * 4);
  });
});

describe('no flicker', () => {
  const noisy = (seed: number) =>
    countsOf(
      rgba(160, 90, (x, y) => 100 + ((x * 31 + y * 17 + seed * 101) % 40)),
      160,
      90,
      false,
    );
  test('one more picture of the same scene moves the table by little', () => {
    const l = light({ clear: 1, contrast: 0.5 });
    let counts = noisy(0);
    let before = curvesOf(counts, l);
    for (let k = 1; k < 8; k++) {
      counts = blended(counts, noisy(k * 7));
      const now = curvesOf(counts, l);
      expect(Math.max(...now.map((v, i) => Math.abs(v - before[i]!)))).toBeLessThan(0.02);
      before = now;
    }
  });
  test('a torch that is switched on begins anew at once', () => {
    const bright = countsOf(
      rgba(160, 90, () => 220),
      160,
      90,
      false,
    );
    expect(blended(noisy(1), bright)).toBe(bright);
  });
});

// Figures of range and errors, drawn from the closed form of a dipole that lies
// on an insulating plane, E = p/(2πσr³)·√(1 + 3 cos²θ): what is drawn is known
// without the program. Stored pictures show every change; renew with -u.
import { describe, expect, test, vi } from 'vitest';
import type { ErrorsView, RangeView } from '$lib/api/stimulus';
import type { Knobs, PairKnobs } from '$lib/api/stimulus';
import { atHeight, plateOutline, polarFigure, profileFigure } from '$lib/draw/range';
import { barsOf, endsOf, tornadoFigure } from '$lib/draw/tornado';
import { toSvg } from '$lib/export/svg';
import { Answer } from '$lib/state/answer.svelte';
import { heightsAsked, readHeights, roughReach } from '$lib/state/reach';

const pair: PairKnobs = {
  label: 'A',
  centre_m: [0.1, 0],
  azimuth_deg: 0,
  separation_m: 0.01,
  electrode_diameter_m: 0.002,
  height_m: 0,
  share: 1,
};
const knobs: Knobs = {
  water: { temperature_C: null, salinity: null, conductivity_S_per_m: 4 },
  depth_m: 8,
  bottom: {
    kind: 'insulating',
    conductivity_S_per_m: null,
    porosity: null,
    cementation_exponent: null,
    thickness_m: null,
    basement_S_per_m: null,
  },
  enclosure: null,
  plates: [
    { shape: 'rectangle', size_m: [0.3, 0.2], diameter_m: null, thickness_m: 0.01, centre_m: [0.1, 0], yaw_deg: 0 },
  ],
  top_above_bottom_m: 0,
  sand_over_plate_mm: 0,
  current_uA: 6,
  pairs: [pair],
  electrodes: [],
  electrode_shape: 'disc',
  bodies: [],
  waveform: { kind: 'direct', frequency_Hz: null, duty: null },
};

/** The dipole's factor, nV/cm at 1 m beside it: p/(2πσ) with p = 6 µA · 1 cm, σ = 4 S/m. */
const factor = (6e-6 * 0.01) / (2 * Math.PI * 4) / 1e-7;
const field = (x: number, y: number, z: number) => {
  const r2 = x * x + y * y + z * z;
  return (factor / r2 ** 1.5) * Math.sqrt(1 + (3 * x * x) / r2);
};
/** The farthest distance along a level line at which the dipole still reaches a threshold, by bisection. */
function reach(threshold: number, height: number, direction: number): number | null {
  const at = (d: number) => field(d * Math.cos(direction), d * Math.sin(direction), height);
  let [near, far] = [1e-6, 10];
  if (at(near) < threshold && at(height) < threshold) return null;
  for (let i = 0; i < 80; i++) {
    const middle = (near + far) / 2;
    if (at(middle) >= threshold) near = middle;
    else far = middle;
  }
  return near;
}

function view(thresholds: number[], heights: number[], directions = 72): RangeView {
  return {
    form: 'no_plate',
    relative_error: 1e-6,
    method: 'images',
    reached: true,
    warnings: [],
    took_s: 0.1,
    thresholds: thresholds.map((t) => ({
      threshold_nV_per_cm: t,
      largest: { distance_m: Math.cbrt((2 * factor) / t), at_m: [Math.cbrt((2 * factor) / t), 0, 0] },
      highest_m: Math.cbrt(factor / t),
      beyond: false,
      heights: heights.map((h) => {
        const by = Array.from({ length: directions }, (_, i) => reach(t, h, (2 * Math.PI * i) / directions));
        const known = by.filter((v) => v !== null);
        return {
          height_m: h,
          area_m2: known.length > 0 ? 0.01 : null,
          area_unsure_m2: 0,
          farthest_m: known.length > 0 ? Math.max(...known) : null,
          nearest_m: known.length > 0 ? Math.min(...known) : null,
          by_direction_m: by,
        };
      }),
    })),
  };
}

const heights = [0, 0.1, 0.25];
const range = view([5, 20], heightsAsked(heights, 0.4));
const polar = polarFigure(range, heights, knobs, pair, 620);
const profile = profileFigure(range, 520);

const row = (what: string, low: number | null, high: number | null, more = {}) => ({
  what,
  change: '± 10 %',
  range_m: [low, high],
  field_nV_per_cm: low === null ? [null, null] : [low * 40, (high ?? 0) * 40],
  range_m_base: 0.3,
  field_base: 12,
  ...more,
});
const errors: ErrorsView = {
  form: 'real',
  relative_error: 0.01,
  method: 'surface charges',
  reached: true,
  warnings: [],
  took_s: 3,
  range_m_base: 0.3,
  field_base: 12,
  rows: [row('salinity', 0.29, 0.31), row('current', 0.28, 0.33), row('depth', null, null, { says: 'no surface' })],
  season: [row('current', 0.297, 0.303, { change: '± 2 %' })],
};

describe.each([
  ['range-polar', polar],
  ['range-polar-narrow', polarFigure(range, heights, knobs, pair, 300)],
  ['range-profile', profile],
  ['tornado', tornadoFigure(errors, 10, 820)],
  ['tornado-narrow', tornadoFigure(errors, 10, 340)],
])('%s', (name, figure) => {
  test('looks as stored', async () => {
    await expect(toSvg(figure.picture, (p) => `var(--${p})`)).toMatchFileSnapshot(`../pictures/${name}.svg`);
  });
  test('holds no number that is none', () => {
    const text = JSON.stringify(figure.picture);
    expect(text).not.toMatch(/NaN|Infinity|undefined|null/);
  });
  test('has data for its file', () => {
    expect(figure.rows.length).toBeGreaterThan(0);
    expect(figure.rows.every((r) => r.length === figure.columns.length)).toBe(true);
  });
  test('nothing is drawn outside', () => {
    for (const m of figure.picture.marks) {
      if (m.kind !== 'text') continue;
      expect(m.x).toBeGreaterThanOrEqual(0);
      expect(m.x).toBeLessThanOrEqual(figure.picture.width);
      expect(m.y).toBeLessThanOrEqual(figure.picture.height);
    }
  });
});

describe('the polar figure', () => {
  test('a dipole reaches 2^⅓ as far along its axis as beside it, and is drawn so', () => {
    const drawn = polar.picture.marks.filter((m) => m.kind === 'path' && m.width === 2.5 && m.d.split('L').length > 50);
    const points = (drawn[0] as { d: string }).d
      .slice(1)
      .split('L')
      .map((p) => p.split(' ').map(Number) as [number, number]);
    const xs = points.map((p) => p[0]);
    const ys = points.map((p) => p[1]);
    const ratio = (Math.max(...xs) - Math.min(...xs)) / (Math.max(...ys) - Math.min(...ys));
    // The widest place of r(φ) = (1 + 3cos²φ)^(1/6) across the axis lies at φ = 90°, where it is 1.
    expect(ratio).toBeCloseTo(2 ** (1 / 3), 2);
  });
  test('says in words what it shows', () => {
    const farthest = (100 * Math.cbrt((2 * factor) / 5)).toPrecision(3);
    expect(polar.picture.description).toContain(
      `5 nV/cm, 0 cm up: ${(100 * Math.cbrt(factor / 5)).toPrecision(3)} to ${farthest} cm.`,
    );
    expect(polar.picture.description).toContain('20 nV/cm, 25 cm up: nowhere.');
  });
  test('a height is found among those that were asked', () => {
    expect(atHeight(range.thresholds[0]!, 0.1)?.height_m).toBe(0.1);
    expect(atHeight(range.thresholds[0]!, 0.2)).toBeUndefined();
  });
  test('a plate is turned about its centre', () => {
    const [corner] = plateOutline({ ...knobs.plates[0]!, yaw_deg: 90 });
    expect(corner![0]).toBeCloseTo(0.1 - 0.1, 12);
    expect(corner![1]).toBeCloseTo(0.15, 12);
    const disc = plateOutline({ ...knobs.plates[0]!, shape: 'disc', diameter_m: 0.4, size_m: null });
    for (const [x, y] of disc) expect(Math.hypot(x - 0.1, y)).toBeCloseTo(0.2, 12);
  });
  test('a field that is nowhere large enough leaves an empty picture that says so', () => {
    const none = polarFigure(view([1e6], [0.1]), [0.1], knobs, pair, 400);
    expect(none.picture.description).toContain('nowhere');
    expect(JSON.stringify(none.picture)).not.toMatch(/NaN|Infinity/);
  });
});

describe('errors', () => {
  test('the largest effect on the range stands first, what has none last', () =>
    expect(barsOf(errors).map((b) => b.what)).toEqual(['current', 'salinity', 'depth']));
  test('ends are in cm and nV/cm', () => {
    const [low, high] = endsOf(errors.rows[0], 'range')!;
    expect(low).toBeCloseTo(29, 9);
    expect(high).toBeCloseTo(31, 9);
    expect(endsOf(errors.rows[2], 'range')).toBeUndefined();
    expect(endsOf(row('current', null, 0.2), 'range')).toEqual([null, 20]);
  });
  test('both sets are in the file', () => {
    const { rows } = tornadoFigure(errors, 10, 820);
    expect(rows.map((r) => `${String(r[0])} ${String(r[1])}`)).toEqual([
      '10 % current',
      'season current',
      '10 % salinity',
      '10 % depth',
    ]);
  });
});

describe('how far to look', () => {
  test('the rough reach is that of a dipole on an insulator, on its axis', () =>
    expect(roughReach(knobs, 5)).toBeCloseTo(Math.cbrt((2 * factor) / 5), 9));
  test('a current of 0 and no pair still give a size', () => {
    expect(roughReach({ ...knobs, current_uA: 0 }, 5)).toBe(0.5);
    expect(roughReach({ ...knobs, pairs: [] }, 5)).toBeGreaterThan(0);
  });
  test('heights are joined, ascending, none twice, at most forty', () => {
    expect(heightsAsked([0, 0.1], 0.4, 5)).toEqual([0, 0.1, 0.2, 0.3, 0.4]);
    expect(
      heightsAsked(
        Array.from({ length: 50 }, (_, i) => i),
        1,
      ),
    ).toHaveLength(40);
  });
  test.each([
    ['0, 5; 10.5', [0, 0.05, 0.105]],
    ['10 0 10', [0, 0.1]],
    ['', undefined],
    ['5, deep', undefined],
    ['-1', undefined],
    ['1 2 3 4 5 6 7', undefined],
    ['1e99', undefined],
  ])('"%s" is read', (text, expected) => expect(readHeights(text, 6)).toEqual(expected));
});

describe('an answer', () => {
  test('only the last question counts, and the one before is taken back', async () => {
    const answer = new Answer<string>(0);
    const signals: AbortSignal[] = [];
    const slow = (value: string, ms: number) => (signal: AbortSignal) => {
      signals.push(signal);
      return new Promise<string>((done) => setTimeout(() => done(value), ms));
    };
    answer.ask('a', slow('first', 150));
    await vi.waitFor(() => expect(signals).toHaveLength(1));
    answer.ask('b', slow('second', 1));
    await vi.waitFor(() => expect(answer.value).toBe('second'));
    await new Promise((r) => setTimeout(r, 200));
    expect(answer.value).toBe('second');
    expect(signals[0]!.aborted).toBe(true);
    expect([answer.busy, answer.old, answer.differs('a'), answer.differs('b')]).toEqual([false, false, true, false]);
  });
  test('a refusal stands beside the answer before it', async () => {
    const answer = new Answer<string>(0);
    answer.ask('a', () => Promise.resolve('kept'));
    await vi.waitFor(() => expect(answer.value).toBe('kept'));
    answer.ask('b', () => Promise.reject(new Error('no')));
    await vi.waitFor(() => expect(answer.problem).toBeDefined());
    expect([answer.value, answer.old, answer.busy]).toEqual(['kept', true, false]);
  });
  test('a question that rests is asked once', async () => {
    const answer = new Answer<number>(10);
    let asked = 0;
    for (const key of ['a', 'b', 'c']) answer.ask(key, () => Promise.resolve(++asked));
    await vi.waitFor(() => expect(answer.value).toBe(1));
    expect(asked).toBe(1);
  });
});

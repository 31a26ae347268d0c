// Pictures of a calibration, of readings made by the closed form of a dipole on
// an insulating plane, V = p·cos θ/(2πσr²): measured is known without the
// program. Stored pictures show every change; renew with -u.
import { describe, expect, test } from 'vitest';
import type { CalibrationDocument, CalibrationRow, CalibrationValue } from '$lib/api/calibration';
import type { Knobs } from '$lib/api/stimulus';
import { againstFigure, ratioFigure, ratioRows } from '$lib/draw/calibration-fit';
import { largestOf, placesFigure, radiusOf, residualMap } from '$lib/draw/calibration-map';
import { labelOf } from '$lib/draw/calibration-plan';
import type { Figure, PathMark } from '$lib/draw/picture';
import { toSvg } from '$lib/export/svg';

const knobs = {
  plates: [
    { shape: 'rectangle', size_m: [0.3, 0.2], diameter_m: null, thickness_m: 0.01, centre_m: [0, 0], yaw_deg: 10 },
  ],
  pairs: [
    {
      label: 'A',
      centre_m: [0, 0],
      azimuth_deg: 0,
      separation_m: 0.01,
      electrode_diameter_m: 0,
      height_m: 0,
      share: 1,
    },
    {
      label: 'B',
      centre_m: [0.05, 0.05],
      azimuth_deg: 0,
      separation_m: 0.01,
      electrode_diameter_m: 0,
      height_m: 0,
      share: 0,
    },
  ],
} as unknown as Knobs;

/** µV of a dipole of 60 nA m along x in water of 4 S/m. */
const dipole = ([x = 0, y = 0, z = 0]: readonly number[]): number =>
  ((60e-9 * x) / (2 * Math.PI * 4 * Math.hypot(x, y, z) ** 3)) * 1e6;

const residuals = [0.01, -0.04, 0.02, 0, null];
const places = [
  [0.05, 0, 0.01],
  [-0.05, 0, 0.01],
  [0, 0.06, 0.01],
  [0.04, 0.04, 0.05],
  [-0.08, -0.05, 0.01],
];
const rows: CalibrationRow[] = places.map((plus_m, i) => {
  const fitted = dipole(plus_m);
  const r = residuals[i]!;
  return {
    label: i === 3 ? '' : `P${i + 1}`,
    plus_m,
    minus_m: i === 1 ? [-0.07, 0, 0.01] : null,
    middle_m: i === 1 ? [-0.06, 0, 0.01] : plus_m,
    measured_uV: r === null ? null : fitted + r,
    sd_uV: r === null ? null : 0.02,
    position_uV: null,
    designed_uV: fitted,
    textbook_uV: fitted,
    fitted_uV: r === null ? null : fitted,
    residual_uV: r,
    standardised: r === null ? null : r / 0.02,
    leverage: r === null ? null : 0.3,
    factor_without_it: null,
    influence: null,
    outlier_p: null,
  };
});

const value = (v: number | null, low?: number, high?: number): CalibrationValue => ({
  value: v,
  se: null,
  ci95: low === undefined ? { not_estimable: 'only the ratio' } : [low, high ?? null],
});
const document = {
  designed: { current_uA: -6, dipole_moment_nA_m: 60, water_S_per_m: 4 },
  fit: {
    factor: value(0.9, 0.86, 0.94),
    dipole_moment_nA_m: value(null),
    current_uA: value(-5.4, -6, -4.8),
    water_S_per_m: value(4.4, 3.6),
  },
} as unknown as CalibrationDocument;

const map = residualMap(rows, knobs, 'uV', 560);
const all: [string, Figure][] = [
  ['calibration-map', map],
  ['calibration-map-narrow', residualMap(rows, knobs, 'sd', 300)],
  ['calibration-places', placesFigure(rows, knobs, 520)],
  ['calibration-against', againstFigure(rows, 460)],
  ['calibration-ratios', ratioFigure(document, 520)],
];

describe.each(all)('%s', (name, figure) => {
  test('looks as stored', async () => {
    await expect(toSvg(figure.picture, (p) => `var(--${p})`)).toMatchFileSnapshot(`../pictures/${name}.svg`);
  });
  test('holds no number that is none', () => {
    expect(JSON.stringify(figure.picture)).not.toMatch(/NaN|Infinity|undefined|null/);
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
      expect(m.y).toBeGreaterThanOrEqual(0);
      expect(m.y).toBeLessThanOrEqual(figure.picture.height);
    }
  });
});

describe('the residual map', () => {
  const marks = map.picture.marks.filter((m): m is PathMark => m.kind === 'path');
  const of = (label: string) => marks.find((m) => m.title?.startsWith(`${label}:`))!;
  test('more than fitted is filled, less is hollow', () => {
    expect(of('P1')).toMatchObject({ fill: 'accent' });
    expect(of('P2')).toMatchObject({ fill: 'paper', stroke: 'accent' });
  });
  test('the area goes with the residual', () => {
    expect(radiusOf(0.04, 0.04) / radiusOf(0.01, 0.04)).toBeCloseTo(2, 12);
    expect(radiusOf(0, 0.04)).toBeGreaterThan(0);
    expect(radiusOf(0, 0)).toBeGreaterThan(0);
  });
  test('in standard deviations three fill the largest mark, so that a good fit looks good', () => {
    expect(largestOf(rows, 'sd')).toBe(3);
    expect(largestOf(rows, 'uV')).toBe(0.04);
  });
  test('lies to scale, x to the right and y upwards', () => {
    const middle = (m: PathMark) => {
      const [, x, y, r] = /^M(\S+) (\S+)a(\S+) /.exec(m.d)!.map(Number);
      return [x! + r!, y!] as const;
    };
    const [p1, p2, p3] = ['P1', 'P2', 'P3'].map((l) => middle(of(l)));
    const perM = (p1![0] - p2![0]) / 0.11;
    expect(p1![0]).toBeGreaterThan(p2![0]);
    // P3 lies 6 cm further along y than P1, and 5 cm less along x.
    expect(p1![1] - p3![1]).toBeCloseTo(0.06 * perM, 1);
    expect(p1![0] - p3![0]).toBeCloseTo(0.05 * perM, 1);
  });
  test('says each residual, and what was not used', () => {
    expect(map.picture.description).toContain('P2: −0.0400 µV.');
    expect(map.picture.description).toContain('row 4: 0 µV.');
    expect(map.picture.description).toContain('1 place not used.');
  });
  test('a plate that is larger than the plan is cut at its frame', () => {
    const large = { ...knobs, plates: [{ ...knobs.plates[0]!, size_m: [5, 5] }] };
    const drawn = residualMap(rows, large, 'uV', 560).picture.marks.find((m) => m.kind === 'path' && m.fill === 'sunk');
    const numbers = (drawn as PathMark).d.match(/-?\d+(\.\d+)?/g)!.map(Number);
    expect(Math.min(...numbers)).toBeGreaterThanOrEqual(0);
    expect(Math.max(...numbers)).toBeLessThanOrEqual(560);
  });
  test('nothing fitted, one place or none draw too', () => {
    for (const some of [[], rows.slice(4), rows.slice(0, 1)]) {
      for (const f of [
        residualMap(some, knobs, 'uV', 400),
        placesFigure(some, { ...knobs, pairs: [] }, 400),
        againstFigure(some, 400),
      ])
        expect(JSON.stringify(f.picture)).not.toMatch(/NaN|Infinity/);
    }
  });
  test('a row without a label goes by its number', () => expect(labelOf({ label: '' }, 3)).toBe('row 4'));
});

describe('measured against fitted', () => {
  test('a reading that fits lies on the line', () => {
    const figure = againstFigure(rows, 460);
    const line = figure.picture.marks.find((m): m is PathMark => m.kind === 'path' && m.dash !== undefined)!;
    const [x0, y0, x1, y1] = line.d.match(/-?\d+(\.\d+)?/g)!.map(Number) as [number, number, number, number];
    const dot = figure.picture.marks.find(
      (m): m is PathMark => m.kind === 'path' && (m.title ?? '').startsWith('row 4'),
    )!;
    const [, x, y, r] = /^M(\S+) (\S+)a(\S+) /.exec(dot.d)!.map(Number) as [number, number, number, number];
    expect(y0 + ((x + r - x0) / (x1 - x0)) * (y1 - y0)).toBeCloseTo(y, 1);
  });
  test('what was not measured is not drawn', () =>
    expect(againstFigure(rows, 460).picture.description).not.toContain('P5'));
});

describe('estimates over the design', () => {
  test('a negative current turns the ends round, what is not estimable is left out, an open end stays open', () =>
    expect(ratioRows(document).map((r) => [r.value, r.low, r.high].map((v) => v && Number(v.toFixed(6))))).toEqual([
      [0.9, 0.86, 0.94],
      [0.9, 0.8, 1],
      [1.1, 0.9, null],
    ]));
  test('the wrong polarity and wide intervals stay within the figure', () => {
    const wrong = { ...document, fit: { ...document.fit, factor: value(-50, -80, 60) } };
    const figure = ratioFigure(wrong, 420);
    for (const m of figure.picture.marks) {
      if (m.kind !== 'path') continue;
      for (const v of m.d.match(/-?\d+(\.\d+)?/g)!.map(Number)) expect(Math.abs(v)).toBeLessThanOrEqual(420);
    }
  });
});

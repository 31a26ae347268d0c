// The figures beside the picture, stored in tests/pictures like the others.
import { describe, expect, test } from 'vitest';
import type { Located } from '$lib/api/footage';
import type { TrackPoint } from '$lib/api/types';
import { fieldLayout, measureFieldFigure, type FieldChoices } from '$lib/draw/measure-field';
import { ellipseAt, measureBounds, measurePlanFigure, type PlanAnimal } from '$lib/draw/measure-plan';
import { fit, toScreen } from '$lib/draw/plan-view';
import { toCsv } from '$lib/export/csv';
import { toSvg } from '$lib/export/svg';
import { season } from './fixtures';

const pair = season.pairs[0]!;
/** A swim past the first pair of the season: invented. */
const track: TrackPoint[] = Array.from({ length: 61 }, (_, i) => {
  const s = i / 20;
  const [x, y, z] = [pair.x_cm - 12 + 8 * s, pair.y_cm + 5 - 1.5 * s, 6];
  const field = 4000 / Math.hypot(x - pair.x_cm, y - pair.y_cm, z) ** 3;
  return {
    ...{ t_s: s, x_cm: x, y_cm: y, height_cm: z },
    ...{ field_nV_per_cm: field, phantom_nV_per_cm: field * 0.7, phantom_nV_per_cm_per_uA: null },
  };
});
const hows = ['placed', 'carried', 'filled'] as const;
const fixes: Located[] = track
  .filter((_, i) => i % 6 === 0)
  .map((p, i) => ({
    ...{ point: 'snout', frame: i * 6, pixel: [10 * i, 20], how: hows[i % 3]!, by: 'A. Person', why: '' },
    ...{ clip_s: p.t_s, t_s: p.t_s, x_cm: p.x_cm, y_cm: p.y_cm, height_cm: 6, low_cm: 4, high_cm: 8, sd_cm: 0.2 },
    ...{ height_low_cm: null, height_high_cm: null },
    covariance_cm2: [
      [0.5, 0.3, 0],
      [0.3, 0.4, 0],
      [0, 0, 1.3],
    ],
  }));
const animals: PlanAnimal[] = [
  {
    ...{ pass: 'P1', name: 'Notch', pair: pair.label, index: 0, active: true, fixes, track },
    now: { xCm: fixes[4]!.x_cm!, yCm: fixes[4]!.y_cm! },
  },
  {
    ...{ pass: 'P2', name: 'R1', pair: pair.label, index: 1, active: false, fixes: [] },
    track: track.map((p) => ({ ...p, y_cm: p.y_cm - 12 })),
    now: undefined,
  },
];
const plan = (of: readonly PlanAnimal[], width = 520, height = 360) =>
  measurePlanFigure({ season, animals: of, frame: 24, point: 'snout' }, fit(measureBounds(season, of), width, height));
const field = (more: Partial<FieldChoices> = {}): FieldChoices => ({
  ...{ pass: 'P1', track, why: '', points: ['snout', 'eye'], nowS: 1.2, startS: 0, onsetS: 1.5, endS: 3 },
  ...{ width: 520, height: 230 },
  fixes: fixes.map((f) => ({ point: f.point, s: f.t_s!, how: f.how })),
  ...more,
});
const sealedTrack = track.map((p) => ({
  ...{ ...p, field_nV_per_cm: null, phantom_nV_per_cm: null },
  phantom_nV_per_cm_per_uA: p.phantom_nV_per_cm! / 6,
}));

const figures = {
  'measure-plan': plan(animals),
  'measure-field': measureFieldFigure(field()),
  'measure-field-sealed': measureFieldFigure(field({ track: sealedTrack })),
  'measure-field-none': measureFieldFigure(field({ track: [], fixes: [], startS: null, onsetS: null, endS: null })),
};

describe.each(Object.entries(figures))('%s', (name, figure) => {
  test('looks as stored', async () => {
    await expect(toSvg(figure.picture, (p) => `var(--${p})`)).toMatchFileSnapshot(`../pictures/${name}.svg`);
  });
  test('holds no number that is none, and rows as wide as its columns', () => {
    expect(JSON.stringify(figure.picture)).not.toMatch(/NaN|Infinity|undefined|null/);
    expect(figure.rows.every((r) => r.length === figure.columns.length)).toBe(true);
    expect(toCsv(figure.columns, figure.rows).split('\r\n').length).toBe(figure.rows.length + 2);
  });
});

test('while it is sealed nothing of a field met is drawn, whatever comes', () => {
  const text = JSON.stringify(figures['measure-field-sealed'].picture.marks);
  expect(text).toContain('for each µA');
  expect(text).not.toContain('field met');
  expect(figures['measure-field-sealed'].columns).not.toContain('field_nV_per_cm');
});

test('an empty plan and an empty field can be drawn', () => {
  const bare = plan([{ ...animals[0]!, fixes: [], track: [], now: undefined }]);
  expect(JSON.stringify(bare.picture)).not.toMatch(/NaN|Infinity|undefined|null/);
  const { x } = fieldLayout(field({ track: [], fixes: [], startS: null, onsetS: null, endS: null, nowS: 0 }));
  expect(x.domain[1]).toBeGreaterThan(x.domain[0]);
});

test('time lies where it is drawn', () => {
  const { x, frame } = fieldLayout(field());
  expect(x.back(x.at(1.2))).toBeCloseTo(1.2, 9);
  expect(x.at(0)).toBeGreaterThan(frame.left);
  expect(x.at(3)).toBeLessThan(frame.right);
});

test('an ellipse is as large on the plan as its half axes say', () => {
  const v = fit(measureBounds(season, animals), 520, 360);
  const at = { xCm: pair.x_cm, yCm: pair.y_cm };
  const d = ellipseAt(v, at, { longCm: 10, shortCm: 10, angleRad: 1 });
  const c = toScreen(v, at);
  const points = [...d.matchAll(/[ML]([-\d.]+) ([-\d.]+)/g)].map((m) => [Number(m[1]), Number(m[2])] as const);
  expect(points.length).toBe(48);
  for (const [px, py] of points) expect(Math.hypot(px - c.x, py - c.y)).toBeCloseTo(10 * v.pxPerCm, 1);
});

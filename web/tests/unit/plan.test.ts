import { describe, expect, test } from 'vitest';
import { cornersOf, groundMarks, pairMarks, planBounds, rowMarks, shownMarks } from '$lib/draw/plan';
import type { Mark } from '$lib/draw/picture';
import { indexPasses, nearest } from '$lib/draw/plan-index';
import {
  boundsOf,
  fit,
  panBy,
  scaleBar,
  shiftBetween,
  toScreen,
  toSeason,
  zoomAt,
  type PlanView,
} from '$lib/draw/plan-view';
import { exposures, passes, season } from './fixtures';

const view: PlanView = { centre: { xCm: 10, yCm: -5 }, pxPerCm: 2, width: 400, height: 300 };

describe('the view', () => {
  test('y points up in the season and down on the screen', () => {
    expect(toScreen(view, { xCm: 10, yCm: -5 })).toEqual({ x: 200, y: 150 });
    expect(toScreen(view, { xCm: 20, yCm: 5 })).toEqual({ x: 220, y: 130 });
  });
  test('there and back', () => {
    const p = toSeason(view, toScreen(view, { xCm: 3.25, yCm: 8.5 }));
    expect(p.xCm).toBeCloseTo(3.25, 12);
    expect(p.yCm).toBeCloseTo(8.5, 12);
  });
  test('zooming keeps the point under the hand', () => {
    const at = { x: 37, y: 251 };
    const before = toSeason(view, at);
    for (const factor of [0.2, 0.9, 1.5, 40]) {
      const after = toSeason(zoomAt(view, at, factor), at);
      expect(after.xCm).toBeCloseTo(before.xCm, 9);
      expect(after.yCm).toBeCloseTo(before.yCm, 9);
    }
  });
  test('the scale stays within bounds', () => {
    expect(zoomAt(view, { x: 0, y: 0 }, 1e9).pxPerCm).toBe(120);
    expect(zoomAt(view, { x: 0, y: 0 }, 1e-9).pxPerCm).toBe(0.02);
  });
  test('dragging moves the ground with the hand', () => {
    const p = toSeason(view, { x: 100, y: 100 });
    expect(toScreen(panBy(view, 30, -20), p)).toEqual({ x: 130, y: 80 });
  });
  test('a picture painted in one view is moved to where it lies in another', () => {
    const to = panBy(zoomAt(view, { x: 60, y: 70 }, 1.7), 12, -9);
    const { x, y, scale } = shiftBetween(view, to);
    const p = toScreen(view, { xCm: 33, yCm: -21 });
    const q = toScreen(to, { xCm: 33, yCm: -21 });
    expect(x + p.x * scale).toBeCloseTo(q.x, 9);
    expect(y + p.y * scale).toBeCloseTo(q.y, 9);
  });
  test('everything fits with its margin', () => {
    const b = boundsOf([
      { xCm: -150, yCm: -20 },
      { xCm: 150, yCm: 220 },
    ])!;
    const v = fit(b, 500, 400, 20);
    for (const corner of [b.low, b.high]) {
      const p = toScreen(v, corner);
      expect(p.x).toBeGreaterThanOrEqual(19.99);
      expect(p.x).toBeLessThanOrEqual(480.01);
      expect(p.y).toBeGreaterThanOrEqual(19.99);
      expect(p.y).toBeLessThanOrEqual(380.01);
    }
  });
  test('an empty season has a view, too', () => expect(fit(undefined, 300, 300).pxPerCm).toBeGreaterThan(0));
  test.each([
    [2, 160, 50],
    [0.5, 160, 200],
    [40, 160, 2],
    [120, 100, 0.5],
  ])('scale bar at %d px/cm in %d px is %d cm', (pxPerCm, room, cm) => {
    expect(scaleBar({ ...view, pxPerCm }, room).cm).toBeCloseTo(cm, 12);
  });
});

describe('what stands on the plan', () => {
  const index = indexPasses(exposures.rows, season.species);
  const whole = fit(planBounds(season, exposures.rows), 600, 480);
  test('the tank is inside the picture', () => {
    const wall = groundMarks(season, whole)[0]!;
    expect(wall.kind === 'path' && /^M[\d.]+ [\d.]+h/.test(wall.d)).toBe(true);
  });
  test('plates lie to scale under the passes, and are held in the picture', () => {
    const board = {
      label: 'west',
      size_x_cm: 400,
      size_y_cm: 200,
      diameter_cm: null,
      centre_x_cm: 100,
      centre_y_cm: -50,
      yaw_deg: 90,
      thickness_cm: 1,
    };
    // By hand: turned by 90°, 400 along x is 400 along y.
    const corners = [
      [200, -250],
      [200, 150],
      [0, 150],
      [0, -250],
    ] as const;
    cornersOf(board).forEach((p, i) => {
      expect(p.xCm).toBeCloseTo(corners[i]![0], 9);
      expect(p.yCm).toBeCloseTo(corners[i]![1], 9);
    });
    const disc = { ...board, diameter_cm: 60, yaw_deg: 0, label: '' };
    const laid = { ...season, plates: [board, disc] };
    const v = fit(planBounds(laid, exposures.rows), 600, 480);
    for (const p of cornersOf(board)) {
      const { x, y } = toScreen(v, p);
      expect(x >= 0 && x <= 600 && y >= 0 && y <= 480).toBe(true);
    }
    const [wall, square, round] = groundMarks(laid, v);
    expect(wall).toMatchObject({ kind: 'path', fill: 'surface' });
    expect(square).toMatchObject({ kind: 'path', title: 'Plate west' });
    expect(round).toMatchObject({ kind: 'path', title: 'Plate' });
    const numbers = (m: Mark | undefined) => (m?.kind === 'path' ? m.d.match(/-?[\d.]+/g)!.map(Number) : []);
    const [x0, y0, x1, y1] = numbers(square);
    expect(Math.hypot(x1! - x0!, y1! - y0!)).toBeCloseTo(400 * v.pxPerCm, 0);
    expect(numbers(round)).toContain(Math.round(30 * v.pxPerCm * 100) / 100);
  });
  test('a round tank is a circle of its own width', () => {
    const tank = { size_x_cm: 0, size_y_cm: 0, diameter_cm: 300, centre_x_cm: 0, centre_y_cm: 0 };
    const v = fit(planBounds({ ...season, enclosure: tank }, []), 600, 480);
    const wall = groundMarks({ ...season, enclosure: tank }, v)[0]!;
    expect(wall.kind === 'path' && wall.d).toContain(`${Math.round(150 * v.pxPerCm * 100) / 100}`);
    expect(300 * v.pxPerCm).toBeLessThanOrEqual(480);
  });
  test('each pair has its label', () => {
    const labels = pairMarks(season, whole).flatMap((m) => (m.kind === 'text' ? [m.text] : []));
    expect(labels).toEqual(['A', 'B', 'C', 'D']);
  });
  test('an azimuth of 90° points up', () => {
    const b = { ...season, pairs: season.pairs.filter((p) => p.azimuth_deg === 90).slice(0, 1) };
    const shaft = pairMarks(b, whole)[1]!;
    const [, x1, y1, x2, y2] = /M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)/
      .exec(shaft.kind === 'path' ? shaft.d : '')!
      .map(Number);
    expect(x1).toBeCloseTo(x2!, 6);
    expect(y2).toBeLessThan(y1!);
  });
  test('passes without a turn are dots, and can be left out', () => {
    const turns = exposures.rows.filter((r) => r.responded).length;
    expect(rowMarks(exposures.rows, season.species, whole, false).length).toBe(turns);
    expect(rowMarks(exposures.rows, season.species, whole, true).length).toBe(exposures.rows.length);
  });
  test('the nearest mark is found, and none out of reach', () => {
    const row = exposures.rows.find((r) => r.responded)!;
    const at = toScreen(whole, { xCm: row.head_x_cm!, yCm: row.head_y_cm! });
    expect(nearest(index, whole, at, false)?.pass).toBe(row.pass);
    expect(nearest(index, whole, { x: -500, y: -500 }, true)).toBeUndefined();
  });
  test('the chosen pass has its track and its ring', () => {
    const pass = Object.values(passes)[0]!;
    expect(shownMarks(undefined, undefined, whole)).toEqual([]);
    expect(shownMarks(pass.row, undefined, whole).length).toBe(2);
    expect(shownMarks(pass.row, pass, whole).length).toBeGreaterThan(4);
  });
});

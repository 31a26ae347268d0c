import { describe, expect, test } from 'vitest';
import type { BodyKnobs } from '$lib/api/stimulus';
import { clipped, electrodesOf, segmentWithin } from '$lib/draw/section-scene';
import {
  bodySolid,
  bottomM,
  cut,
  horizontalPlane,
  hull,
  offPlane,
  onPlane,
  plateSolid,
  shadow,
  surfaceM,
  verticalPlane,
  type Flat,
} from '$lib/draw/solids';
import { knobs } from '../fixtures/stimulus-program';

/** area of an outline, anticlockwise positive (shoelace formula). */
const area = (p: readonly Flat[]): number =>
  p.reduce((sum, [x, y], i) => sum + x * p[(i + 1) % p.length]![1] - y * p[(i + 1) % p.length]![0], 0) / 2;
const span = (p: readonly Flat[], axis: 0 | 1): [number, number] => [
  Math.min(...p.map((q) => q[axis])),
  Math.max(...p.map((q) => q[axis])),
];
const body = (more: Partial<BodyKnobs>): BodyKnobs => ({
  shape: 'box',
  centre_m: [0, 0, 0],
  size_m: [0.4, 0.2, 0.1],
  yaw_deg: 0,
  pitch_deg: 0,
  S_per_m: 0,
  label: '',
  ...more,
});

test('a place on a plane and off it again', () => {
  const plane = verticalPlane(30, 0.2);
  // Along 30° (√3/2, 1/2); to the left of it (−1/2, √3/2).
  const at = offPlane(plane, 1, 0.3);
  expect(at[0]).toBeCloseTo(Math.sqrt(3) / 2 - 0.1, 12);
  expect(at[1]).toBeCloseTo(0.5 + 0.1 * Math.sqrt(3), 12);
  onPlane(plane, at).forEach((v, i) => expect(v).toBeCloseTo([1, 0.3, 0][i]!, 12));
  expect(onPlane(horizontalPlane(0.05), [1, 2, 0.07])[2]).toBeCloseTo(0.02, 12);
});

test('a hull leaves out what lies inside and on its sides', () => {
  const square: Flat[] = [
    [0, 0],
    [1, 0],
    [1, 1],
    [0, 1],
  ];
  expect(hull([...square, [0.5, 0.5], [0.5, 0], [1, 1]])).toHaveLength(4);
  expect(area(hull(square))).toBe(1);
});

describe('a plate', () => {
  const plate = {
    shape: 'rectangle',
    size_m: [0.6, 0.4],
    diameter_m: null,
    thickness_m: 0.01,
    centre_m: [0.1, 0],
    yaw_deg: 90,
  };
  test('turned by 90° is cut across its width, below z = 0', () => {
    const through = cut(plateSolid(plate), verticalPlane(0, 0));
    expect(span(through, 0).map((v) => Number(v.toFixed(9)))).toEqual([-0.1, 0.3]);
    expect(span(through, 1).map((v) => Number(v.toFixed(9)))).toEqual([-0.01, 0]);
  });
  test('a disc is cut by its chord: 2·√(r² − d²)', () => {
    const disc = { ...plate, shape: 'disc', size_m: null, diameter_m: 1, centre_m: [0, 0], yaw_deg: 0 };
    const [low, high] = span(cut(plateSolid(disc), verticalPlane(0, 0.3)), 0);
    // The disc is drawn with 48 corners: within 1 − cos(π/48) of its radius.
    expect(high - low).toBeGreaterThan(0.8 * (1 - 0.004));
    expect(high - low).toBeLessThanOrEqual(0.8);
  });
  test('is not cut above its top, and then casts its shadow', () => {
    expect(cut(plateSolid(plate), horizontalPlane(0.05))).toEqual([]);
    expect(area(shadow(plateSolid(plate), horizontalPlane(0.05)))).toBeCloseTo(0.24, 12);
  });
});

describe('a body', () => {
  test('a cylinder with pitch 90 stands upright', () => {
    const solid = bodySolid(body({ shape: 'cylinder', size_m: [0.3, 0.1, 0.1], pitch_deg: 90, centre_m: [0, 0, 0.2] }));
    const through = cut(solid, verticalPlane(0, 0));
    expect(span(through, 1).map((v) => Number(v.toFixed(9)))).toEqual([0.05, 0.35]);
    expect(span(through, 0)[1]).toBeCloseTo(0.05, 3);
  });
  test('nose up is positive: the end along +x rises', () => {
    const solid = bodySolid(body({ size_m: [1, 0.001, 0.001], pitch_deg: 30 }));
    const tip = solid.corners.reduce((a, b) => (b[0] > a[0] ? b : a));
    expect(tip[0]).toBeCloseTo(0.5 * Math.cos(Math.PI / 6), 2);
    expect(tip[2]).toBeCloseTo(0.25, 2);
  });
  test('a spheroid is cut through its middle by an ellipse: area π·a·b', () => {
    const solid = bodySolid(body({ shape: 'spheroid', size_m: [0.4, 0.2, 0.2], yaw_deg: 40 }));
    const round = area(cut(solid, horizontalPlane(1e-9)));
    expect(round / (Math.PI * 0.2 * 0.1)).toBeGreaterThan(0.985);
    expect(round / (Math.PI * 0.2 * 0.1)).toBeLessThanOrEqual(1);
  });
});

test('sand over a plate raises the bottom and leaves the surface', () => {
  const k = { ...knobs(), top_above_bottom_m: 0.02, depth_m: 8 };
  expect(bottomM(k)).toBe(-0.02);
  expect(surfaceM(k)).toBeCloseTo(7.98, 12);
  const sandy = { ...k, bottom: { ...k.bottom, kind: 'sediment' }, sand_over_plate_mm: 5 };
  expect(bottomM(sandy)).toBe(0.005);
  expect(surfaceM(sandy)).toBeCloseTo(7.98, 12);
  expect(bottomM({ ...sandy, plates: [] })).toBe(0);
  expect(surfaceM(knobs())).toBeNull();
});

test('a pair has its positive electrode at the end of its axis', () => {
  const [plus, minus, b] = electrodesOf(knobs());
  expect([plus!.at[0], plus!.share]).toEqual([0.505, 1]);
  expect([minus!.at[0], minus!.share]).toEqual([0.495, -1]);
  expect(b!.at[1]).toBeCloseTo(0.005, 12);
});

describe('a frame', () => {
  const frame = { left: 0, right: 10, top: 0, bottom: 10 };
  test('keeps the part of an outline that lies in it', () => {
    const half = clipped(
      [
        [-5, 2],
        [5, 2],
        [5, 4],
        [-5, 4],
      ],
      frame,
    );
    expect(Math.abs(area(half))).toBeCloseTo(10, 12);
    expect(
      clipped(
        [
          [20, 20],
          [30, 20],
          [30, 30],
        ],
        frame,
      ),
    ).toEqual([]);
  });
  test('keeps the part of a line that lies in it', () => {
    expect(segmentWithin([-10, 5], [20, 5], frame)).toEqual([
      [0, 5],
      [10, 5],
    ]);
    expect(segmentWithin([-10, 11], [20, 11], frame)).toBeUndefined();
    expect(segmentWithin([-1, 3], [-1, 8], frame)).toBeUndefined();
  });
});

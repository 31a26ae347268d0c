// The ground of the background's plan: how places in metres become pixels. A
// boat at 30 m and a pair at 10 cm are both to be seen, so the plan can be
// drawn with distances from the middle of the pairs as logarithms.
import type { BackgroundSpec } from '$lib/api/background';
import type { PlateKnobs } from '$lib/api/stimulus';
import { middleOf } from '$lib/state/background-spec';
import type { Frame } from './axes';

export const planScales = ['log', 'fitted', 'near'] as const;
export type PlanScale = (typeof planScales)[number];

export type Point = readonly [number, number];

/** Within this distance of the middle the logarithmic plan is about true to scale, metres. */
export const trueWithinM = 0.2;

/** The logarithmic plan reaches at least so far, so that there is room to draw gear to, metres. */
const leastReachM = 10;

export interface Ground {
  scale: PlanScale;
  frame: Frame;
  /** Middle of the pairs, metres. */
  middle: Point;
  /** Logarithmic: the outer ring; else half the width of the frame, metres. */
  reachM: number;
  at(p: Point): [number, number];
  back(px: Point): [number, number];
}

/** roundUp is the 1, 2 or 5 times a power of ten at or above v. */
export function roundUp(v: number): number {
  const power = 10 ** Math.floor(Math.log10(v) + 1e-12);
  const m = v / power;
  return Number((power * (m <= 1 + 1e-9 ? 1 : m <= 2 + 1e-9 ? 2 : m <= 5 + 1e-9 ? 5 : 10)).toPrecision(6));
}

/** placed are the places that are numbers. */
const placed = (places: readonly (readonly number[])[]): Point[] =>
  places.flatMap(([x, y]) =>
    x !== undefined && y !== undefined && Number.isFinite(x) && Number.isFinite(y) ? [[x, y] as const] : [],
  );

export const pairPlaces = (spec: BackgroundSpec): Point[] => placed((spec.pairs ?? []).map((p) => p.centre_m));
const sourcePlaces = (spec: BackgroundSpec): Point[] => placed((spec.sources ?? []).map((s) => s.at_m));

/** plateOutline in metres, closed. */
export function plateOutline(plate: PlateKnobs): Point[] {
  const [cx = 0, cy = 0] = plate.centre_m;
  const yaw = (plate.yaw_deg * Math.PI) / 180;
  const out: Point[] = [];
  const add = (u: number, v: number) =>
    out.push([cx + u * Math.cos(yaw) - v * Math.sin(yaw), cy + u * Math.sin(yaw) + v * Math.cos(yaw)]);
  if (plate.shape === 'disc') {
    const r = (plate.diameter_m ?? 0) / 2;
    for (let i = 0; i <= 72; i++) add(r * Math.cos((i * Math.PI) / 36), r * Math.sin((i * Math.PI) / 36));
    return out;
  }
  const [a, b] = [(plate.size_m?.[0] ?? 0) / 2, (plate.size_m?.[1] ?? 0) / 2];
  const corners: Point[] = [
    [-a, -b],
    [a, -b],
    [a, b],
    [-a, b],
    [-a, -b],
  ];
  // Straight edges are bent by the logarithm: they are drawn in short pieces.
  for (let k = 0; k < 4; k++)
    for (let i = 0; i < 12; i++) {
      const t = i / 12;
      add(
        corners[k]![0] + t * (corners[k + 1]![0] - corners[k]![0]),
        corners[k]![1] + t * (corners[k + 1]![1] - corners[k]![1]),
      );
    }
  add(-a, -b);
  return out;
}

/** ringPoints is a circle in metres, closed. */
export function ringPoints([x, y]: Point, r: number): Point[] {
  const n = 144;
  return Array.from({ length: n + 1 }, (_, i) => {
    const a = (2 * Math.PI * i) / n;
    return [x + r * Math.cos(a), y + r * Math.sin(a)] as const;
  });
}

export function ground(spec: BackgroundSpec, plates: readonly PlateKnobs[], scale: PlanScale, frame: Frame): Ground {
  const middle = middleOf(spec);
  const near = [...pairPlaces(spec), ...plates.flatMap(plateOutline)];
  const all = [...near, ...sourcePlaces(spec)];
  return scale === 'log'
    ? logGround(middle, all, frame)
    : trueGround(scale, scale === 'near' ? near : all, middle, frame);
}

const away = (points: readonly Point[], [x, y]: Point): number =>
  points.reduce((most, p) => Math.max(most, Math.hypot(p[0] - x, p[1] - y)), 0);

function logGround(middle: Point, all: readonly Point[], frame: Frame): Ground {
  const reachM = roundUp(Math.max(leastReachM, away(all, middle) * 1.15));
  const [cx, cy] = [(frame.left + frame.right) / 2, (frame.top + frame.bottom) / 2];
  const radius = Math.min(frame.right - frame.left, frame.bottom - frame.top) / 2;
  const k = radius / Math.asinh(reachM / trueWithinM);
  return {
    scale: 'log',
    frame,
    middle,
    reachM,
    at([x, y]) {
      const [dx, dy] = [x - middle[0], y - middle[1]];
      const r = Math.hypot(dx, dy);
      const factor = r > 0 ? (k * Math.asinh(r / trueWithinM)) / r : k / trueWithinM;
      return [cx + dx * factor, cy - dy * factor];
    },
    back([px, py]) {
      const [dx, dy] = [px - cx, cy - py];
      const p = Math.hypot(dx, dy);
      const factor = p > 0 ? (trueWithinM * Math.sinh(p / k)) / p : trueWithinM / k;
      return [middle[0] + dx * factor, middle[1] + dy * factor];
    },
  };
}

function trueGround(scale: PlanScale, shown: readonly Point[], middle: Point, frame: Frame): Ground {
  const points = shown.length > 0 ? shown : [middle];
  const [lowX, highX] = [Math.min(...points.map((p) => p[0])), Math.max(...points.map((p) => p[0]))];
  const [lowY, highY] = [Math.min(...points.map((p) => p[1])), Math.max(...points.map((p) => p[1]))];
  const [wide, tall] = [frame.right - frame.left, frame.bottom - frame.top];
  const room = 1.3;
  const perM = Math.min(wide / Math.max(1, (highX - lowX) * room), tall / Math.max(1, (highY - lowY) * room));
  const [mx, my] = [(lowX + highX) / 2, (lowY + highY) / 2];
  const [cx, cy] = [(frame.left + frame.right) / 2, (frame.top + frame.bottom) / 2];
  return {
    scale,
    frame,
    middle,
    reachM: wide / 2 / perM,
    at: ([x, y]) => [cx + (x - mx) * perM, cy - (y - my) * perM],
    back: ([px, py]) => [mx + (px - cx) / perM, my + (cy - py) / perM],
  };
}

/** held brings a place on the picture to the nearest within its frame; out tells that it lay outside. */
export function held([x, y]: Point, frame: Frame, margin: number): { x: number; y: number; out: boolean } {
  const hx = Math.min(frame.right - margin, Math.max(frame.left + margin, x));
  const hy = Math.min(frame.bottom - margin, Math.max(frame.top + margin, y));
  return { x: hx, y: hy, out: Math.hypot(hx - x, hy - y) > margin };
}

/** clipped is a closed outline cut to the frame (Sutherland and Hodgman, 1974). */
export function clipped(outline: readonly Point[], frame: Frame): Point[] {
  type Side = { inside: (p: Point) => boolean; cross: (a: Point, b: Point) => Point };
  const upright = (x: number, sign: number): Side => ({
    inside: (p) => sign * (p[0] - x) >= 0,
    cross: (a, b) => [x, a[1] + ((x - a[0]) / (b[0] - a[0])) * (b[1] - a[1])],
  });
  const level = (y: number, sign: number): Side => ({
    inside: (p) => sign * (p[1] - y) >= 0,
    cross: (a, b) => [a[0] + ((y - a[1]) / (b[1] - a[1])) * (b[0] - a[0]), y],
  });
  const sides = [upright(frame.left, 1), upright(frame.right, -1), level(frame.top, 1), level(frame.bottom, -1)];
  let points = [...outline];
  for (const side of sides) {
    const kept: Point[] = [];
    points.forEach((p, i) => {
      const before = points[(i + points.length - 1) % points.length]!;
      if (side.inside(p) !== side.inside(before)) kept.push(side.cross(before, p));
      if (side.inside(p)) kept.push(p);
    });
    points = kept;
  }
  return points;
}

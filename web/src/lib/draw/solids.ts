// Solids of a setting and how a plane cuts them. Each is convex, so a cut is
// the hull of where its edges cross the plane. Season frame, metres.
import type { BodyKnobs, Knobs, PlateKnobs, Vector } from '$lib/api/stimulus';

/** A place on a plane: u along it, v across. */
export type Flat = readonly [number, number];

/** A convex solid by its corners and the pairs of them that are joined. */
export interface Solid {
  corners: Vector[];
  edges: (readonly [number, number])[];
}

/** A plane by a place on it and three unit vectors: along u, along v and out of it. */
export interface Plane {
  origin: Vector;
  u: Vector;
  v: Vector;
  out: Vector;
}

const dot = (a: Vector, b: Vector): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const rad = (deg: number): number => (deg * Math.PI) / 180;

/** verticalPlane runs along the azimuth through (0, 0), shifted to its left; v is the height. */
export function verticalPlane(azimuthDeg: number, offsetM: number): Plane {
  const [c, s] = [Math.cos(rad(azimuthDeg)), Math.sin(rad(azimuthDeg))];
  return { origin: [-s * offsetM, c * offsetM, 0], u: [c, s, 0], v: [0, 0, 1], out: [-s, c, 0] };
}

export const horizontalPlane = (heightM: number): Plane => ({
  origin: [0, 0, heightM],
  u: [1, 0, 0],
  v: [0, 1, 0],
  out: [0, 0, 1],
});

/** onPlane gives u, v and the distance out of the plane. */
export function onPlane(plane: Plane, place: Vector): [number, number, number] {
  const { origin } = plane;
  const d: Vector = [place[0] - origin[0], place[1] - origin[1], place[2] - origin[2]];
  return [dot(d, plane.u), dot(d, plane.v), dot(d, plane.out)];
}

export function offPlane(plane: Plane, u: number, v: number): Vector {
  const at = (i: 0 | 1 | 2) => plane.origin[i] + u * plane.u[i] + v * plane.v[i];
  return [at(0), at(1), at(2)];
}

/** hull is the convex hull, anticlockwise (monotone chain). */
export function hull(points: readonly Flat[]): Flat[] {
  const sorted = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const half = (list: readonly Flat[]): Flat[] => {
    const out: Flat[] = [];
    for (const p of list) {
      while (out.length > 1) {
        const [a, b] = [out[out.length - 2]!, out[out.length - 1]!];
        if ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) > 0) break;
        out.pop();
      }
      out.push(p);
    }
    return out.slice(0, -1);
  };
  return sorted.length < 3 ? sorted : [...half(sorted), ...half(sorted.reverse())];
}

/** cut is where the plane goes through the solid; empty where it does not. */
export function cut(solid: Solid, plane: Plane): Flat[] {
  const at = solid.corners.map((c) => onPlane(plane, c));
  const crossed: Flat[] = [];
  for (const [i, j] of solid.edges) {
    const [a, b] = [at[i]!, at[j]!];
    if (a[2] > 0 === b[2] > 0) continue;
    const t = a[2] / (a[2] - b[2]);
    crossed.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
  }
  return hull(crossed);
}

/** shadow is the outline of the solid as seen along the plane's normal. */
export const shadow = (solid: Solid, plane: Plane): Flat[] =>
  hull(
    solid.corners.map((c) => {
      const [u, v] = onPlane(plane, c);
      return [u, v];
    }),
  );

const round = 48;

/** prism stands a ring of places, in the solid's own axes, between two ends. */
function prism(ring: readonly Flat[], low: number, high: number, place: (a: Flat, end: number) => Vector): Solid {
  const n = ring.length;
  const corners = [low, high].flatMap((end) => ring.map((p) => place(p, end)));
  const edges = ring.flatMap((_, i) => {
    const next = (i + 1) % n;
    return [[i, next] as const, [n + i, n + next] as const, [i, n + i] as const];
  });
  return { corners, edges };
}

const circle = (radius: number): Flat[] =>
  Array.from({ length: round }, (_, i) => {
    const a = (2 * Math.PI * i) / round;
    return [radius * Math.cos(a), radius * Math.sin(a)];
  });
const rectangle = (x: number, y: number): Flat[] => [
  [-x / 2, -y / 2],
  [x / 2, -y / 2],
  [x / 2, y / 2],
  [-x / 2, y / 2],
];

export function plateSolid(plate: PlateKnobs): Solid {
  const [c, s] = [Math.cos(rad(plate.yaw_deg)), Math.sin(rad(plate.yaw_deg))];
  const [x = 0, y = 0] = plate.centre_m;
  const [along = 0, across = along] = plate.size_m ?? [];
  const ring = plate.shape === 'disc' ? circle((plate.diameter_m ?? 0) / 2) : rectangle(along, across);
  // A thin sheet is cut like any other plate, as a line.
  return prism(ring, -plate.thickness_m, 0, ([a, b], z) => [x + a * c - b * s, y + a * s + b * c, z]);
}

export function bodySolid(body: BodyKnobs): Solid {
  const [cy, sy] = [Math.cos(rad(body.yaw_deg)), Math.sin(rad(body.yaw_deg))];
  const [cp, sp] = [Math.cos(rad(body.pitch_deg)), Math.sin(rad(body.pitch_deg))];
  const [x = 0, y = 0, z = 0] = body.centre_m;
  const [length = 0, width = 0, tall = width] = body.size_m;
  /** From the body's own axes: along, across, up. */
  const turned = (a: number, b: number, c: number): Vector => [
    x + a * cy * cp - b * sy - c * cy * sp,
    y + a * sy * cp + b * cy - c * sy * sp,
    z + a * sp + c * cp,
  ];
  if (body.shape === 'spheroid') return spheroid(length / 2, width / 2, turned);
  const ring = body.shape === 'cylinder' ? circle(width / 2) : rectangle(width, tall);
  return prism(ring, -length / 2, length / 2, ([b, c], a) => turned(a, b, c));
}

function spheroid(a: number, r: number, turned: (a: number, b: number, c: number) => Vector): Solid {
  const rings = round / 2;
  const corners: Vector[] = [];
  const edges: [number, number][] = [];
  for (let i = 0; i <= rings; i++) {
    const t = (Math.PI * i) / rings;
    for (let j = 0; j < round; j++) {
      const p = (2 * Math.PI * j) / round;
      corners.push(turned(a * Math.cos(t), r * Math.sin(t) * Math.cos(p), r * Math.sin(t) * Math.sin(p)));
      edges.push([i * round + j, i * round + ((j + 1) % round)]);
      if (i < rings) edges.push([i * round + j, (i + 1) * round + j]);
    }
  }
  return { corners, edges };
}

/** statedBottomM is the height of the bottom without sand over the plates. */
const statedBottomM = (knobs: Knobs): number => (knobs.plates.length > 0 ? -knobs.top_above_bottom_m : 0);

/** bottomM is the height of the bottom: the sand's surface where sand lies over the plates of a sediment. */
export function bottomM(knobs: Knobs): number {
  const sand = knobs.plates.length > 0 && knobs.bottom.kind === 'sediment' ? knobs.sand_over_plate_mm / 1000 : 0;
  return sand > 0 ? sand : statedBottomM(knobs);
}

/** surfaceM is the height of the water's surface, which sand leaves where it is; null where it is taken as far away. */
export const surfaceM = (knobs: Knobs): number | null =>
  knobs.depth_m === null ? null : statedBottomM(knobs) + knobs.depth_m;

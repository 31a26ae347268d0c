// What lies in a section, to scale: bottom, surface, plates, bodies, electrodes.
import type { Knobs, Vector } from '$lib/api/stimulus';
import { words } from '$lib/words';
import type { Frame } from './axes';
import { circleAt, line, path, polyline, text, type Mark, type Paint } from './picture';
import type { Scale } from './scale';
import {
  bodySolid,
  bottomM,
  cut,
  onPlane,
  plateSolid,
  shadow,
  surfaceM,
  type Flat,
  type Plane,
  type Solid,
} from './solids';

const w = words.stimulus.picture;

/** Where a section stands on the screen: u to the right, v up. */
export interface Ground {
  frame: Frame;
  x: Scale;
  y: Scale;
  plane: Plane;
  vertical: boolean;
}

/** clipped is the part of a convex outline within the frame (Sutherland and Hodgman's way). */
export function clipped(outline: readonly Flat[], { left, right, top, bottom }: Frame): Flat[] {
  const sides: [0 | 1, number, 1 | -1][] = [
    [0, left, 1],
    [0, right, -1],
    [1, top, 1],
    [1, bottom, -1],
  ];
  let shape = [...outline];
  for (const [axis, limit, sign] of sides) {
    const within = (p: Flat) => sign * (p[axis] - limit) >= 0;
    shape = shape.flatMap((p, i) => {
      const before = shape[(i + shape.length - 1) % shape.length]!;
      const out: Flat[] = [];
      if (within(p) !== within(before)) {
        const t = (limit - before[axis]) / (p[axis] - before[axis]);
        out.push([before[0] + t * (p[0] - before[0]), before[1] + t * (p[1] - before[1])]);
      }
      if (within(p)) out.push(p);
      return out;
    });
  }
  return shape;
}

const outline = (shape: readonly Flat[], g: Ground): string => {
  const seen = clipped(
    shape.map(([u, v]) => [g.x.at(u), g.y.at(v)] as const),
    g.frame,
  );
  const d = polyline(
    seen.map((p) => p[0]),
    seen.map((p) => p[1]),
  );
  return d && `${d}z`;
};

/** solidMarks fills where the solid is cut and dashes the outline of what lies before or behind. */
function solidMarks(solid: Solid, g: Ground, fill: Paint, title: string): Mark[] {
  const through = cut(solid, g.plane);
  if (through.length > 1) {
    const d = outline(through, g);
    return d ? [path(d, { fill, stroke: 'ink', width: 1.25, title })] : [];
  }
  const d = outline(shadow(solid, g.plane), g);
  return d ? [path(d, { stroke: 'ink', width: 1, dash: [4, 4], opacity: 0.6, title })] : [];
}

interface Electrode {
  at: Vector;
  share: number;
  radius: number;
}

/** electrodesOf lists every electrode; a pair's axis points from its negative to its positive one. */
export function electrodesOf(knobs: Knobs): Electrode[] {
  const pairs = knobs.pairs.flatMap((p) => {
    const a = (p.azimuth_deg * Math.PI) / 180;
    const [x = 0, y = 0] = p.centre_m;
    return [1, -1].map((side) => ({
      at: [
        x + (side * p.separation_m * Math.cos(a)) / 2,
        y + (side * p.separation_m * Math.sin(a)) / 2,
        p.height_m,
      ] as Vector,
      share: side * p.share,
      radius: p.electrode_diameter_m / 2,
    }));
  });
  const single = knobs.electrodes.map((e) => ({
    at: [e.at_m[0] ?? 0, e.at_m[1] ?? 0, e.at_m[2] ?? 0] as Vector,
    share: e.share,
    radius: e.diameter_m / 2,
  }));
  return [...pairs, ...single];
}

/** Electrodes are smaller than a dot at most scales; they are never drawn smaller than this. */
const leastPx = 3;

function electrodeMarks(knobs: Knobs, g: Ground): Mark[] {
  const perM = Math.abs(g.x.at(1) - g.x.at(0));
  return electrodesOf(knobs).flatMap(({ at, share, radius }) => {
    const [u, v, out] = onPlane(g.plane, at);
    const [x, y] = [g.x.at(u), g.y.at(v)];
    if (x < g.frame.left || x > g.frame.right || y < g.frame.top || y > g.frame.bottom) return [];
    const r = Math.max(leastPx, radius * perM);
    // What lies within a dot of the plane is in it, as far as the eye can tell.
    const here = !g.vertical || Math.abs(out) * perM <= r;
    const style =
      share === 0 || !here ? { fill: 'surface' as const, stroke: 'ink' as const } : { fill: 'ink' as const };
    return [path(circleAt(x, y, r), { ...style, width: 1.25, opacity: here ? 1 : 0.6 })];
  });
}

/** signMarks say which end of the driven pair is positive, where both have room. */
function signMarks(knobs: Knobs, g: Ground): Mark[] {
  const driven = electrodesOf(knobs).filter((e) => e.share * knobs.current_uA !== 0);
  const at = driven.map((e) => {
    const [u, v, out] = onPlane(g.plane, e.at);
    return { x: g.x.at(u), y: g.y.at(v), out, plus: e.share * knobs.current_uA > 0 };
  });
  const roomy = at.every((a, i) => at.every((b, j) => i === j || Math.hypot(a.x - b.x, a.y - b.y) > 24));
  if (!roomy) return [];
  const within = (a: { x: number; y: number }) =>
    a.x > g.frame.left && a.x < g.frame.right && a.y > g.frame.top + 12 && a.y < g.frame.bottom;
  return at
    .filter(within)
    .map((a) => text(a.x, a.y - 8, a.plus ? '+' : '−', { anchor: 'middle', bold: true, halo: true }));
}

function level(g: Ground, v: number, label: string, heavy: boolean): Mark[] {
  const y = g.y.at(v);
  if (y < g.frame.top - 0.5 || y > g.frame.bottom + 0.5) return [];
  const style = { stroke: 'ink' as const, width: heavy ? 1.75 : 1.25, ...(heavy ? {} : { dash: [8, 3] }) };
  return [
    line(g.frame.left, y, g.frame.right, y, style),
    text(g.frame.left + 6, heavy ? y + 14 : y - 6, label, { fill: 'ink', size: 12, halo: true }),
  ];
}

/** groundMarks are what the colours must not cover: bottom and surface. */
function levels(knobs: Knobs, g: Ground): Mark[] {
  if (!g.vertical) return [];
  const surface = surfaceM(knobs);
  return [
    ...level(g, bottomM(knobs), knobs.bottom.kind === 'sediment' ? w.sediment : w.floor, true),
    ...(surface === null ? [] : level(g, surface, w.surface, false)),
  ];
}

/** wallMarks are the walls of a tank. */
function wallMarks(knobs: Knobs, g: Ground): Mark[] {
  const tank = knobs.enclosure;
  if (!tank) return [];
  const high = (surfaceM(knobs) ?? 0) + 1;
  const inside = plateSolid({
    shape: tank.diameter_m === null ? 'rectangle' : 'disc',
    size_m: tank.size_m,
    diameter_m: tank.diameter_m,
    thickness_m: high - bottomM(knobs) + 1,
    centre_m: tank.centre_m,
    yaw_deg: 0,
  });
  for (const c of inside.corners) c[2] += high;
  const walls = cut(inside, g.plane).map(([u, v]) => [g.x.at(u), g.y.at(v)] as const);
  if (walls.length < 3) return [];
  const { left, right, top, bottom } = g.frame;
  return walls.flatMap((a, i) => {
    const b = walls[(i + 1) % walls.length]!;
    const part = segmentWithin(a, b, { left, right, top, bottom });
    return part ? [line(...part[0], ...part[1], { stroke: 'ink', width: 2.5 })] : [];
  });
}

/** segmentWithin is the part of a straight line within the frame (Liang and Barsky's way). */
export function segmentWithin(a: Flat, b: Flat, { left, right, top, bottom }: Frame): [Flat, Flat] | undefined {
  const d: Flat = [b[0] - a[0], b[1] - a[1]];
  let [from, to] = [0, 1];
  for (const [step, room] of [
    [-d[0], a[0] - left],
    [d[0], right - a[0]],
    [-d[1], a[1] - top],
    [d[1], bottom - a[1]],
  ] as const) {
    if (step === 0) {
      if (room < 0) return undefined;
      continue;
    }
    const t = room / step;
    if (step < 0) from = Math.max(from, t);
    else to = Math.min(to, t);
  }
  if (from >= to) return undefined;
  return [
    [a[0] + from * d[0], a[1] + from * d[1]],
    [a[0] + to * d[0], a[1] + to * d[1]],
  ];
}

/** sceneMarks draw the setting over the colours. */
export function sceneMarks(knobs: Knobs, g: Ground): Mark[] {
  return [
    ...wallMarks(knobs, g),
    ...levels(knobs, g),
    ...knobs.plates.flatMap((p) => solidMarks(plateSolid(p), g, 'surface', w.plate)),
    ...knobs.bodies.flatMap((b) => solidMarks(bodySolid(b), g, 'sunk', b.label || w.body)),
    ...electrodeMarks(knobs, g),
    ...signMarks(knobs, g),
  ];
}

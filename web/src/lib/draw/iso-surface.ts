// Surfaces of equal field in a grid of points, by marching tetrahedra. Every
// cube of the grid is cut into the six tetrahedra around its diagonal, so
// neighbours share their faces and a surface has no gaps. Where a value is
// missing (in a plate, a body, the bottom) the tetrahedra that need it are left
// out, and the surface ends there with an open edge.

/** Values over a grid of points, x fastest, then y, then z; null where there is no field. */
export interface Grid {
  x_m: readonly number[];
  y_m: readonly number[];
  z_m: readonly number[];
  values: readonly (number | null)[];
}

/** A surface as triangles: three coordinates in metres a point, three points a triangle, seen from the lower values. */
export interface Mesh {
  positions: Float32Array;
  triangles: Uint32Array;
}

/** A tetrahedron runs from corner 0 to corner 7 along one order of the axes: bit 0 is x, bit 1 y, bit 2 z. */
const tetrahedra: readonly (readonly [number, number, number, number])[] = [
  // Even orders of the axes; the odd ones have two corners swapped, so that all six turn the same way.
  [0, 1, 3, 7],
  [0, 2, 6, 7],
  [0, 4, 5, 7],
  [0, 3, 2, 7],
  [0, 6, 4, 7],
  [0, 5, 1, 7],
];

/** For each corner of a tetrahedron the other three, so that the four are an even order. */
const others: readonly (readonly [number, number, number])[] = [
  [1, 2, 3],
  [0, 3, 2],
  [0, 1, 3],
  [0, 2, 1],
];

/** For each pair of corners within (as a mask) the pair and the two without, so that the four are an even order. */
const halves: Record<number, readonly [number, number, number, number]> = {
  0b0011: [0, 1, 2, 3],
  0b0101: [0, 2, 3, 1],
  0b1001: [0, 3, 1, 2],
  0b0110: [1, 2, 0, 3],
  0b1010: [1, 3, 2, 0],
  0b1100: [2, 3, 0, 1],
};

/**
 * isoSurface is the surface on which the values are level. Between two points
 * the place is found on the logarithms of the values, along which the field of
 * a dipole is nearly straight; values at or below 0 count as far below.
 */
export function isoSurface(grid: Grid, level: number): Mesh {
  const [nx, ny, nz] = [grid.x_m.length, grid.y_m.length, grid.z_m.length];
  const logs = logsOf(grid.values, nx * ny * nz);
  const cut = Math.log(level);
  if (!Number.isFinite(cut) || nx < 2 || ny < 2 || nz < 2) return empty();
  const at = (corner: number) => (corner & 1) + nx * ((corner >> 1) & 1) + nx * ny * (corner >> 2);
  const offset = Array.from({ length: 8 }, (_, corner) => at(corner));
  const positions: number[] = [];
  const triangles: number[] = [];
  // One point for each edge that is crossed: 8 edges a grid point at most, by the corner to which they lead.
  const known = new Map<number, number>();

  /** crossing is the point between two corners of a cube, of which one is within. */
  function crossing(base: number, a: number, b: number): number {
    const low = a & b; // the corner of the two that is nearer to corner 0
    const [from, to] = [base + offset[low]!, base + offset[a | b]!];
    const key = from * 8 + (a ^ b);
    const found = known.get(key);
    if (found !== undefined) return found;
    const [v, w] = [logs[from]!, logs[to]!];
    const t = Math.min(1, Math.max(0, (cut - v) / (w - v)));
    positions.push(...place(grid, from, to, t, nx, ny));
    const made = positions.length / 3 - 1;
    known.set(key, made);
    return made;
  }

  for (let k = 0; k + 1 < nz; k++) {
    for (let j = 0; j + 1 < ny; j++) {
      for (let i = 0; i + 1 < nx; i++) {
        const base = i + nx * (j + ny * k);
        if (!mixed(logs, base, offset, cut)) continue;
        for (const t of tetrahedra) march(t, base);
      }
    }
  }

  function march(t: readonly [number, number, number, number], base: number): void {
    let inside = 0;
    let count = 0;
    for (let c = 0; c < 4; c++) {
      const v = logs[base + offset[t[c]!]!]!;
      if (Number.isNaN(v)) return;
      if (v >= cut) {
        inside |= 1 << c;
        count++;
      }
    }
    if (count === 0 || count === 4) return;
    const edge = (a: number, b: number) => crossing(base, t[a]!, t[b]!);
    if (count === 2) {
      const [a, b, c, d] = halves[inside]!;
      const [ac, ad, bd, bc] = [edge(a, c), edge(a, d), edge(b, d), edge(b, c)];
      triangles.push(ac, ad, bd, ac, bd, bc);
      return;
    }
    const alone = Math.log2(count === 1 ? inside : 15 - inside);
    const [b, c, d] = others[alone]!;
    const [p, q, r] = [edge(alone, b), edge(alone, c), edge(alone, d)];
    triangles.push(...(count === 1 ? [p, q, r] : [p, r, q]));
  }

  return { positions: Float32Array.from(positions), triangles: Uint32Array.from(triangles) };
}

const empty = (): Mesh => ({ positions: new Float32Array(), triangles: new Uint32Array() });

/** Far below every level, yet finite: half of it is still a number to interpolate with. */
const nothing = -1e3;

function logsOf(values: readonly (number | null)[], n: number): Float64Array {
  const logs = new Float64Array(n).fill(NaN);
  for (let i = 0; i < n; i++) {
    const v = values[i];
    if (v === null || v === undefined || !Number.isFinite(v)) continue;
    logs[i] = v > 0 ? Math.log(v) : nothing;
  }
  return logs;
}

/** mixed tells whether a cube has known corners on both sides of the cut. */
function mixed(logs: Float64Array, base: number, offset: readonly number[], cut: number): boolean {
  let [above, below] = [false, false];
  for (const o of offset) {
    const v = logs[base + o]!;
    if (v >= cut) above = true;
    else if (v < cut) below = true;
  }
  return above && below;
}

function place(grid: Grid, from: number, to: number, t: number, nx: number, ny: number): [number, number, number] {
  const axis = (values: readonly number[], a: number, b: number) => values[a]! + t * (values[b]! - values[a]!);
  const y = (p: number) => Math.floor(p / nx) % ny;
  const z = (p: number) => Math.floor(p / (nx * ny));
  return [axis(grid.x_m, from % nx, to % nx), axis(grid.y_m, y(from), y(to)), axis(grid.z_m, z(from), z(to))];
}

export interface Extent {
  low: [number, number, number];
  high: [number, number, number];
}

/** extentOf is the box around a surface, metres; undefined where there is none. */
export function extentOf(mesh: Mesh): Extent | undefined {
  if (mesh.triangles.length === 0) return undefined;
  const extent: Extent = { low: [Infinity, Infinity, Infinity], high: [-Infinity, -Infinity, -Infinity] };
  mesh.positions.forEach((v, i) => {
    const axis = i % 3;
    extent.low[axis] = Math.min(extent.low[axis]!, v);
    extent.high[axis] = Math.max(extent.high[axis]!, v);
  });
  return extent;
}

/** A piece smaller than so many steps of the grid on every axis tells of its points more than of the field. */
const speckSteps = 2.5;

/**
 * withoutSpecks leaves out the pieces of a surface that are smaller than the
 * grid can show: at the sharp edge of a plate the field rises without bound
 * within a distance that no grid of points follows.
 */
export function withoutSpecks(mesh: Mesh, grid: Grid): Mesh {
  const n = mesh.positions.length / 3;
  const parent = Uint32Array.from({ length: n }, (_, i) => i);
  const root = (i: number): number => {
    while (parent[i] !== i) i = parent[i] = parent[parent[i]!]!;
    return i;
  };
  for (let t = 0; t < mesh.triangles.length; t += 3) {
    const a = root(mesh.triangles[t]!);
    parent[root(mesh.triangles[t + 1]!)] = a;
    parent[root(mesh.triangles[t + 2]!)] = a;
  }
  const low = new Float64Array(3 * n).fill(Infinity);
  const high = new Float64Array(3 * n).fill(-Infinity);
  for (let i = 0; i < n; i++) {
    const r = root(i);
    for (let axis = 0; axis < 3; axis++) {
      const v = mesh.positions[3 * i + axis]!;
      low[3 * r + axis] = Math.min(low[3 * r + axis]!, v);
      high[3 * r + axis] = Math.max(high[3 * r + axis]!, v);
    }
  }
  const steps = [grid.x_m, grid.y_m, grid.z_m].map((a) => (a.at(-1)! - a[0]!) / (a.length - 1));
  const large = (r: number) =>
    steps.some((step, axis) => high[3 * r + axis]! - low[3 * r + axis]! >= speckSteps * step);
  const kept: number[] = [];
  for (let t = 0; t < mesh.triangles.length; t += 3) {
    if (large(root(mesh.triangles[t]!))) kept.push(...mesh.triangles.subarray(t, t + 3));
  }
  // A surface of specks alone is a small shell, not an artefact beside a large one.
  if (kept.length === 0 || kept.length === mesh.triangles.length) return mesh;
  // Points that no triangle needs would still count in the extent.
  const renamed = new Map<number, number>();
  const positions: number[] = [];
  const triangles = kept.map((i) => {
    let name = renamed.get(i);
    if (name === undefined) {
      name = renamed.size;
      renamed.set(i, name);
      positions.push(...mesh.positions.subarray(3 * i, 3 * i + 3));
    }
    return name;
  });
  return { positions: Float32Array.from(positions), triangles: Uint32Array.from(triangles) };
}

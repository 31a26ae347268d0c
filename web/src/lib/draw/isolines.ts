// Lines of equal value and the regions at or above a value, of numbers on a
// rectangular grid. A cell with a corner that has no number is no part of it.

/** Values row by row from the lowest v; NaN where there is none. */
export interface Grid {
  u: ArrayLike<number>;
  v: ArrayLike<number>;
  values: Float64Array;
}

/** A line through places of the grid; closed: its last place joins its first. */
export interface Line {
  u: number[];
  v: number[];
  closed: boolean;
}

/** gridOf makes a grid of what the program sends: null is no number. */
export const gridOf = (
  u: ArrayLike<number>,
  v: ArrayLike<number>,
  values: ArrayLike<number | null>,
  change: (value: number) => number = (x) => x,
): Grid => ({
  u,
  v,
  values: Float64Array.from({ length: u.length * v.length }, (_, i) => {
    const value = values[i];
    return value === null || value === undefined ? NaN : change(value);
  }),
});

// Pieces run with the higher values on their left. Their ends are places on the
// edges of the grid or its nodes, known by whole numbers, so that pieces of
// neighbouring cells meet exactly.
interface Pieces {
  from: number[];
  to: number[];
}

/**
 * One cell is taken anticlockwise: corners 0 (low u, low v), 1, 2, 3, and edge i
 * from corner i to the next. For each set of corners at or above the level, the
 * pairs of edges that a piece joins. A saddle (5 and 10) stands with its corners
 * parted; where its middle is above the level, it is that of the other saddle
 * turned round.
 */
const joins: readonly (readonly [number, number][])[] = [
  [],
  [[0, 3]],
  [[1, 0]],
  [[1, 3]],
  [[2, 1]],
  [
    [0, 3],
    [2, 1],
  ],
  [[2, 0]],
  [[2, 3]],
  [[3, 2]],
  [[0, 2]],
  [
    [1, 0],
    [3, 2],
  ],
  [[1, 2]],
  [[3, 1]],
  [[0, 1]],
  [[3, 0]],
  [],
];
/** Saddles whose middle is at or above the level: the corners are joined. */
const joined: Record<number, readonly [number, number][]> = {
  5: [
    [0, 1],
    [2, 3],
  ],
  10: [
    [3, 0],
    [1, 2],
  ],
};

class Walker {
  private readonly columns: number;
  private readonly rows: number;
  private readonly nodes: number;

  constructor(
    private readonly grid: Grid,
    private readonly level: number,
  ) {
    this.columns = grid.u.length;
    this.rows = grid.v.length;
    this.nodes = this.columns * this.rows;
  }

  /** Numbers of the four corners of a cell; undefined where the cell is no part of the grid. */
  private corners(c: number, r: number): [number, number, number, number] | undefined {
    if (c < 0 || r < 0 || c >= this.columns - 1 || r >= this.rows - 1) return undefined;
    const a = r * this.columns + c;
    const all: [number, number, number, number] = [a, a + 1, a + 1 + this.columns, a + this.columns];
    return all.some((i) => Number.isNaN(this.grid.values[i]!)) ? undefined : all;
  }

  /** The number of the place on edge i of a cell. Edges along u come after the nodes, edges along v after those. */
  private edge(c: number, r: number, i: number): number {
    const a = r * this.columns + c;
    if (i === 0) return this.nodes + a;
    if (i === 2) return this.nodes + a + this.columns;
    return 2 * this.nodes + (i === 1 ? a + 1 : a);
  }

  /** pieces are those of the lines; with borders also along the border of the region at or above the level. */
  pieces(borders: boolean): Pieces {
    const out: Pieces = { from: [], to: [] };
    const { values } = this.grid;
    for (let r = 0; r < this.rows - 1; r++) {
      for (let c = 0; c < this.columns - 1; c++) {
        const at = this.corners(c, r);
        if (!at) continue;
        let set = 0;
        for (let i = 0; i < 4; i++) if (values[at[i]!]! >= this.level) set |= 1 << i;
        if (set === 0) continue;
        for (const [a, b] of this.joinsOf(set, at)) {
          out.from.push(this.edge(c, r, a));
          out.to.push(this.edge(c, r, b));
        }
        if (borders) this.sides(c, r, set, at, out);
      }
    }
    return out;
  }

  private joinsOf(set: number, at: readonly number[]): readonly [number, number][] {
    const other = joined[set];
    if (!other) return joins[set]!;
    const middle = at.reduce((sum, i) => sum + this.grid.values[i]!, 0) / 4;
    return middle >= this.level ? other : joins[set]!;
  }

  /** sides adds the parts of a cell's sides that no other cell shares. */
  private sides(c: number, r: number, set: number, at: readonly number[], out: Pieces): void {
    const beyond = [
      [c, r - 1],
      [c + 1, r],
      [c, r + 1],
      [c - 1, r],
    ] as const;
    for (let i = 0; i < 4; i++) {
      const next = (i + 1) % 4;
      const [here, there] = [(set >> i) & 1, (set >> next) & 1];
      if ((!here && !there) || this.corners(...beyond[i]!)) continue;
      out.from.push(here ? at[i]! : this.edge(c, r, i));
      out.to.push(there ? at[next]! : this.edge(c, r, i));
    }
  }

  /** place is where a number of a node or an edge lies. */
  place(id: number): [number, number] {
    const { u, v, values } = this.grid;
    const a = id % this.nodes;
    const [c, r] = [a % this.columns, Math.floor(a / this.columns)];
    if (id < this.nodes) return [u[c]!, v[r]!];
    const along = id < 2 * this.nodes;
    const [low, high] = [values[a]!, values[along ? a + 1 : a + this.columns]!];
    // An end at minus infinity (the logarithm of 0) has the line at the other end.
    const t = Number.isFinite(low) && Number.isFinite(high) ? (this.level - low) / (high - low) : low < high ? 1 : 0;
    return along ? [u[c]! + t * (u[c + 1]! - u[c]!), v[r]!] : [u[c]!, v[r]! + t * (v[r + 1]! - v[r]!)];
  }

  /** chained joins pieces end to end. */
  chained({ from, to }: Pieces): Line[] {
    const leaving = new Map<number, number[]>();
    const ends = new Set<number>();
    from.forEach((id, i) => {
      const list = leaving.get(id);
      if (list) list.push(i);
      else leaving.set(id, [i]);
    });
    to.forEach((id) => ends.add(id));
    const used = new Uint8Array(from.length);
    const follow = (first: number): Line => {
      const line: Line = { u: [], v: [], closed: false };
      const add = (id: number) => {
        const [u, v] = this.place(id);
        line.u.push(u);
        line.v.push(v);
      };
      let i: number | undefined = first;
      add(from[first]!);
      while (i !== undefined) {
        used[i] = 1;
        const end: number = to[i]!;
        if (end === from[first]) {
          line.closed = true;
          break;
        }
        add(end);
        i = leaving.get(end)?.find((n) => !used[n]);
      }
      return line;
    };
    const lines: Line[] = [];
    // Open lines first, from where nothing arrives.
    for (let i = 0; i < from.length; i++) if (!used[i] && !ends.has(from[i]!)) lines.push(follow(i));
    for (let i = 0; i < from.length; i++) if (!used[i]) lines.push(follow(i));
    return lines;
  }
}

/** isolines are the lines on which the value is the level, the higher values on their left. */
export function isolines(grid: Grid, level: number): Line[] {
  const walker = new Walker(grid, level);
  return walker.chained(walker.pieces(false));
}

/** regionsAbove are closed outlines of where the value is at or above the level: anticlockwise, holes clockwise. */
export function regionsAbove(grid: Grid, level: number): Line[] {
  const walker = new Walker(grid, level);
  return walker.chained(walker.pieces(true));
}

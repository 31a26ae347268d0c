// A picture is a list of marks in pixels, painted with the names of tokens. The
// same list is drawn on the screen (as SVG or on a canvas) and written to
// files, so what is exported is what was seen.

/** Paint is the name of a token of tokens.css, without its dashes. */
export type Paint =
  | 'paper'
  | 'surface'
  | 'sunk'
  | 'ink'
  | 'soft'
  | 'line'
  | 'edge'
  | 'grid'
  | 'accent'
  | 'wash'
  | 'caution'
  | 'caution-wash'
  | 'method-detection'
  | 'method-lognormal'
  | 'method-individual'
  | 'method-steps'
  | `species-${1 | 2 | 3 | 4 | 5 | 6}`
  | `time-${1 | 2 | 3 | 4 | 5 | 6}`
  | `field-${1 | 2 | 3 | 4 | 5 | 6 | 7 | 8 | 9 | 10 | 11 | 12 | 13 | 14 | 15 | 16}`
  | `ratio-${1 | 2 | 3 | 4 | 5 | 6 | 7 | 8 | 9}`;

export interface PathMark {
  kind: 'path';
  d: string;
  fill?: Paint;
  stroke?: Paint;
  width?: number;
  dash?: readonly number[];
  opacity?: number;
  title?: string;
}

export interface TextMark {
  kind: 'text';
  x: number;
  y: number;
  text: string;
  fill: Paint;
  size?: number;
  anchor?: 'start' | 'middle' | 'end';
  bold?: boolean;
  italic?: boolean;
  rotate?: number;
  halo?: boolean;
}

export type Mark = PathMark | TextMark;

export interface Picture {
  width: number;
  height: number;
  title: string;
  description: string;
  marks: Mark[];
}

export type Cell = string | number | boolean | null | undefined;

/** A figure is a picture with its data and the name of its files. */
export interface Figure {
  name: string;
  picture: Picture;
  columns: string[];
  rows: Cell[][];
}

type Style = Omit<PathMark, 'kind' | 'd'>;

/** Two decimals are finer than any screen and keep files small. */
export const px = (v: number): string => String(Math.round(v * 100) / 100);

export const path = (d: string, style: Style): PathMark => ({ kind: 'path', d, ...style });

export const line = (x1: number, y1: number, x2: number, y2: number, style: Style): PathMark =>
  path(`M${px(x1)} ${px(y1)}L${px(x2)} ${px(y2)}`, style);

export const box = (x: number, y: number, w: number, h: number, style: Style): PathMark =>
  path(`M${px(x)} ${px(y)}h${px(w)}v${px(h)}h${px(-w)}z`, style);

export const text = (x: number, y: number, words: string, more: Partial<Omit<TextMark, 'kind'>> = {}): TextMark => ({
  kind: 'text',
  x,
  y,
  text: words,
  fill: 'ink',
  ...more,
});

/** polyline joins the points; points that are not finite break the line. */
export function polyline(xs: readonly number[], ys: readonly number[]): string {
  let d = '';
  let pen = 'M';
  for (let i = 0; i < xs.length; i++) {
    const [x, y] = [xs[i]!, ys[i]!];
    if (!Number.isFinite(x) || !Number.isFinite(y)) {
      pen = 'M';
      continue;
    }
    d += `${pen}${px(x)} ${px(y)}`;
    pen = 'L';
  }
  return d;
}

/** ribbon is the closed band between two lines over the same xs. */
export function ribbon(xs: readonly number[], low: readonly number[], high: readonly number[]): string {
  const there = xs.map((x, i) => `${px(x)} ${px(high[i]!)}`);
  const back = xs.map((x, i) => `${px(x)} ${px(low[i]!)}`).reverse();
  return there.length === 0 ? '' : `M${[...there, ...back].join('L')}z`;
}

export type Shape = 'circle' | 'triangle' | 'square' | 'diamond' | 'plus' | 'flag';
export const shapes: readonly Shape[] = ['circle', 'triangle', 'square', 'diamond', 'plus', 'flag'];

/** Corners of each shape for half a height of 1; a circle has none. The sizes give about equal weight. */
export const corners: Record<Shape, readonly (readonly [number, number])[] | undefined> = {
  circle: undefined,
  triangle: [
    [0, -1.2],
    [1.1, 0.8],
    [-1.1, 0.8],
  ],
  square: [
    [-0.9, -0.9],
    [0.9, -0.9],
    [0.9, 0.9],
    [-0.9, 0.9],
  ],
  diamond: [
    [0, -1.25],
    [1.25, 0],
    [0, 1.25],
    [-1.25, 0],
  ],
  plus: [
    [-0.4, -1.15],
    [0.4, -1.15],
    [0.4, -0.4],
    [1.15, -0.4],
    [1.15, 0.4],
    [0.4, 0.4],
    [0.4, 1.15],
    [-0.4, 1.15],
    [-0.4, 0.4],
    [-1.15, 0.4],
    [-1.15, -0.4],
    [-0.4, -0.4],
  ],
  flag: [
    [-1, -1],
    [1.2, 0],
    [-1, 1],
    [-0.3, 0],
  ],
};

/** circleAt is a full circle. */
export const circleAt = (x: number, y: number, r: number): string =>
  `M${px(x - r)} ${px(y)}a${px(r)} ${px(r)} 0 1 0 ${px(2 * r)} 0a${px(r)} ${px(r)} 0 1 0 ${px(-2 * r)} 0z`;

/** shapeAt is the outline of a mark; r is about half its height. */
export function shapeAt(shape: Shape, x: number, y: number, r: number): string {
  const points = corners[shape];
  if (!points) return circleAt(x, y, r);
  return `M${points.map(([dx, dy]) => `${px(x + dx * r)} ${px(y + dy * r)}`).join('L')}z`;
}

const speciesPaints = ['species-1', 'species-2', 'species-3', 'species-4', 'species-5', 'species-6'] as const;

/** speciesStyle gives the i-th species of a season its colour, shape and dash. */
export function speciesStyle(i: number): { paint: Paint; shape: Shape; dash: readonly number[] } {
  const n = ((i % 6) + 6) % 6;
  const dashes = [[], [7, 4], [2, 3], [9, 3, 2, 3], [4, 4], [12, 4]];
  return { paint: speciesPaints[n]!, shape: shapes[n]!, dash: dashes[n]! };
}

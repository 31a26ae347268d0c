// The passes of the plan in flat arrays: with a hundred thousand of them,
// painting and finding must not touch an object each.
import type { ExposureRow } from '$lib/api/types';
import { headOf, passMark, type PassMark } from './plan';
import type { PlanView, ScreenPoint } from './plan-view';

/** What a pass is on the plan: nothing, a dot, or a mark of one of the styles. */
export const nowhere = 0;
export const dot = 1;
export const firstStyle = 2;

export interface PlanIndex {
  rows: readonly ExposureRow[];
  xCm: Float64Array;
  yCm: Float64Array;
  /** nowhere, dot, or firstStyle + the place in styles. */
  kind: Uint8Array;
  styles: PassMark[];
  turns: number;
  dots: number;
}

export function indexPasses(rows: readonly ExposureRow[], species: readonly string[]): PlanIndex {
  const index: PlanIndex = {
    rows,
    xCm: new Float64Array(rows.length),
    yCm: new Float64Array(rows.length),
    kind: new Uint8Array(rows.length),
    styles: [],
    turns: 0,
    dots: 0,
  };
  const known = new Map<string, number>();
  rows.forEach((row, i) => {
    const head = headOf(row);
    if (!head) return;
    index.xCm[i] = head.xCm;
    index.yCm[i] = head.yCm;
    if (!row.responded) {
      index.kind[i] = dot;
      index.dots++;
      return;
    }
    index.turns++;
    const key = `${row.role} ${row.species}`;
    let style = known.get(key);
    if (style === undefined) {
      style = index.styles.push(passMark(row, species)) - 1;
      known.set(key, style);
    }
    index.kind[i] = firstStyle + style;
  });
  return index;
}

/** nearest finds the pass whose mark is nearest to a point of the screen, within reach. */
export function nearest(
  index: PlanIndex,
  v: PlanView,
  at: ScreenPoint,
  noTurns: boolean,
  reach = 22,
): ExposureRow | undefined {
  let best: ExposureRow | undefined;
  let least = reach;
  for (let i = 0; i < index.kind.length; i++) {
    const kind = index.kind[i]!;
    if (kind === nowhere || (kind === dot && !noTurns)) continue;
    const dx = v.width / 2 + (index.xCm[i]! - v.centre.xCm) * v.pxPerCm - at.x;
    const dy = v.height / 2 - (index.yCm[i]! - v.centre.yCm) * v.pxPerCm - at.y;
    if (Math.abs(dx) > reach || Math.abs(dy) > reach) continue;
    // A turn wins over a pass without one that lies a little nearer.
    const distance = Math.hypot(dx, dy) + (kind === dot ? 4 : 0);
    if (distance < least) [best, least] = [index.rows[i], distance];
  }
  return best;
}

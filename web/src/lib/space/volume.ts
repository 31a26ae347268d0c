// The box in which the field is asked for: as small as the shells allow.
import type { Asked, StimulusProgram, VolumeView } from '$lib/api/stimulus';
import { extentOf, isoSurface, withoutSpecks, type Extent, type Grid, type Mesh } from '$lib/draw/iso-surface';
import { roughReach } from '$lib/state/reach';

export type Detail = 'coarse' | 'middle' | 'fine';
export const details: Record<Detail, [number, number, number]> = {
  coarse: [24, 24, 16],
  middle: [40, 40, 24],
  fine: [64, 64, 40],
};

export interface Shells {
  view: VolumeView;
  grid: Grid;
  half: number;
  highest: number;
  /** By threshold, from the lowest; a surface without triangles where the field is nowhere so large. */
  shells: { threshold: number; surface: Mesh; extent: Extent | undefined; specks: boolean }[];
  /** The largest shell goes on beyond the box. */
  cut: boolean;
}

/** A first look with few points tells how large the box must be. */
const firstLook: [number, number, number] = [20, 20, 14];
const room = 1.12;
const mostLooks = 6;
/** A box that a shell goes beyond grows by so much, one without a shell shrinks. */
const growth = 2.5;

/** gridOf is the volume as a grid; the program writes only numbers on the axes. */
export const gridOf = (view: VolumeView): Grid => ({
  x_m: view.x_m as number[],
  y_m: view.y_m as number[],
  z_m: view.z_m as number[],
  values: view.magnitude_nV_per_cm,
});

/** reaches tells how far a shell goes from the middle of the box sideways and how high, as shares of the box, and where it touches. */
export function reaches(grid: Grid, threshold: number): { side: number; up: number } | undefined {
  const extent = extentOf(isoSurface(grid, threshold));
  if (!extent) return undefined;
  const span = (axis: readonly number[]) => [axis[0]!, axis.at(-1)!] as const;
  const [x, y, top] = [span(grid.x_m), span(grid.y_m), grid.z_m.at(-1)!];
  const share = (low: number, high: number, [from, to]: readonly [number, number]) => {
    const [middle, half] = [(from + to) / 2, (to - from) / 2];
    return Math.max(high - middle, middle - low) / half;
  };
  return {
    side: Math.max(share(extent.low[0], extent.high[0], x), share(extent.low[1], extent.high[1], y)),
    up: extent.high[2] / top,
  };
}

/** askShells looks with few points until the box holds the shells, then with as many as are wanted. */
export async function askShells(
  program: StimulusProgram,
  asked: Asked,
  thresholds: readonly number[],
  detail: Detail,
  signal: AbortSignal,
): Promise<Shells> {
  const lowest = Math.min(...thresholds);
  let half = roughReach(asked.knobs, lowest) * room;
  let highest = half;
  const begun = half;
  let any = false;
  for (let look = 0; look < mostLooks; look++) {
    const body = { ...asked, half_width_m: half, highest_m: highest, points: firstLook };
    const grid = gridOf(await program.volume(body, signal));
    const found = reaches(grid, lowest);
    if (!found) {
      // Every place is above the threshold, or none is: then the shell is smaller than the steps, or there is none.
      const all = grid.values.some((v) => v !== null && v >= lowest);
      [half, highest] = all ? [half * growth, highest * growth] : [half / growth, highest / growth];
      continue;
    }
    any = true;
    // A shell that touches a side goes on behind it.
    const touches = (share: number) => share > 0.985;
    const grown = (share: number) => (touches(share) ? growth : share * room);
    const [wider, higher] = [grown(found.side), grown(found.up)];
    [half, highest] = [half * wider, Math.max(highest * higher, (half * wider) / 20)];
    if (!touches(found.side) && !touches(found.up)) break;
  }
  // Without a shell the plate and the electrodes are still to be seen.
  if (!any) [half, highest] = [begun, begun];
  const view = await program.volume(
    { ...asked, half_width_m: half, highest_m: highest, points: details[detail] },
    signal,
  );
  const grid = gridOf(view);
  const shells = [...thresholds]
    .sort((a, b) => a - b)
    .map((threshold) => {
      const whole = isoSurface(grid, threshold);
      const surface = withoutSpecks(whole, grid);
      return { threshold, surface, extent: extentOf(surface), specks: surface !== whole };
    });
  const last = reaches(grid, lowest);
  return { view, grid, half, highest, shells, cut: last !== undefined && (last.side > 0.999 || last.up > 0.999) };
}

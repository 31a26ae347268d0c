// What lies in the picture in three dimensions, without the library that draws it.
import type { Knobs } from '$lib/api/stimulus';

export interface Things {
  knobs: Knobs;
  /** Half the width of what is shown, and the height of it, metres. */
  half: number;
  highest: number;
  centre: [number, number];
}

export interface Electrode {
  at: [number, number, number];
  diameter: number;
  driven: boolean;
}

/** electrodesOf are all electrodes: two of each pair along its azimuth, and the single ones. */
export function electrodesOf(knobs: Knobs): Electrode[] {
  const pairs = knobs.pairs.flatMap((p) =>
    [1, -1].map((side): Electrode => {
      const turn = (p.azimuth_deg * Math.PI) / 180;
      const half = (side * p.separation_m) / 2;
      return {
        at: [(p.centre_m[0] ?? 0) + half * Math.cos(turn), (p.centre_m[1] ?? 0) + half * Math.sin(turn), p.height_m],
        diameter: p.electrode_diameter_m,
        driven: p.share !== 0,
      };
    }),
  );
  const single = knobs.electrodes.map((e): Electrode => ({
    at: [e.at_m[0] ?? 0, e.at_m[1] ?? 0, e.at_m[2] ?? 0],
    diameter: e.diameter_m,
    driven: e.share !== 0,
  }));
  return [...pairs, ...single];
}

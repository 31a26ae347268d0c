// A setting for tests of the calibration: two pairs on an insulating bottom, the first driven.
import type { Knobs } from '$lib/api/stimulus';

export const pair = (label: string, share: number, x = 0) => ({
  label,
  centre_m: [x, 0],
  azimuth_deg: 30,
  separation_m: 0.01,
  electrode_diameter_m: 0.002,
  height_m: 0,
  share,
});
export const knobs: Knobs = {
  water: { temperature_C: null, salinity: null, conductivity_S_per_m: 4 },
  depth_m: 8,
  bottom: {
    kind: 'insulating',
    conductivity_S_per_m: null,
    porosity: null,
    cementation_exponent: null,
    thickness_m: null,
    basement_S_per_m: null,
  },
  enclosure: null,
  plates: [],
  top_above_bottom_m: 0,
  sand_over_plate_mm: 0,
  current_uA: 6,
  pairs: [pair('A', 1), pair('B', 0, 0.5)],
  electrodes: [],
  electrode_shape: 'disc',
  bodies: [],
  waveform: { kind: 'direct', frequency_Hz: null, duty: null },
};

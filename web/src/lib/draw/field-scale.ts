// The colours of a field: one scale for every picture, so that a colour is the
// same field whatever the knobs. Steps are 1, 2 and 5 of each decade; lightness
// runs one way, so that the order is seen without seeing the hue.
import type { Paint } from './picture';
import { tenth } from './textbook';

/** Lower ends of the bands, nV/cm; below the first there is no colour, above the last the last. */
export const fieldLevels: readonly number[] = [
  0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000,
];

/** fieldBand is the place of a field's band, −1 below the scale. */
export function fieldBand(nVPerCm: number): number {
  let band = -1;
  while (band + 1 < fieldLevels.length && nVPerCm >= fieldLevels[band + 1]!) band++;
  return band;
}

export const bandPaint = (band: number): Paint => `field-${band + 1}` as Paint;

/** fieldPaint is the colour of a field; the surface where it is below the scale. */
export function fieldPaint(nVPerCm: number): Paint {
  const band = fieldBand(nVPerCm);
  return band < 0 ? 'surface' : bandPaint(band);
}

/** Borders of the bands of textbook ÷ computed, about 1. */
export const ratioLevels: readonly number[] = [0.1, 0.2, 0.5, ...tenth, 2, 5, 10];

/** ratioPaint is the colour of band 0 (below the first border) to 8. */
export const ratioPaint = (band: number): Paint => `ratio-${band + 1}` as Paint;

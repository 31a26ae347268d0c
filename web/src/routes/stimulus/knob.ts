// What a knob with a number needs: its place among the knobs, and how it is
// shown. The program judges the value; the ends are those of the slider alone.

export interface NumberSpec {
  /** Path of the knob, as the program names its faults. */
  path: string;
  label: string;
  unit: string;
  /** Shown value over stored value: 100 for metres shown in cm. */
  per?: number;
  /** Ends of the slider, as shown. */
  low: number;
  high: number;
  /** Step of the arrow keys, as shown. */
  step: number;
  /** The slider runs by factors instead of differences. */
  factors?: boolean;
  hint?: string;
}

/** Ten digits are more than anybody measures and hide the noise of a change of unit. */
const tidy = (v: number): number => Number(v.toPrecision(10));

export const shownOf = (stored: number, { per = 1 }: { per?: number }): number => tidy(stored * per);
export const storedOf = (shown: number, { per = 1 }: { per?: number }): number => tidy(shown / per);

/** A slider by factors has so many positions. */
export const positions = 400;

export const positionOf = (shown: number, { low, high }: NumberSpec): number =>
  Math.round((positions * Math.log(Math.min(high, Math.max(low, shown)) / low)) / Math.log(high / low));

/** valueAt is the value at a position, with three digits. */
export const valueAt = (position: number, { low, high }: NumberSpec): number =>
  Number((low * (high / low) ** (position / positions)).toPrecision(3));

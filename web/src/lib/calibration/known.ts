// What was measured otherwise, as it is typed, and the pair that is driven.
import type { CalibrationSpec } from '$lib/api/calibration';
import type { Knobs } from '$lib/api/stimulus';
import { readNumber } from './rows';

/** What was measured otherwise, as it is typed. */
export interface Known {
  current: string;
  currentSd: string;
  water: string;
  waterSd: string;
  positionCm: string;
}
export type KnownFault = 'number' | 'currentWrong' | 'above0' | 'waterAbove0';

/** withDriven drives one pair alone, with the share that drives the current as it stands. */
export function withDriven(knobs: Knobs, index: number): Knobs {
  return { ...knobs, electrodes: [], pairs: knobs.pairs.map((p, i) => ({ ...p, share: i === index ? 1 : 0 })) };
}

export const textOf = (v: number | null | undefined): string => (v == null ? '' : String(Number(v.toPrecision(10))));

export function knownOf({ knobs, priors }: CalibrationSpec): Known {
  return {
    current: textOf(knobs.current_uA),
    currentSd: textOf(priors?.current_uA_sd),
    water: textOf(knobs.water.conductivity_S_per_m),
    waterSd: textOf(priors?.water_S_per_m_sd),
    positionCm: textOf(priors?.position_sd_m == null ? null : priors.position_sd_m * 100),
  };
}

/** faultsOfKnown says what cannot be read; a blank is not measured. */
export function faultsOfKnown(known: Known, knobs: Knobs | undefined): Partial<Record<keyof Known, KnownFault>> {
  const faults: Partial<Record<keyof Known, KnownFault>> = {};
  const current = readNumber(known.current);
  if (current === undefined) faults.current = 'number';
  else if (current === 0) faults.current = 'currentWrong';
  for (const key of ['currentSd', 'waterSd', 'positionCm'] as const) {
    const v = readNumber(known[key]);
    if (known[key].trim() !== '' && !(v !== undefined && v > 0)) faults[key] = 'above0';
  }
  const fromCast = knobs?.water.temperature_C != null && knobs.water.salinity != null;
  const water = readNumber(known.water);
  if (known.water.trim() === '' ? !fromCast : !(water !== undefined && water > 0 && water <= 100))
    faults.water = 'waterAbove0';
  return faults;
}

// The knobs with a number, as they are shown. Ends of a slider hold what is met
// at sea and in tanks; a value beyond them can be typed.
import { words } from '$lib/words';
import type { NumberSpec } from './knob';

const w = words.stimulus.knobs;
const b = words.stimulus.bodies;
const cm = { unit: 'cm', per: 100 };
const mm = { unit: 'mm', per: 1000 };
const deg = { unit: '°', low: -180, high: 180, step: 1 };

export const specs = {
  current: { path: 'current_uA', label: w.current, unit: 'µA', low: 0.1, high: 1000, step: 0.1, factors: true },
  temperature: { path: 'water/temperature_C', label: w.temperature, unit: '°C', low: -2, high: 32, step: 0.1 },
  salinity: { path: 'water/salinity', label: w.salinity, unit: '', low: 2, high: 42, step: 0.1 },
  water: {
    path: 'water/conductivity_S_per_m',
    label: w.waterConductivity,
    unit: 'S/m',
    low: 0.3,
    high: 6.5,
    step: 0.01,
  },
  depth: { path: 'depth_m', label: w.depth, unit: 'm', low: 0.1, high: 100, step: 0.1, factors: true },
  sediment: { path: 'bottom/conductivity_S_per_m', label: w.sediment, unit: 'S/m', low: 0.05, high: 5, step: 0.01 },
  porosity: { path: 'bottom/porosity', label: w.porosity, unit: '', low: 0.2, high: 0.95, step: 0.01 },
  cementation: { path: 'bottom/cementation_exponent', label: w.cementation, unit: '', low: 1, high: 3, step: 0.05 },
  thickness: {
    path: 'bottom/thickness_m',
    label: w.thickness,
    unit: 'm',
    low: 0.05,
    high: 50,
    step: 0.05,
    factors: true,
  },
  basement: { path: 'bottom/basement_S_per_m', label: w.basement, unit: 'S/m', low: 0, high: 3, step: 0.01 },
  top: { path: 'top_above_bottom_m', label: w.top, ...cm, low: -10, high: 20, step: 0.5, hint: w.topHint },
  sand: { path: 'sand_over_plate_mm', label: w.sand, unit: 'mm', low: 0, high: 50, step: 1 },
  frequency: {
    path: 'waveform/frequency_Hz',
    label: w.frequency,
    unit: 'Hz',
    low: 0.1,
    high: 1000,
    step: 0.1,
    factors: true,
  },
  duty: { path: 'waveform/duty', label: w.duty, unit: '', low: 0.01, high: 1, step: 0.01 },
} satisfies Record<string, NumberSpec>;

export function pairSpecs(i: number) {
  const at = `pairs/${i}`;
  return {
    separation: {
      path: `${at}/separation_m`,
      label: w.separation,
      ...cm,
      low: 0.1,
      high: 50,
      step: 0.1,
      factors: true,
    },
    azimuth: { path: `${at}/azimuth_deg`, label: w.azimuth, ...deg },
    height: { path: `${at}/height_m`, label: w.height, ...cm, low: 0, high: 100, step: 0.5 },
    diameter: { path: `${at}/electrode_diameter_m`, label: w.electrodeDiameter, ...mm, low: 0, high: 20, step: 0.1 },
  } satisfies Record<string, NumberSpec>;
}

export function plateSpecs(i: number) {
  const at = `plates/${i}`;
  const size = { ...cm, low: 2, high: 300, step: 1, factors: true };
  return {
    length: { path: `${at}/size_m/0`, label: w.length, ...size },
    width: { path: `${at}/size_m/1`, label: w.width, ...size },
    diameter: { path: `${at}/diameter_m`, label: w.diameter, ...size },
    thickness: { path: `${at}/thickness_m`, label: w.plateThickness, ...mm, low: 0, high: 60, step: 1 },
    x: { path: `${at}/centre_m/0`, label: w.plateX, ...cm, low: -200, high: 200, step: 1 },
    y: { path: `${at}/centre_m/1`, label: w.plateY, ...cm, low: -200, high: 200, step: 1 },
    yaw: { path: `${at}/yaw_deg`, label: w.yaw, ...deg },
  } satisfies Record<string, NumberSpec>;
}

export function bodySpecs(i: number) {
  const at = `bodies/${i}`;
  const size = { ...cm, low: 0.5, high: 200, step: 0.5, factors: true };
  return {
    x: { path: `${at}/centre_m/0`, label: b.x, ...cm, low: -200, high: 200, step: 1 },
    y: { path: `${at}/centre_m/1`, label: b.y, ...cm, low: -200, high: 200, step: 1 },
    z: { path: `${at}/centre_m/2`, label: b.z, ...cm, low: -20, high: 200, step: 1 },
    length: { path: `${at}/size_m/0`, label: b.length, ...size },
    width: { path: `${at}/size_m/1`, label: b.width, ...size },
    tall: { path: `${at}/size_m/2`, label: b.tall, ...size },
    yaw: { path: `${at}/yaw_deg`, label: b.yaw, ...deg },
    pitch: { path: `${at}/pitch_deg`, label: b.pitch, unit: '°', low: -90, high: 90, step: 1 },
    conductivity: {
      path: `${at}/S_per_m`,
      label: b.conductivity,
      unit: 'S/m',
      low: 0.001,
      high: 100,
      step: 0.01,
      factors: true,
    },
  } satisfies Record<string, NumberSpec>;
}

// What the calibration part of the page Rig asks of the program: potentials
// measured with a probe pair round a driven pair, laid beside the design. All
// places are in the season frame, metres, z = 0 the plate's top face, or the
// bottom where there is no plate.
import createClient from 'openapi-fetch';
import { read } from './client';
import type { Knobs } from './stimulus';
import type { WrittenSpan } from './types';

/** One measured potential difference: the plus tip less the minus tip. */
export interface CalibrationReading {
  label?: string;
  plus_m: number[];
  /** null: a reference far away. */
  minus_m: number[] | null;
  /** null: not measured yet, only foretold. */
  uV: number | null;
  sd_uV: number | null;
}

export interface CalibrationPriors {
  current_uA_sd: number | null;
  water_S_per_m_sd: number | null;
  position_sd_m: number | null;
}

export interface CalibrationSpec {
  knobs: Knobs;
  readings: CalibrationReading[];
  offset: 'fit' | 'none';
  priors: CalibrationPriors;
}

export interface CalibrationStart {
  spec: CalibrationSpec;
  saved: boolean;
  spec_text: string;
  from: string[];
  warnings: string[];
}

export interface CalibrationDesign {
  current_uA: number;
  separation_m: number | null;
  dipole_moment_nA_m: number | null;
  water_S_per_m: number;
  moment_over_water_nA_m2_per_S: number | null;
  current_over_water_uA_m_per_S: number;
  bottom_S_per_m: number;
  bottom_goes_with_water: boolean;
  textbook_centre_m: number[];
}

export interface CalibrationValue {
  value: number | null;
  se: number | null;
  ci95: WrittenSpan;
}

export interface CalibrationFit {
  factor: CalibrationValue;
  moment_over_water_nA_m2_per_S: CalibrationValue;
  current_over_water_uA_m_per_S: CalibrationValue;
  dipole_moment_nA_m: CalibrationValue;
  current_uA: CalibrationValue;
  water_S_per_m: CalibrationValue;
  offset_uV: CalibrationValue;
  only_ratio: boolean;
  separation: string;
  correlation: { names: string[]; values: (number | null)[][] };
  used_readings: number;
  degrees_of_freedom: number | null;
  chi_square: number | null;
  chi_square_p: number | null;
  residual_sd_uV: number | null;
  scale: string;
  prior_agreement_p: number | null;
  tried_low_S_per_m: number;
  tried_high_S_per_m: number;
}

export interface CalibrationRow {
  label: string;
  plus_m: number[];
  minus_m: number[] | null;
  middle_m: number[];
  measured_uV: number | null;
  sd_uV: number | null;
  position_uV: number | null;
  designed_uV: number | null;
  textbook_uV: number | null;
  fitted_uV: number | null;
  residual_uV: number | null;
  standardised: number | null;
  leverage: number | null;
  factor_without_it: number | null;
  influence: number | null;
  outlier_p: number | null;
  says?: string;
}

export interface CalibrationVerdict {
  state: string;
  sentence: string;
  reasons: string[];
  within_percent: number | null;
}

export interface CalibrationExplanation {
  name: string;
  says: string;
  factor: CalibrationValue;
  residual_sd_uV: number | null;
  misfit: number | null;
}

export interface CalibrationDocument {
  warnings: string[];
  form: string;
  method: string;
  relative_error: number | null;
  reached: boolean;
  solves: number;
  designed: CalibrationDesign;
  fit: CalibrationFit;
  readings: CalibrationRow[];
  verdict: CalibrationVerdict;
  explanations: CalibrationExplanation[];
}

export interface CalibrationProgram {
  start(): Promise<CalibrationStart>;
  work(spec: CalibrationSpec, signal?: AbortSignal): Promise<CalibrationDocument>;
}

interface CalibrationPaths {
  '/api/calibration': {
    post: {
      requestBody: { content: { 'application/json': CalibrationSpec } };
      responses: { 200: { content: { 'application/json': CalibrationDocument } } };
    };
  };
  '/api/studies/{study}/calibration': {
    get: {
      parameters: { path: { study: string } };
      responses: { 200: { content: { 'application/json': CalibrationStart } } };
    };
  };
}

const client = createClient<CalibrationPaths>({ baseUrl: '/' });

export const calibrationProgramOf = (study: string): CalibrationProgram => ({
  start: () => read(client.GET('/api/studies/{study}/calibration', { params: { path: { study } } })),
  work: (body, signal) => read(client.POST('/api/calibration', { body, ...(signal ? { signal } : {}) })),
});

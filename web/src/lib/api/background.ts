// What the page Background asks of the program. Places are in the season
// frame: metres, z = 0 at the plate's top face, or at the bottom without one.
import { read } from './client';

/** An optional number: null and absent are the same to the program. */
type Maybe = number | null;

export interface BackgroundStreamRow {
  time: string;
  speed_m_per_s: number;
  bearing_deg: number;
}
export interface BackgroundStream {
  table?: BackgroundStreamRow[];
  flood_peak_m_per_s?: Maybe;
  flood_bearing_deg?: Maybe;
  slack?: string;
  period_h?: Maybe;
  ebb_peak_m_per_s?: Maybe;
}
export interface BackgroundSource {
  label: string;
  kind: string;
  at_m: number[];
  bottom?: string;
  moment_A_m?: Maybe;
  axis_deg?: Maybe;
  metals?: string[];
  areas_cm2?: number[];
  radii_cm?: number[];
  apart_m?: Maybe;
  painted_percent?: Maybe;
  field_nV_per_cm?: Maybe;
  distance_m?: Maybe;
  current_nA?: Maybe;
  length_m?: Maybe;
}
export interface BackgroundMeter {
  reading_S_per_m: number;
  compensated_to_25C: string;
  temperature_C: number;
  percent_per_C?: Maybe;
}
export interface BackgroundCable {
  leak_to_water_Mohm: number;
  voltage_V: number;
  length_m: number;
  plate_end_at_m: number[];
}
export interface BackgroundStimulus {
  threshold_nV_per_cm: number;
  share_percent: number;
}
export interface BackgroundPair {
  label: string;
  centre_m: number[];
}
export interface BackgroundSpec {
  site: { latitude?: Maybe; longitude?: Maybe; x_axis_bearing_deg?: Maybe; depth_m?: Maybe };
  date: string;
  water_S_per_m: number;
  water_S_per_m_sd?: Maybe;
  stream?: BackgroundStream | null;
  swim_m_per_s?: Maybe;
  pairs?: BackgroundPair[];
  height_m?: Maybe;
  stimulus?: BackgroundStimulus | null;
  sources?: BackgroundSource[];
  meter?: BackgroundMeter | null;
  cable?: BackgroundCable | null;
}
export interface BackgroundKind {
  kind: string;
  name: string;
  moment_A_m: number;
  from: string;
  advice: string;
}
export interface BackgroundMetal {
  metal: string;
  low_V: number;
  high_V: number;
  from: string;
}
export interface BackgroundStart {
  spec: BackgroundSpec;
  from: string[];
  saved: boolean;
  spec_text: string;
  kinds: BackgroundKind[];
  metals: BackgroundMetal[];
  cautions: string[];
  warnings: string[];
}
export interface BackgroundMagnetic {
  model: string;
  from: string;
  year: number;
  north_nT: number;
  east_nT: number;
  down_nT: number;
  horizontal_nT: number;
  total_nT: number;
  declination_deg: Maybe;
  inclination_deg: Maybe;
  north_nT_per_year: number;
  east_nT_per_year: number;
  down_nT_per_year: number;
  horizontal_nT_per_year: Maybe;
  total_nT_per_year: Maybe;
  declination_deg_per_year: Maybe;
  inclination_deg_per_year: Maybe;
}
export interface BackgroundMoving {
  time: string;
  speed_m_per_s: number;
  bearing_deg: number;
  E_north_east_down_nV_per_cm: Maybe[];
  E_season_nV_per_cm: Maybe[] | null;
  magnitude_nV_per_cm: Maybe;
  thresholds: Maybe;
}
export interface BackgroundSwim {
  speed_m_per_s: number;
  largest_nV_per_cm: Maybe;
  smallest_nV_per_cm: Maybe;
  thresholds: Maybe;
}
export interface BackgroundMotional {
  rows: BackgroundMoving[];
  largest: BackgroundMoving | null;
  smallest: BackgroundMoving | null;
  swim: BackgroundSwim | null;
  per_m_per_s_nV_per_cm: Maybe;
  bound: string;
}
export interface BackgroundAtPair {
  pair: string;
  distance_m: Maybe;
  field_nV_per_cm: Maybe;
  field_sd_nV_per_cm: Maybe;
  gradient_nV_per_cm_per_cm: Maybe;
  share_percent: Maybe;
  ok: boolean | null;
}
export interface BackgroundSourceFound {
  label: string;
  kind: string;
  at_m: number[];
  moment_A_m: Maybe;
  moment_from: string;
  current_uA: Maybe;
  voltage_V: Maybe;
  resistance_ohm: Maybe;
  pairs: BackgroundAtPair[];
  standoff_m: Maybe;
  standoff_high_m: Maybe;
  standoff_half_space_m: Maybe;
  nearest_m: Maybe;
  formula: string;
  limits: string[];
  ok: boolean | null;
  verdict: string;
}
export interface BackgroundPairFound {
  pair: string;
  field_nV_per_cm: Maybe;
  gradient_nV_per_cm_per_cm: Maybe;
  share_percent: Maybe;
  largest: string;
  ok: boolean | null;
  verdict: string;
}
export interface BackgroundSilent {
  leak_nA: Maybe;
  source: BackgroundSourceFound;
  needed_Mohm: Maybe;
  ok: boolean | null;
  verdict: string;
}
export interface BackgroundMeterFound {
  conductivity_S_per_m: Maybe;
  if_compensated_S_per_m: Maybe;
  if_actual_S_per_m: Maybe;
  salinity_if_compensated: Maybe;
  salinity_if_actual: Maybe;
  conductivity_error_percent: Maybe;
  field_error_percent: Maybe;
  range_error_percent: Maybe;
  verdict: string;
}
export interface BackgroundDocument {
  program: { version: string; commit: string };
  warnings: string[];
  magnetic: BackgroundMagnetic | null;
  motional: BackgroundMotional | null;
  stimulus: BackgroundStimulus;
  limit_nV_per_cm: Maybe;
  sources: BackgroundSourceFound[];
  pairs: BackgroundPairFound[];
  silent: BackgroundSilent | null;
  meter: BackgroundMeterFound | null;
  notes: string[];
}

/** BackgroundProgram answers questions that can be taken back by their signal. */
export interface BackgroundProgram {
  start(): Promise<BackgroundStart>;
  ask(spec: BackgroundSpec, signal?: AbortSignal): Promise<BackgroundDocument>;
}

async function request<T>(path: string, init: RequestInit): Promise<T> {
  const answer = async () => {
    const response = await fetch(path, init);
    const body: unknown = await response.json();
    return response.ok ? { data: body as T, response } : { error: body as Record<string, string>, response };
  };
  return read(answer());
}

export const backgroundProgramOf = (study: string): BackgroundProgram => ({
  start: () => request(`/api/studies/${encodeURIComponent(study)}/background`, {}),
  ask: (spec, signal) =>
    request('/api/background', {
      method: 'POST',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify(spec),
      ...(signal ? { signal } : {}),
    }),
});

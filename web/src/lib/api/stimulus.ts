// What the page Stimulus asks of the program. All places are in the season
// frame: metres, z = 0 at the plate's top face, or at the bottom without one.
import { RequestError } from './client';

export type Vector = [number, number, number];

export interface WaterKnobs {
  temperature_C: number | null;
  salinity: number | null;
  conductivity_S_per_m: number | null;
}
export interface BottomKnobs {
  kind: 'insulating' | 'sediment';
  conductivity_S_per_m: number | null;
  porosity: number | null;
  cementation_exponent: number | null;
  thickness_m: number | null;
  basement_S_per_m: number | null;
}
export interface PlateKnobs {
  shape: 'rectangle' | 'disc';
  size_m: number[] | null;
  diameter_m: number | null;
  thickness_m: number;
  centre_m: number[];
  yaw_deg: number;
}
export interface PairKnobs {
  label: string;
  centre_m: number[];
  azimuth_deg: number;
  separation_m: number;
  electrode_diameter_m: number;
  height_m: number;
  /** Times the current; 0 lies there, silent. */
  share: number;
}
export interface BodyKnobs {
  shape: 'box' | 'cylinder' | 'spheroid';
  centre_m: number[];
  /** Full lengths along the body's own axes before turning; of a cylinder and a spheroid: length, diameter, diameter. */
  size_m: number[];
  yaw_deg: number;
  pitch_deg: number;
  /** 0 insulates, null conducts perfectly. */
  S_per_m: number | null;
  label: string;
}
export interface WaveformKnobs {
  kind: 'direct' | 'sine' | 'square' | 'pulses';
  frequency_Hz: number | null;
  duty: number | null;
}
export interface Knobs {
  water: WaterKnobs;
  /** null = unbounded above. */
  depth_m: number | null;
  bottom: BottomKnobs;
  enclosure: { size_m?: number[] | null; diameter_m?: number | null; centre_m?: number[] | null } | null;
  plates: PlateKnobs[];
  top_above_bottom_m: number;
  sand_over_plate_mm: number;
  current_uA: number;
  pairs: PairKnobs[];
  electrodes: { at_m: number[]; share: number; diameter_m: number }[];
  electrode_shape: 'disc' | 'hemisphere';
  bodies: BodyKnobs[];
  waveform: WaveformKnobs;
}

/** What is worked out: all that lies there, an endless plate, no plate, or the short form of the books. */
export type Form = 'real' | 'endless_plate' | 'no_plate' | 'textbook';

export interface Uncertainty {
  bottom_S_per_m_sd: number | null;
  position_sd_cm: number | null;
  height_sd_cm: number | null;
  current_sd_percent: number | null;
}
export interface StimulusStart {
  knobs: Knobs;
  knobs_from: string[];
  thresholds_nV_per_cm: number[];
  uncertainty: Uncertainty;
  cautions: string[];
  warnings: string[];
}

/** A rectangle of places: vertical along an azimuth, or horizontal at a height (lowest and highest are then y). */
export interface SectionPlane {
  plane: 'vertical' | 'horizontal';
  azimuth_deg: number;
  offset_m: number;
  height_m: number;
  half_width_m: number;
  lowest_m: number;
  highest_m: number;
  columns: number;
  rows: number;
}
export interface Asked {
  knobs: Knobs;
  form: Form;
  tolerance: number;
}
interface Answered {
  relative_error: number | null;
  method: string;
  reached: boolean;
  warnings: string[];
}
export interface SectionView extends Answered {
  form: Form;
  columns: number;
  rows: number;
  u_m: number[];
  v_m: number[];
  /** Row by row from the lowest v; null inside a plate, a body, an electrode or an insulating bottom. */
  magnitude_nV_per_cm: (number | null)[];
  took_s: number;
}
export interface StimulusPoint {
  potential_V: number | null;
  E_nV_per_cm: (number | null)[] | null;
  magnitude_nV_per_cm: number | null;
  textbook_nV_per_cm: number | null;
  distance_cm: number;
  angle_deg: number;
  inside?: string;
}
export interface PointsView extends Answered {
  points: StimulusPoint[];
}

/** StimulusProgram answers about one study; each question can be taken back by its signal. */
export interface StimulusProgram {
  start(signal?: AbortSignal): Promise<StimulusStart>;
  section(body: Asked & { section: SectionPlane }, signal?: AbortSignal): Promise<SectionView>;
  points(body: Asked & { points_m: number[][] }, signal?: AbortSignal): Promise<PointsView>;
  /** Any other of the pure calculations: "range", "target", "errors", "volume", "waveform". */
  ask<T>(what: string, body: object, signal?: AbortSignal): Promise<T>;
}

interface Written {
  detail?: string;
  errors?: { message?: string; location?: string }[];
}

async function fetched<T>(path: string, body?: object, signal?: AbortSignal): Promise<T> {
  const json = { 'Content-Type': 'application/json' };
  let answer: Response;
  try {
    const how = body ? { method: 'POST', headers: json, body: JSON.stringify(body) } : {};
    answer = await fetch(path, { ...how, ...(signal ? { signal } : {}) });
    if (answer.ok) return (await answer.json()) as T;
  } catch (cause) {
    if (cause instanceof DOMException && cause.name === 'AbortError') throw cause;
    throw new RequestError(0, '');
  }
  const said = (await answer.json().catch(() => ({}))) as Written;
  const details = (said.errors ?? []).map((d) => ({ message: d.message ?? '', location: d.location ?? '' }));
  throw new RequestError(answer.status, said.detail ?? '', details);
}

export const stimulusProgramOf = (study: string): StimulusProgram => ({
  start: (signal) => fetched(`/api/studies/${encodeURIComponent(study)}/stimulus`, undefined, signal),
  section: (body, signal) => fetched('/api/stimulus/section', body, signal),
  points: (body, signal) => fetched('/api/stimulus/points', body, signal),
  ask: (what, body, signal) => fetched(`/api/stimulus/${what}`, body, signal),
});

// What the page Rig asks of the program.
import { client, read } from './client';

export interface RigSupply {
  kind: string;
  voltage_V?: number | null;
  full_V?: number | null;
  empty_V?: number | null;
  internal_ohm?: number | null;
  capacity_mAh?: number | null;
  current_uA?: number | null;
  tolerance_percent?: number | null;
  compliance_V?: number | null;
}
export interface RigLimiting {
  ohm: number[];
  tolerance_percent: number;
  ppm_per_C?: number | null;
}
export interface RigPositionSpec {
  label: string;
  ohm: number[];
}
export interface RigLadder {
  wanted_uA?: number[];
  series?: string;
  tolerance_percent?: number | null;
  most_resistors?: number | null;
  largest_error_percent?: number | null;
  positions?: RigPositionSpec[];
}
export interface RigCable {
  length_m: number;
  awg?: number | null;
  mm2?: number | null;
  class?: number | null;
  tinned?: boolean;
  temperature_C?: number | null;
  leak_Mohm?: number | null;
  leak_to_water_Mohm?: number | null;
}
export interface RigElectrodes {
  shape: string;
  on: string;
  polarisation_V?: number | null;
  polarisation_sd_V?: number | null;
  offset_mV?: number | null;
  bridge?: { length_m: number; bore_m: number; S_per_m: number };
}
export interface RigPair {
  label: string;
  centre_m: number[];
  separation_m: number;
  azimuth_deg?: number;
  electrode_diameter_m: number;
}
export interface RigBench {
  id?: string;
  date: string;
  position: string;
  pair?: string;
  current_uA?: number | null;
  supply_V?: number | null;
  offset_mV?: number | null;
  silent_uA?: number | null;
  water_S_per_m?: number | null;
  by?: string;
  note?: string;
}
export interface RigSpec {
  water_S_per_m: number;
  water_S_per_m_sd?: number | null;
  supply: RigSupply;
  limiting?: RigLimiting;
  ladder: RigLadder;
  cable: RigCable;
  electrodes: RigElectrodes;
  pairs: RigPair[];
  ammeter?: { burden_ohm: number; stays_in: boolean };
  silent: string;
  use?: { hours_per_day: number; days: number };
  temperature_C?: number | null;
  diver_ohm?: number | null;
  wanted_field?: { nV_per_cm: number; at_m: number };
  measured?: RigBench[];
}
export interface RigStart {
  spec: RigSpec;
  saved: boolean;
  spec_text: string;
  from: string[];
  bench: RigBench[];
  warnings: string[];
}

export interface RigCurrent {
  pair: string;
  nominal_uA: number;
  supply_uA: number;
  error_percent: number | null;
  worst_uA: number[];
  drawn_uA: number[];
  full_uA: number | null;
  empty_uA: number | null;
  season_uA: number[];
  pair_V: number;
  meter_shift_percent: number | null;
  measured_uA: number | null;
  measured_on?: string;
  measured_off_percent: number | null;
  used_uA: number;
}
export interface RigPosition {
  label: string;
  wanted_uA: number | null;
  step_ohm: number[];
  step_text: string;
  chain_ohm: number;
  nominal_uA: number;
  error_percent: number | null;
  currents: RigCurrent[];
}
export interface RigSilent {
  pair: string;
  state: string;
  chosen: boolean;
  driven_pair: string;
  driven_uA: number;
  drive_uA: number;
  offset_uA: number;
  largest_uA: number;
  percent: number;
  second_pair: boolean;
  single_way: boolean;
  description: string;
}
export interface RigBattery {
  load_uA: number;
  life_h: number | null;
  needed_h: number | null;
  lasts: boolean | null;
  sag_percent: number;
  drift_percent: number;
  charge: { voltage_V: number; current_uA: number; change_percent: number }[];
}
export interface RigCompliance {
  compliance_V: number;
  largest_ohm: number;
  positions: {
    label: string;
    needed_V: number;
    margin_V: number;
    held: boolean;
    gives_uA: number;
    times_needed: number;
  }[];
}
export interface RigFault {
  case: string;
  title: string;
  pair: string;
  position: string;
  electrode_uA: number;
  elsewhere_uA: number;
  supply_uA: number;
  water_V: number;
  diver_uA: number;
  diver_share: number;
  felt: boolean;
  near_V_per_m: number;
  near_m: number;
  near_margin: number | null;
  face_V_per_m: number;
  face_margin: number | null;
  verdict: string;
  text: string;
  times_live: number | null;
}
export interface RigPart {
  what: string;
  count: number;
  value: string;
  value_ohm: number | null;
  series: string;
  tolerance_percent: number | null;
  power_W: number | null;
  rating_W: number | null;
  note: string;
}
export interface RigFieldAnswer {
  nV_per_cm: number;
  at_m: number;
  pairs: {
    pair: string;
    needed_uA: number | null;
    position: string;
    position_uA: number | null;
    gives_nV_per_cm: number | null;
  }[];
  warnings: string[];
}
export interface RigDocument {
  warnings: string[];
  water_S_per_m: number;
  supply: {
    kind: string;
    voltage_V: number | null;
    full_V: number | null;
    empty_V: number | null;
    internal_ohm: number | null;
    limiting: string[];
  };
  cable: { ohm_per_km: number; leg_ohm: number; from: string };
  electrodes: {
    pair: string;
    self_ohm: number;
    bridge_ohm: number;
    pair_ohm: number;
    offset_uA: number;
    face_mm2: number;
    water_mV: number;
  }[];
  positions: RigPosition[];
  lost: { what: string; percent: number; text: string }[];
  silent: RigSilent[];
  battery?: RigBattery;
  compliance?: RigCompliance;
  faults: RigFault[];
  safety: {
    diver_ohm: number;
    felt_uA: number;
    twitch_V_per_m: number;
    worst_case: string;
    worst_diver_uA: number;
    limited_diver_uA: number;
    verdict: string;
    text: string;
    sources: string[];
  };
  parts: RigPart[];
  wanted_field?: RigFieldAnswer;
  draws: number;
  methods: string[];
}

export interface RigProgram {
  start(): Promise<RigStart>;
  calculate(spec: RigSpec, signal?: AbortSignal): Promise<RigDocument>;
}

export const rigProgramOf = (study: string): RigProgram => ({
  start: () =>
    read(
      client.GET('/api/studies/{study}/rig' as never, { params: { path: { study } } } as never),
    ) as Promise<RigStart>,
  calculate: (body, signal) =>
    read(client.POST('/api/rig' as never, { body, ...(signal ? { signal } : {}) } as never)) as Promise<RigDocument>,
});

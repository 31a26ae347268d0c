// What the page Stimulus asks of the program. All places are in the season
// frame: metres, z = 0 at the plate's top face, or at the bottom without one.
import { client, read } from './client';
import type { components } from './schema';

type Schemas = components['schemas'];

export type Vector = [number, number, number];

export type Knobs = Schemas['StimulusKnobs'];
export type PlateKnobs = Schemas['KnobPlate'];
export type PairKnobs = Schemas['KnobPair'];
export type BodyKnobs = Schemas['KnobBody'];
export type Uncertainty = Schemas['StimulusUncertainty'];
export type StimulusStart = Schemas['StimulusStart'];
export type SectionPlane = Schemas['SectionPlane'] & { plane: 'vertical' | 'horizontal' };
export type SectionView = Schemas['StimulusSection'];
export type StimulusPoint = Schemas['StimulusPoint'];
export type PointsView = Schemas['StimulusPoints'];
export type WaveformView = Schemas['WaveformAnswer'];
export type RangeView = Schemas['StimulusRange'];
export type ThresholdRange = Schemas['ThresholdRange'];
export type HeightRange = Schemas['HeightRange'];
export type TargetView = Schemas['TargetAnswer'];
export type TargetCurrent = Schemas['TargetCurrent'];
export type ErrorsView = Schemas['StimulusErrors'];
export type ErrorRow = Schemas['ErrorRow'];
export type VolumeView = Schemas['StimulusVolume'];
export type Prey = Schemas['PreyView'];

/** What is worked out: all that lies there, an endless plate, no plate, or the short form of the books. */
export const forms = ['real', 'endless_plate', 'no_plate', 'textbook'] as const;
export type Form = (typeof forms)[number];

/** Asked is the beginning of every question. */
export interface Asked {
  knobs: Knobs;
  form: Form;
  tolerance: number;
}

/** A place by the driven pair: above its centre, and beside it in a direction anticlockwise from +x. */
export interface Place {
  above_cm: number;
  beside_cm: number;
  azimuth_deg: number;
}

export type Wanted = ({ nV_per_cm: number } & Place) | { prey: string };
export type RangeQuestion = Asked & {
  thresholds_nV_per_cm: number[];
  heights_m: number[];
  directions: number;
};
export type ErrorsQuestion = Asked & {
  threshold_nV_per_cm: number;
  at: Place;
  percent: number;
  uncertainty: Uncertainty;
};
export type VolumeQuestion = Asked & { half_width_m: number; highest_m: number; points: [number, number, number] };

/** StimulusProgram answers questions that can be taken back by their signal. */
export interface StimulusProgram {
  start(): Promise<StimulusStart>;
  section(body: Asked & { section: SectionPlane }, signal?: AbortSignal): Promise<SectionView>;
  points(body: Asked & { points_m: number[][] }, signal?: AbortSignal): Promise<PointsView>;
  range(body: RangeQuestion, signal?: AbortSignal): Promise<RangeView>;
  target(body: Asked & { target: Wanted }, signal?: AbortSignal): Promise<TargetView>;
  errors(body: ErrorsQuestion, signal?: AbortSignal): Promise<ErrorsView>;
  volume(body: VolumeQuestion, signal?: AbortSignal): Promise<VolumeView>;
  waveform(body: { knobs: Knobs }, signal?: AbortSignal): Promise<WaveformView>;
  prey(): Promise<Prey[]>;
}

const stopped = (signal?: AbortSignal) => (signal ? { signal } : {});

export const stimulusProgramOf = (study: string): StimulusProgram => ({
  start: () => read(client.GET('/api/studies/{study}/stimulus', { params: { path: { study } } })),
  section: (body, signal) => read(client.POST('/api/stimulus/section', { body, ...stopped(signal) })),
  points: (body, signal) => read(client.POST('/api/stimulus/points', { body, ...stopped(signal) })),
  range: (body, signal) => read(client.POST('/api/stimulus/range', { body, ...stopped(signal) })),
  target: (body, signal) => read(client.POST('/api/stimulus/target', { body, ...stopped(signal) })),
  errors: (body, signal) => read(client.POST('/api/stimulus/errors', { body, ...stopped(signal) })),
  volume: (body, signal) => read(client.POST('/api/stimulus/volume', { body, ...stopped(signal) })),
  waveform: (body, signal) => read(client.POST('/api/stimulus/waveform', { body, ...stopped(signal) })),
  prey: () => read(client.GET('/api/stimulus/prey')).then((list) => list.prey),
});

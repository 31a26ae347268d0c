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

/** What is worked out: all that lies there, an endless plate, no plate, or the short form of the books. */
export const forms = ['real', 'endless_plate', 'no_plate', 'textbook'] as const;
export type Form = (typeof forms)[number];

/** Asked is the beginning of every question. */
export interface Asked {
  knobs: Knobs;
  form: Form;
  tolerance: number;
}

/** StimulusProgram answers questions that can be taken back by their signal. */
export interface StimulusProgram {
  start(): Promise<StimulusStart>;
  section(body: Asked & { section: SectionPlane }, signal?: AbortSignal): Promise<SectionView>;
  points(body: Asked & { points_m: number[][] }, signal?: AbortSignal): Promise<PointsView>;
  /** Any other of the pure calculations: "range", "target", "errors", "volume", "waveform". */
  ask<T>(what: string, body: object, signal?: AbortSignal): Promise<T>;
}

const stopped = (signal?: AbortSignal) => (signal ? { signal } : {});

export const stimulusProgramOf = (study: string): StimulusProgram => ({
  start: () => read(client.GET('/api/studies/{study}/stimulus', { params: { path: { study } } })),
  section: (body, signal) => read(client.POST('/api/stimulus/section', { body, ...stopped(signal) })),
  points: (body, signal) => read(client.POST('/api/stimulus/points', { body, ...stopped(signal) })),
  ask: <T>(what: string, body: object, signal?: AbortSignal) =>
    // One of several addresses: the caller names the answer.
    read(
      client.POST(`/api/stimulus/${what}` as '/api/stimulus/section', { body: body as never, ...stopped(signal) }),
    ) as Promise<T>,
});

// What the page Background asks of the program. Places are in the season
// frame: metres, z = 0 at the plate's top face, or at the bottom without one.
import { client, read } from './client';
import type { components } from './schema';

type Schemas = components['schemas'];

export type BackgroundSpec = Schemas['BackgroundSpec'];
export type BackgroundStreamRow = Schemas['BackgroundStreamRow'];
export type BackgroundSource = Schemas['BackgroundSource'];
export type BackgroundMeter = NonNullable<Schemas['BackgroundMeter']>;
export type BackgroundCable = NonNullable<Schemas['BackgroundCable']>;
export type BackgroundStimulus = NonNullable<Schemas['BackgroundStimulus']>;
export type BackgroundStart = Schemas['BackgroundStart'];
export type BackgroundSourceFound = Schemas['BackgroundSourceFound'];
export type BackgroundMeterFound = NonNullable<Schemas['BackgroundMeterFound']>;
export type BackgroundMoving = NonNullable<Schemas['BackgroundMoving']>;

/** A shape that may be null in one place may be so in all, to the description of the API; here the program always gives it. */
export type BackgroundMotional = Omit<NonNullable<Schemas['BackgroundMotional']>, 'rows'> & {
  rows: BackgroundMoving[];
};
export type BackgroundDocument = Omit<Schemas['BackgroundDocument'], 'motional' | 'stimulus'> & {
  motional: BackgroundMotional | null;
  stimulus: BackgroundStimulus;
};

/** BackgroundProgram answers questions that can be taken back by their signal. */
export interface BackgroundProgram {
  start(): Promise<BackgroundStart>;
  ask(spec: BackgroundSpec, signal?: AbortSignal): Promise<BackgroundDocument>;
}

export const backgroundProgramOf = (study: string): BackgroundProgram => ({
  start: () => read(client.GET('/api/studies/{study}/background', { params: { path: { study } } })),
  ask: (body, signal) =>
    read(client.POST('/api/background', { body, ...(signal ? { signal } : {}) })) as Promise<BackgroundDocument>,
});

// What the panels of range, target, errors and space ask of the program.
// Places are in the season frame, metres; see stimulus.ts.
import { client, read } from './client';
import type { Asked, StimulusProgram, Uncertainty } from './stimulus';
import type { components } from './schema';

type Schemas = components['schemas'];

export type RangeView = Schemas['StimulusRange'];
export type ThresholdRange = Schemas['ThresholdRange'];
export type HeightRange = Schemas['HeightRange'];
export type TargetView = Schemas['TargetAnswer'];
export type TargetCurrent = Schemas['TargetCurrent'];
export type ErrorsView = Schemas['StimulusErrors'];
export type ErrorRow = Schemas['ErrorRow'];
export type VolumeView = Schemas['StimulusVolume'];
export type Prey = Schemas['PreyView'];

/** A place by the driven pair: above its centre, and beside it in a direction anticlockwise from +x. */
export interface Place {
  above_cm: number;
  beside_cm: number;
  azimuth_deg: number;
}

export type Wanted = ({ nV_per_cm: number } & Place) | { prey: string };

export const askRange = (
  program: StimulusProgram,
  body: Asked & { thresholds_nV_per_cm: readonly number[]; heights_m: readonly number[]; directions: number },
  signal?: AbortSignal,
) => program.ask<RangeView>('range', body, signal);

export const askTarget = (program: StimulusProgram, body: Asked & { target: Wanted }, signal?: AbortSignal) =>
  program.ask<TargetView>('target', body, signal);

export const askErrors = (
  program: StimulusProgram,
  body: Asked & { threshold_nV_per_cm: number; at: Place; percent: number; uncertainty: Uncertainty },
  signal?: AbortSignal,
) => program.ask<ErrorsView>('errors', body, signal);

export const askVolume = (
  program: StimulusProgram,
  body: Asked & { half_width_m: number; highest_m: number; points: [number, number, number] },
  signal?: AbortSignal,
) => program.ask<VolumeView>('volume', body, signal);

export const fetchPrey = (): Promise<Prey[]> => read(client.GET('/api/stimulus/prey')).then((list) => list.prey);

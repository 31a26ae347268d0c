// What the calibration part of the page Rig asks of the program: potentials
// measured with a probe pair round a driven pair, laid beside the design. All
// places are in the season frame, metres, z = 0 the plate's top face, or the
// bottom where there is no plate.
import { client, read } from './client';
import type { components } from './schema';

type Schemas = components['schemas'];

export type CalibrationSpec = Schemas['CalibrationSpec'];
export type CalibrationReading = Schemas['CalibrationReading'];
export type CalibrationStart = Schemas['CalibrationStart'];
export type CalibrationValue = Schemas['CalibrationValue'];
export type CalibrationRow = Schemas['CalibrationRow'];
export type CalibrationExplanation = Schemas['CalibrationExplanation'];
export type CalibrationDocument = Schemas['CalibrationDocument'];

export interface CalibrationProgram {
  start(): Promise<CalibrationStart>;
  work(spec: CalibrationSpec, signal?: AbortSignal): Promise<CalibrationDocument>;
}

export const calibrationProgramOf = (study: string): CalibrationProgram => ({
  start: () => read(client.GET('/api/studies/{study}/calibration', { params: { path: { study } } })),
  work: (body, signal) => read(client.POST('/api/calibration', { body, ...(signal ? { signal } : {}) })),
});

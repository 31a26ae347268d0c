// What the page Rig asks of the program.
import { client, read } from './client';
import type { components } from './schema';

type Schemas = components['schemas'];

export type RigSpec = Schemas['RigSpec'];
export type RigPair = Schemas['RigPair'];
export type RigBench = Schemas['RigBench'];
export type RigStart = Schemas['RigStart'];
export type RigDocument = Schemas['RigDocument'];
export type RigPosition = Schemas['RigPosition'];
export type RigCurrent = Schemas['RigCurrent'];
export type RigSilent = Schemas['RigSilent'];
export type RigBattery = Schemas['RigBattery'];
export type RigFault = Schemas['RigFault'];
export type RigPart = Schemas['RigPart'];

export interface RigProgram {
  start(): Promise<RigStart>;
  calculate(spec: RigSpec, signal?: AbortSignal): Promise<RigDocument>;
}

export const rigProgramOf = (study: string): RigProgram => ({
  start: () => read(client.GET('/api/studies/{study}/rig', { params: { path: { study } } })),
  calculate: (body, signal) => read(client.POST('/api/rig', { body, ...(signal ? { signal } : {}) })),
});

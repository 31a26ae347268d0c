// What the page Schedule asks of the program. Secret keys and passphrases go
// into requests and are kept nowhere.
import { client, read } from './client';
import type { components } from './schema';
import type { EditDone } from './types';

type Schemas = components['schemas'];

export type Schedule = Schemas['ScheduleView'];
export type SchedulePlan = Schemas['SchedulePlan'];
export type ScheduleRule = Schemas['ScheduleRule'];
export type ScheduleTrial = Schemas['ScheduleTrialView'];
export type ScheduleChance = Schemas['ScheduleChance'];
export type ScheduleBalance = Schemas['ScheduleBalance'];
export type PairBalance = Schemas['PairBalance'];
export type ScheduleDocument = Schemas['ScheduleDocument'];
export type ScheduledTrial = Schemas['ScheduledTrial'];
export type Stamp = Schemas['StampView'];
export type Seal = Schemas['SealView'];
export type SealKey = Schemas['SealKeyView'];
export type SealTo = Schemas['SealTo'];
export type SealRequest = Schemas['SealRequest'];
export type TakeRequest = Schemas['TakeRequest'];
export type NewKey = Schemas['NewKeyView'];
export type Rehearsal = Schemas['RehearsalView'];
export type ExampleRequest = Schemas['ExampleRequest'];
export type Opening = Schemas['OpeningView'];
export type OpeningRequest = Schemas['OpeningRequest'];
export type Guess = Schemas['GuessView'];
export type GuessTest = Schemas['GuessTest'];
export type Knower = Schemas['KnowerView'];
export type AfterOpening = Schemas['AfterOpening'];
export type CardsAnswer = Schemas['CardsView'];
export type Card = Schemas['CardView'];
export type CardList = Schemas['CardList'];
export type Wiring = Schemas['WiringView'];
export type LockRequest = Schemas['LockRequest'];
export type Preregistration = Schemas['PreregistrationView'];

/** A secret key, as the text of its file, with its passphrase. */
export interface KeyProof {
  key: string;
  passphrase: string;
}

/** ScheduleProgram asks about the schedule of one study. */
export interface ScheduleProgram {
  view(): Promise<Schedule>;
  document(): Promise<ScheduleDocument>;
  seal(body: SealRequest): Promise<EditDone>;
  take(body: TakeRequest): Promise<EditDone>;
  rehearse(body: KeyProof & { author: string }): Promise<Rehearsal>;
  cards(body: KeyProof & { author: string }): Promise<CardsAnswer>;
  card(token: string, trial: string): Promise<Card>;
  allCards(token: string): Promise<CardList>;
  wiring(token: string): Promise<Wiring>;
  putAway(token: string): Promise<unknown>;
  lock(body: LockRequest): Promise<EditDone>;
  unlock(body: { author: string; reason: string }): Promise<EditDone>;
  open(body: OpeningRequest): Promise<EditDone>;
  preregistration(): Promise<Preregistration>;
  register(body: { author: string; sha256: string }): Promise<Preregistration>;
}

export const scheduleProgramOf = (study: string): ScheduleProgram => {
  const of = { params: { path: { study } } };
  return {
    view: () => read(client.GET('/api/studies/{study}/schedule', of)),
    document: () => read(client.GET('/api/studies/{study}/schedule/document', of)),
    seal: (body) => read(client.POST('/api/studies/{study}/schedule/seal', { ...of, body })),
    take: (body) => read(client.POST('/api/studies/{study}/schedule/take', { ...of, body })),
    rehearse: (body) => read(client.POST('/api/studies/{study}/schedule/rehearsal', { ...of, body })),
    cards: (body) => read(client.POST('/api/studies/{study}/schedule/cards', { ...of, body })),
    card: (token, trial) => read(client.POST('/api/studies/{study}/schedule/card', { ...of, body: { token, trial } })),
    allCards: (token) => read(client.POST('/api/studies/{study}/schedule/cards/all', { ...of, body: { token } })),
    wiring: (token) => read(client.POST('/api/studies/{study}/schedule/wiring', { ...of, body: { token } })),
    putAway: (token) => read(client.POST('/api/studies/{study}/schedule/cards/away', { ...of, body: { token } })),
    lock: (body) => read(client.POST('/api/studies/{study}/schedule/lock', { ...of, body })),
    unlock: (body) => read(client.POST('/api/studies/{study}/schedule/unlock', { ...of, body })),
    open: (body) => read(client.POST('/api/studies/{study}/opening', { ...of, body })),
    preregistration: () => read(client.GET('/api/studies/{study}/preregistration', of)),
    register: (body) => read(client.POST('/api/studies/{study}/preregistration', { ...of, body })),
  };
};

/** Examples and keys belong to no study. */
export const fetchExample = (body: ExampleRequest, signal?: AbortSignal): Promise<ScheduleDocument> =>
  read(client.POST('/api/schedule/example', { body, ...(signal ? { signal } : {}) }));
export const makeKey = (passphrase: string): Promise<NewKey> =>
  read(client.POST('/api/schedule/key', { body: { passphrase } }));

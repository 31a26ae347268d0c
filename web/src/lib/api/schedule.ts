// What the page Schedule asks of the program. Secret keys and passphrases go
// into requests and are kept nowhere.
import { client, read } from './client';
import type { EditDone } from './types';

export interface SchedulePlan {
  pairs: string[];
  currents_uA: number[];
  trials: number;
  silent: number;
  sham: number;
  odour_off: number;
  draw_polarity: boolean;
  repeats: number;
  most_alike: number;
  spare: number;
}

export interface ScheduleRule {
  rule: string;
  block: number;
}

export interface ScheduledTrial {
  trial: string;
  kind?: string;
  active_pair?: string;
  current_uA?: number;
  odour?: boolean;
  commitment: string;
  nonce?: string;
  sealed?: string;
}

export interface ScheduleChance {
  blind: number;
  with_blocks: number;
}

export interface PairBalance {
  pair: string;
  trials: number;
  by_current: number[];
  reversed: number;
  by_day?: number[];
  by_time?: number[];
}

export interface ScheduleBalance {
  pairs: PairBalance[];
  longest_run: number;
}

export interface ScheduleDocument {
  format: number;
  seed?: number;
  warnings: string[];
  plan: SchedulePlan;
  rule: ScheduleRule;
  trials: ScheduledTrial[];
  spare: ScheduledTrial[];
  seal: string;
  sealed?: string;
  sealed_to?: string[];
  chance?: ScheduleChance;
  balance?: ScheduleBalance;
}

export interface Stamp {
  when: string;
  by: string;
  reason: string;
}

export interface SealKey {
  public: string;
  holder: string;
  rehearsed?: Stamp;
}

export interface Seal {
  id: string;
  written: Stamp;
  seal: string;
  plan: SchedulePlan;
  per_day: number;
  rule: ScheduleRule;
  keys: SealKey[];
  in_force: boolean;
  trials_run: number;
  problem?: string;
}

export interface ScheduleTrial {
  trial: string;
  spare: boolean;
  block: number;
  run: boolean;
  passes: number;
  opened: boolean;
  kind?: string;
  active_pair?: string;
  current_uA?: number;
  odour?: boolean;
  recorded?: string;
}

export interface Opening {
  id: string;
  opened: Stamp;
  trials: string[];
}

export interface Guess {
  id: string;
  trial: string;
  pair: string;
  by: string;
  when: string;
  note?: string;
  late: boolean;
}

export interface GuessTest {
  by: string;
  guesses: number;
  unknown: number;
  hits: number;
  expected: number | null;
  p: number | null;
  not_estimable?: string;
}

export interface Knower {
  who: string;
  since: string;
  how: 'key' | 'rehearsal' | 'card' | 'cards' | 'wiring' | 'import' | 'opening';
  trials: string[];
  scored: number;
}

export interface AfterOpening {
  kind: string;
  id: string;
  trial: string;
  field: string;
  from: string;
  to: string;
  when: string;
  by: string;
  reason: string;
  entry: string;
}

export interface Schedule {
  study: string;
  read_only: boolean;
  blind: boolean;
  pairs: string[];
  start: SchedulePlan;
  seals: Seal[];
  trials: ScheduleTrial[];
  lock?: Stamp;
  unscored: number;
  openings: Opening[];
  chance?: ScheduleChance;
  balance?: ScheduleBalance;
  guesses: Guess[];
  guessed: GuessTest[];
  knowers: Knower[];
  warnings: string[];
  after_opening: AfterOpening[];
  more_after_opening: number;
}

export interface ExampleRequest {
  plan: SchedulePlan;
  per_day: number;
  seed: number;
}

export interface SealTo {
  public: string;
  holder: string;
}

export interface SealRequest {
  plan: SchedulePlan;
  per_day: number;
  keys: SealTo[];
  author: string;
  reason: string;
}

export interface TakeRequest {
  document: string;
  holders?: string[];
  author: string;
  reason: string;
}

export interface NewKey {
  public: string;
  secret: string;
}

/** A secret key, as the text of its file, with its passphrase. */
export interface KeyProof {
  key: string;
  passphrase: string;
}

export interface Rehearsal {
  public: string;
  seal: string;
}

export interface CardsAnswer {
  token: string;
  trials: string[];
  next: string;
}

export interface Card {
  trial: string;
  position: number;
  positions: number;
  current_uA: number;
  reversed: boolean;
  odour: boolean;
  polarities: boolean;
  odours: boolean;
}

export interface CardList {
  seal: string;
  cards: Card[];
}

export interface Wiring {
  seal: string;
  wires: { position: number; pair: string }[];
}

export interface LockRequest {
  author: string;
  reason: string;
  leave_unscored: boolean;
}

export interface OpeningRequest {
  author: string;
  reason: string;
  trials: string[];
  key: string;
  passphrase: string;
  lock: boolean;
  leave_unscored: boolean;
}

export interface Preregistration {
  text: string;
  sha256: string;
  missing: string[];
  registered: { id: string; written: Stamp; text: string; sha256: string; late: boolean }[];
  changed: boolean;
}

/** Not in schema.d.ts yet. */
const loose = client as unknown as {
  GET(path: string, more: object): Promise<{ data?: never; error?: never; response: Response }>;
  POST(path: string, more: object): Promise<{ data?: never; error?: never; response: Response }>;
};

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
  const get = <T>(path: string): Promise<T> => read<T>(loose.GET(`/api/studies/{study}/${path}`, of));
  const post = <T>(path: string, body: object): Promise<T> =>
    read<T>(loose.POST(`/api/studies/{study}/${path}`, { ...of, body }));
  return {
    view: () => get('schedule'),
    document: () => get('schedule/document'),
    seal: (body) => post('schedule/seal', body),
    take: (body) => post('schedule/take', body),
    rehearse: (body) => post('schedule/rehearsal', body),
    cards: (body) => post('schedule/cards', body),
    card: (token, trial) => post('schedule/card', { token, trial }),
    allCards: (token) => post('schedule/cards/all', { token }),
    wiring: (token) => post('schedule/wiring', { token }),
    putAway: (token) => post('schedule/cards/away', { token }),
    lock: (body) => post('schedule/lock', body),
    unlock: (body) => post('schedule/unlock', body),
    open: (body) => post('opening', body),
    preregistration: () => get('preregistration'),
    register: (body) => post('preregistration', body),
  };
};

/** Examples and keys belong to no study. */
export const fetchExample = (body: ExampleRequest, signal?: AbortSignal): Promise<ScheduleDocument> =>
  read<ScheduleDocument>(loose.POST('/api/schedule/example', { body, ...(signal ? { signal } : {}) }));
export const makeKey = (passphrase: string): Promise<NewKey> =>
  read<NewKey>(loose.POST('/api/schedule/key', { body: { passphrase } }));

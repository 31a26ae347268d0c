// What a tap writes down: the entries of docs/formats/deck.md. Pure; the times
// and marks come from outside.
import type { DeckResponse } from '$lib/api/types';
import type { Draft, Entry } from '$lib/offline/entry';
import type { Fields } from './fold';

/** whole leaves out what is blank: a new record holds no blank fields. */
const whole = (fields: Record<string, string | undefined>): Fields =>
  Object.fromEntries(Object.entries(fields).filter((f): f is [string, string] => !!f[1]));

const record = (kind: string, subject: string, fields: Record<string, string | undefined>): Draft => ({
  kind,
  subject,
  act: 'record',
  body: { fields: whole(fields) },
});

/** correct changes fields and says what they held; undefined where nothing changes. */
export function correct(kind: string, subject: string, before: Fields, after: Fields): Draft | undefined {
  const changed = Object.entries(after).filter(([name, value]) => (before[name] ?? '') !== value);
  if (changed.length === 0) return undefined;
  return {
    kind,
    subject,
    act: 'correct',
    body: { fields: Object.fromEntries(changed), was: Object.fromEntries(changed.map(([n]) => [n, before[n] ?? ''])) },
  };
}

export interface PassFacts {
  trial: string;
  time: string;
  pair: string;
  response: DeckResponse;
  species: string;
  /** '' is an unknown animal. */
  individual: string;
  sex?: string;
  scorer: string;
}

export const pass = (subject: string, p: PassFacts): Draft =>
  record('pass', subject, {
    trial: p.trial,
    time: p.time,
    individual: p.individual,
    species: p.species,
    pair: p.pair,
    turned: p.response.turned,
    bit: p.response.bit,
    response: p.response.word,
    sex: p.sex,
    scorer: p.scorer,
  });

export const check = (
  subject: string,
  f: { trial: string; check: string; state: 'ok' | 'not ok'; time: string; by: string; note?: string },
): Draft => record('check', subject, f);

export const reading = (
  subject: string,
  f: { trial: string; when: 'before' | 'after'; time: string; by: string; ref: string },
): Draft => record('reading', subject, f);

export const event = (
  subject: string,
  f: { what: 'adverse' | 'note'; trial?: string; time: string; animal?: string; text: string; by: string },
): Draft => record('event', subject, f);

export const count = (
  subject: string,
  f: {
    permit: string;
    trial?: string;
    time: string;
    species?: string;
    animals?: string;
    hours?: string;
    by: string;
    note?: string;
  },
): Draft => record('count', subject, f);

export const attachment = (
  subject: string,
  f: { kind: 'photo' | 'voice'; ref: string; about?: string; type: string; bytes: string; time: string; by: string },
): Draft => record('attachment', subject, f);

/** undo takes an entry back; undefined for a removal. */
export function undo(e: Entry): Draft | undefined {
  if (e.act === 'record') return { kind: e.kind, subject: e.subject, act: 'remove', body: {}, undoes: e.id };
  if (e.act !== 'correct' || !e.body.fields) return undefined;
  const now = e.body.fields;
  const fields = Object.fromEntries(Object.keys(now).map((name) => [name, e.body.was?.[name] ?? '']));
  return { kind: e.kind, subject: e.subject, act: 'correct', body: { fields, was: { ...now } }, undoes: e.id };
}

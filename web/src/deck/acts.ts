// What people do on deck, each one tap of a study's page.
import type { DeckResponse } from '$lib/api/types';
import { makeBlob, makeGuarded } from '$lib/offline/hash';
import { tablet as words } from '$lib/words/en-tablet';
import type { Fields } from './fold';
import type { Session } from './session.svelte';
import { dayOf, rfc3339 } from './times';
import { takePhoto } from './photo';
import type { Voice } from './voice';
import * as w from './writings';

const now = (s: Session): string => rfc3339(s.clock.wallMs(), s.zone);
const by = async (s: Session) => (await s.mark(s.person)).mark;

export function beginDay(s: Session, name: string): void {
  s.choose({ person: { name: name.trim(), day: dayOf(s.clock.wallMs(), s.zone) } });
}

/** logPass is false where it could not be saved; the page says so. */
export async function logPass(s: Session, pair: string, response: DeckResponse): Promise<boolean> {
  const trial = s.current;
  if (!trial) return false;
  const time = now(s);
  const individual = s.choices.individual ?? '';
  const animal = s.individuals.find((i) => i.id === individual);
  const species = animal?.species || s.choices.species || '';
  const scorer = await by(s);
  const facts = { trial: trial.trial, time, pair, response, species, individual, sex: animal?.sex, scorer };
  return s.put(words.said.pass(pair, response.label), [w.pass(s.next('pass'), facts)]);
}

/** setPass corrects a pass of this tablet. */
export async function setPass(s: Session, subject: string, after: Fields): Promise<boolean> {
  const own = s.ownOf('pass', subject);
  const draft = own && w.correct('pass', subject, own.fields, after);
  return draft ? s.put(words.said.corrected(subject), [draft]) : true;
}

export async function undo(s: Session): Promise<boolean> {
  const e = s.last;
  const draft = e && w.undo(e);
  if (!draft) return false;
  const done = await s.put(words.said.undone(words.entry(e)), [draft]);
  if (done && e.kind === 'trial' && e.body.fields?.end) s.choose({ trial: e.subject });
  return done;
}

export async function setTrial(s: Session, trial: string, after: Fields, label: string): Promise<boolean> {
  const before = s.trials.find((t) => t.trial === trial)?.fields ?? {};
  const draft = w.correct('trial', trial, before, after);
  return draft ? s.put(label, [draft]) : true;
}

export async function startTrial(s: Session, trial: string): Promise<boolean> {
  const observers = s.trials.find((t) => t.trial === trial)?.fields.observers || (await by(s));
  const done = await setTrial(s, trial, { start: now(s), observers }, words.said.started(trial));
  if (done) s.choose({ trial });
  s.nowMs = s.clock.wallMs();
  return done;
}

export async function endTrial(s: Session, trial: string): Promise<boolean> {
  const done = await setTrial(s, trial, { end: now(s) }, words.said.ended(trial));
  s.nowMs = s.clock.wallMs();
  return done;
}

/** checkOf writes down one thing of the pre-trial list, or corrects what this tablet said of it. */
export async function checkOf(s: Session, trial: string, check: string, state: 'ok' | 'not ok'): Promise<boolean> {
  const before = checked(s, trial, check);
  const label = words.said.checked(check, state);
  if (before?.fields.state === state) return true;
  if (before) {
    const draft = w.correct('check', before.subject, before.fields, { state, time: now(s), by: await by(s) });
    return draft ? s.put(label, [draft]) : true;
  }
  return s.put(label, [w.check(s.next('check'), { trial, check, state, time: now(s), by: await by(s) })]);
}

export const checked = (s: Session, trial: string, check: string) =>
  s.own('check').findLast((c) => c.fields.trial === trial && c.fields.check === check);

/** readingOf keeps a current, in µA, where only those who may see the active pair can read it. */
export async function readingOf(
  s: Session,
  trial: string,
  when: 'before' | 'after',
  currentUA: string,
): Promise<boolean> {
  const blob = await makeGuarded({ current_uA: currentUA }, s.clock.random(32));
  const f = { trial, when, time: now(s), by: await by(s), ref: blob.ref };
  return s.put(words.said.reading(when), [w.reading(s.next('reading'), f)], [blob]);
}

export async function happened(s: Session, what: 'adverse' | 'note', text: string, animal = ''): Promise<boolean> {
  const f = { what, trial: s.current?.trial ?? '', time: now(s), animal, text, by: await by(s) };
  return s.put(words.said.event(what), [w.event(s.next('event'), f)]);
}

/** passOver begins a trial without its list, and writes down why. */
export async function passOver(s: Session, trial: string, why: string): Promise<boolean> {
  const f = { what: 'note' as const, trial, time: now(s), text: words.trial.passedOver(why), by: await by(s) };
  return (await s.put(words.said.event('note'), [w.event(s.next('event'), f)])) && startTrial(s, trial);
}

export async function countOf(
  s: Session,
  permit: string,
  more: { animals?: string; hours?: string },
): Promise<boolean> {
  const species = more.animals ? (s.choices.species ?? '') : '';
  const f = { permit, trial: s.current?.trial ?? '', time: now(s), species, ...more, by: await by(s) };
  return s.put(words.said.count(permit), [w.count(s.next('count'), f)]);
}

export async function addPhoto(s: Session, file: Blob, about: string): Promise<boolean> {
  const photo = await takePhoto(file);
  return attach(s, 'photo', photo.data, photo.type, about);
}

export const addVoice = (s: Session, voice: Voice, about: string): Promise<boolean> =>
  attach(s, 'voice', voice.data, voice.type, about);

async function attach(
  s: Session,
  kind: 'photo' | 'voice',
  data: Uint8Array,
  type: string,
  about: string,
): Promise<boolean> {
  const blob = await makeBlob(kind, data, s.clock.random(32));
  const f = { kind, ref: blob.ref, about, type, bytes: String(data.length), time: now(s), by: await by(s) };
  return s.put(words.said.attached(kind), [w.attachment(s.next('attachment'), f)], [blob]);
}

/** newAnimal gives an animal a name, and makes it the one of the next passes. */
export async function newAnimal(
  s: Session,
  id: string,
  f: { species: string; sex: string; mark: string },
): Promise<boolean> {
  const draft = w.correct('individual', id, {}, f);
  if (!draft || !(await s.put(words.said.animal(id), [draft]))) return false;
  s.choose({ individual: id, species: f.species });
  return true;
}

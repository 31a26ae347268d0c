// What is so on deck now: the laptop's last word on the study, and over it what
// this tablet wrote since. Pure: the same view and entries give the same.
import type { Deck, DeckIndividual, DeckPermit, DeckTrial } from '$lib/api/types';
import type { Entry } from '$lib/offline/entry';

export type Fields = Record<string, string>;

/** Own is a record that this tablet wrote. */
export interface Own {
  kind: string;
  subject: string;
  fields: Fields;
  /** The tablet's clock at its last entry. */
  ms: number;
}

/** Letters of subjects: 7c1e-0001 is a pass, 7c1e-c0001 a check. */
const letters: Record<string, string> = { pass: '', check: 'c', reading: 'r', event: 'e', count: 'k', attachment: 'a' };

/** prefixOf is what subjects of a device begin with. */
export const prefixOf = (device: string): string => device.replace(/^deck-/, '');

const keyOf = (kind: string, subject: string): string => `${kind}/${subject}`;

/** change is the fields after an entry; undefined after a removal. */
export function change(before: Fields | undefined, e: Pick<Entry, 'act' | 'body'>): Fields | undefined {
  if (e.act === 'remove') return undefined;
  const after = e.act === 'record' ? {} : { ...before };
  for (const [name, value] of Object.entries(e.body.fields ?? {})) {
    if (value === '') delete after[name];
    else after[name] = value;
  }
  return after;
}

export class Fold {
  readonly view: Deck;
  #included: ReadonlyMap<string, number>;
  /** What this tablet wrote, as it is now and as the laptop's view has it. */
  #own = new Map<string, Own>();
  #told = new Map<string, Fields>();
  /** What this tablet changed of trials and animals since the view. */
  #over = new Map<string, Fields>();
  #done: Entry[] = [];
  #undone = new Set<string>();
  #numbers = new Map<string, number>();

  constructor(view: Deck, included: ReadonlyMap<string, number>, entries: readonly Entry[]) {
    this.view = view;
    this.#included = included;
    for (const e of entries) this.add(e);
  }

  add(e: Entry): void {
    const key = keyOf(e.kind, e.subject);
    const after = change(this.#own.get(key)?.fields, e);
    if (after) this.#own.set(key, { kind: e.kind, subject: e.subject, fields: after, ms: e.wallMs });
    else this.#own.delete(key);
    if (e.seq <= (this.#included.get(e.device) ?? 0)) {
      const told = change(this.#told.get(key), e);
      if (told) this.#told.set(key, told);
      else this.#told.delete(key);
    } else if (e.body.fields) this.#over.set(key, { ...this.#over.get(key), ...e.body.fields });
    const numbered = /^(.*)-([a-z]?)(\d+)$/.exec(e.subject);
    if (numbered && e.kind in letters) {
      const at = `${numbered[1]} ${numbered[2]}`;
      this.#numbers.set(at, Math.max(this.#numbers.get(at) ?? 0, Number(numbered[3])));
    }
    if (e.undoes) this.#undone.add(e.undoes);
    else this.#done.push(e);
  }

  /** next is the subject of a new record. A number that was given out once is not given out again. */
  next(device: string, kind: string): string {
    const letter = letters[kind] ?? '';
    const at = `${prefixOf(device)} ${letter}`;
    const n = (this.#numbers.get(at) ?? 0) + 1;
    this.#numbers.set(at, n);
    return `${prefixOf(device)}-${letter}${String(n).padStart(4, '0')}`;
  }

  /** own is what this tablet wrote of a kind and what still stands, oldest first. */
  own(kind: string): Own[] {
    return [...this.#own.values()].filter((o) => o.kind === kind);
  }

  ownOf(kind: string, subject: string): Own | undefined {
    return this.#own.get(keyOf(kind, subject));
  }

  /** last is the newest entry that can be taken back. */
  get last(): Entry | undefined {
    return this.#done.findLast((e) => !this.#undone.has(e.id) && e.act !== 'remove');
  }

  /** deltas are how much more stands now than the view has, by the value of a field. */
  #deltas(kind: string, by: string, amount: (f: Fields) => number): Map<string, number> {
    const sums = new Map<string, number>();
    const add = (f: Fields, sign: number) => sums.set(f[by] ?? '', (sums.get(f[by] ?? '') ?? 0) + sign * amount(f));
    for (const o of this.#own.values()) if (o.kind === kind) add(o.fields, 1);
    for (const [key, f] of this.#told) if (key.startsWith(`${kind}/`)) add(f, -1);
    return sums;
  }

  /** trials are those of the view in their order, then those that this tablet began. */
  get trials(): DeckTrial[] {
    const known = new Set(this.view.trials.map((t) => t.trial));
    const begun = [...this.#over.keys()]
      .filter((k) => k.startsWith('trial/') && !known.has(k.slice(6)))
      .map((k): DeckTrial => ({ trial: k.slice(6), planned: false, spare: false, fields: {}, passes: 0 }));
    const passes = this.#deltas('pass', 'trial', () => 1);
    return [...this.view.trials, ...begun]
      .map((t) => ({
        ...t,
        fields: this.#laid('trial', t.trial, t.fields),
        passes: t.passes + (passes.get(t.trial) ?? 0),
      }))
      .filter((t) => t.planned || Object.keys(t.fields).length > 0 || t.passes > 0);
  }

  #laid(kind: string, subject: string, base: Fields): Fields {
    const over = this.#over.get(keyOf(kind, subject));
    return over ? change(base, { act: 'correct', body: { fields: over } })! : base;
  }

  /** individuals with those that this tablet gave a name; pictures are references, newest first. */
  get individuals(): DeckIndividual[] {
    const known = new Set(this.view.individuals.map((i) => i.id));
    const fresh = [...this.#over.entries()]
      .filter(([k, f]) => k.startsWith('individual/') && !known.has(k.slice(11)) && Object.values(f).some(Boolean))
      .map(([k]): DeckIndividual => ({
        id: k.slice(11),
        species: '',
        sex: '',
        mark: '',
        pictures: [],
        passes: 0,
        last_trial: '',
      }));
    const photos = this.own('attachment')
      .filter((a) => a.fields.kind === 'photo')
      .reverse();
    const passes = this.#deltas('pass', 'individual', () => 1);
    return [...this.view.individuals, ...fresh].map((i) => {
      const over = this.#over.get(keyOf('individual', i.id)) ?? {};
      const mine = photos.filter((a) => a.fields.about === `individual/${i.id}`).map((a) => a.fields.ref ?? '');
      return {
        ...i,
        species: over.species ?? i.species,
        sex: over.sex ?? i.sex,
        mark: over.mark ?? i.mark,
        pictures: [...new Set([...mine, ...i.pictures])].filter(Boolean),
        passes: i.passes + (passes.get(i.id) ?? 0),
      };
    });
  }

  get permits(): DeckPermit[] {
    const animals = this.#deltas('count', 'permit', (f) => Number(f.animals ?? 0) || 0);
    const hours = this.#deltas('count', 'permit', (f) => Number(f.hours ?? 0) || 0);
    return this.view.permits.map((p) => ({
      ...p,
      animals: p.animals + (animals.get(p.id) ?? 0),
      hours: p.hours + (hours.get(p.id) ?? 0),
    }));
  }
}

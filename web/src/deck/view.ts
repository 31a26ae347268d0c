// What a tablet keeps of a study, and how it reads what another version of the
// app kept: what is missing is empty, what is unknown is left alone.
import type { Deck, DeckTrial, TabletSelf } from '$lib/api/types';

export interface KeptView {
  view: Deck;
  /** When the laptop gave it, by the tablet's clock. */
  fetchedMs: number;
  /** Of each device, up to which number its entries are in it. */
  included: Map<string, number>;
}

type Loose = Record<string, unknown>;

const list = (v: unknown): Loose[] =>
  Array.isArray(v) ? v.filter((x): x is Loose => x !== null && typeof x === 'object') : [];
const text = (v: unknown, otherwise = ''): string => (typeof v === 'string' ? v : otherwise);
const number = (v: unknown, otherwise = 0): number => (typeof v === 'number' && Number.isFinite(v) ? v : otherwise);
const texts = (v: unknown): string[] => (Array.isArray(v) ? v.filter((x): x is string => typeof x === 'string') : []);

function fields(v: unknown): Record<string, string> {
  if (v === null || typeof v !== 'object') return {};
  return Object.fromEntries(Object.entries(v).filter(([, value]) => typeof value === 'string')) as Record<
    string,
    string
  >;
}

/** The plain answers, for a study whose own list cannot be read. */
const usual = [
  { word: '', label: 'No turn', turned: 'no', bit: 'no', electrode: false },
  { word: '', label: 'Turn', turned: 'yes', bit: 'no', electrode: false },
  { word: '', label: 'Bite', turned: 'yes', bit: 'yes', electrode: true },
];

/** readView makes a whole view of whatever was kept or sent. */
export function readView(raw: unknown): Deck {
  const v = (raw ?? {}) as Loose;
  const spec = (v.spec ?? {}) as Loose;
  const responses = list(spec.responses).map((r) => ({
    ...r,
    word: text(r.word),
    label: text(r.label) || text(r.word),
    turned: text(r.turned),
    bit: text(r.bit),
    electrode: r.electrode === true,
  }));
  return {
    ...v,
    study: text(v.study),
    identity: text(v.identity),
    title: text(v.title),
    site_name: text(v.site_name),
    zone: text(v.zone, 'UTC') || 'UTC',
    role: text(v.role),
    device: text(v.device),
    etag: text(v.etag),
    invented: v.invented === true,
    read_only: v.read_only === true,
    blind: v.blind === true,
    locked: v.locked === true,
    spec_written: v.spec_written === true,
    position: number(v.position),
    now_ms: number(v.now_ms),
    cautions: number(v.cautions),
    spec: {
      ...spec,
      format: number(spec.format, 1),
      responses: responses.length > 0 ? responses : usual,
      heights: list(spec.heights).map((h) => ({
        ...h,
        word: text(h.word),
        low_cm: number(h.low_cm),
        high_cm: number(h.high_cm),
      })),
      checks: list(spec.checks).map((c) => ({ ...c, word: text(c.word), label: text(c.label) || text(c.word) })),
      trial_min: number(spec.trial_min),
      washout_min: number(spec.washout_min),
    },
    pairs: list(v.pairs).map((p) => ({
      ...p,
      label: text(p.label),
      x_m: number(p.x_m),
      y_m: number(p.y_m),
      azimuth_deg: number(p.azimuth_deg),
    })),
    species: list(v.species).map((s) => ({ ...s, name: text(s.name), aliases: texts(s.aliases) })),
    individuals: list(v.individuals).map((i) => ({
      ...i,
      id: text(i.id),
      species: text(i.species),
      sex: text(i.sex),
      mark: text(i.mark),
      pictures: texts(i.pictures),
      passes: number(i.passes),
      last_trial: text(i.last_trial),
    })),
    trials: list(v.trials).map((t): DeckTrial => ({
      ...t,
      trial: text(t.trial),
      planned: t.planned === true,
      spare: t.spare === true,
      fields: fields(t.fields),
      passes: number(t.passes),
    })),
    permits: list(v.permits).map((p) => ({
      ...p,
      id: text(p.id),
      what: text(p.what),
      number: text(p.number),
      valid_from: text(p.valid_from),
      valid_to: text(p.valid_to),
      animals: number(p.animals),
      hours: number(p.hours),
      animals_most: typeof p.animals_most === 'number' ? p.animals_most : undefined,
      hours_most: typeof p.hours_most === 'number' ? p.hours_most : undefined,
    })),
    people: list(v.people).map((p) => ({ ...p, name: text(p.name), mark: text(p.mark) })),
  } as Deck;
}

/** readSelf makes a whole self of whatever was kept or sent. */
export function readSelf(raw: unknown): TabletSelf {
  const v = (raw ?? {}) as Loose;
  return {
    ...v,
    paired: v.paired === true,
    laptop: text(v.laptop),
    words: texts(v.words),
    device: text(v.device),
    name: text(v.name),
    ends: text(v.ends),
    now_ms: number(v.now_ms),
    studies: list(v.studies).map((s) => ({
      ...s,
      study: text(s.study),
      identity: text(s.identity),
      title: text(s.title),
      role: text(s.role),
    })),
  } as TabletSelf;
}

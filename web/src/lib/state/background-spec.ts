// The specification of a background as the page builds it: new sources, blanks,
// the places of faults, and the rows of places that a picture asks for.
import type { Detail } from '$lib/api/client';
import type {
  BackgroundDocument,
  BackgroundSource,
  BackgroundSourceFound,
  BackgroundSpec,
  BackgroundStart,
} from '$lib/api/background';
import { words } from '$lib/words';
import type { Faults } from './knobs';

/** The kinds of source, ready-made ones first. */
export const sourceKinds = [
  'diver',
  'camera',
  'boat',
  'chain',
  'weight',
  'couple',
  'measured',
  'cable',
  'dipole',
] as const;
export type SourceKind = (typeof sourceKinds)[number];

export const readyMade: ReadonlySet<string> = new Set(['diver', 'camera', 'boat', 'chain', 'weight']);

/** How far from the pairs a new source lies, and how high: as such gear is met. */
const firstPlace: Record<SourceKind, { awayM: number; heightM: number }> = {
  diver: { awayM: 4, heightM: 1 },
  camera: { awayM: 1.5, heightM: 0.4 },
  boat: { awayM: 25, heightM: 0 },
  chain: { awayM: 12, heightM: 0 },
  weight: { awayM: 1, heightM: 0.05 },
  couple: { awayM: 2, heightM: 0.1 },
  measured: { awayM: 3, heightM: 0.1 },
  cable: { awayM: 0.5, heightM: 0 },
  dipole: { awayM: 2, heightM: 0.1 },
};

/** Directions of sources that are added one after the other, so that they do not cover each other. */
const turnDeg = 77;

type Own = Omit<Partial<BackgroundSource>, 'label' | 'kind' | 'at_m'>;

/** What a kind needs to be worked out at all; the user puts in his own. */
function firstValues(kind: SourceKind, metals: readonly string[]): Own {
  const has = (name: string, other: number) => (metals.includes(name) ? name : (metals[other] ?? ''));
  switch (kind) {
    case 'couple':
      return { metals: [has('zinc', 0), has('brass', 1)], areas_cm2: [20, 20], apart_m: 0.1 };
    case 'measured':
      return { field_nV_per_cm: 10, distance_m: 1 };
    case 'cable':
      return { current_nA: 90, length_m: 20 };
    case 'dipole':
      return { moment_A_m: 1e-5 };
    default:
      return {};
  }
}

/** middleOf the pairs, [x, y]; the origin without pairs. */
export function middleOf(spec: BackgroundSpec): [number, number] {
  const pairs = (spec.pairs ?? []).filter((p) => p.centre_m.length >= 2);
  if (pairs.length === 0) return [0, 0];
  // A millimetre is finer than any plate is laid.
  const mean = (i: number) => Math.round((pairs.reduce((s, p) => s + p.centre_m[i]!, 0) / pairs.length) * 1000) / 1000;
  return [mean(0), mean(1)];
}

/** labelFor is a label that is not taken. */
export function labelFor(name: string, labels: readonly string[]): string {
  const taken = new Set(labels);
  if (!taken.has(name)) return name;
  for (let n = 2; ; n++) if (!taken.has(`${name} ${n}`)) return `${name} ${n}`;
}

export function newSource(kind: SourceKind, spec: BackgroundSpec, start?: BackgroundStart): BackgroundSource {
  const sources = spec.sources ?? [];
  const [x, y] = middleOf(spec);
  const { awayM, heightM } = firstPlace[kind];
  const a = ((30 + turnDeg * sources.length) * Math.PI) / 180;
  const cm = (v: number) => Math.round(v * 100) / 100;
  const depth = spec.site.depth_m ?? 0;
  // A boat floats at the surface, and nothing lies above it.
  const z = kind === 'boat' ? depth : depth > 0 ? Math.min(heightM, depth) : heightM;
  return {
    label: labelFor(
      words.background.kinds[kind],
      sources.map((s) => s.label),
    ),
    kind,
    at_m: [cm(x + awayM * Math.cos(a)), cm(y + awayM * Math.sin(a)), z],
    ...firstValues(kind, start?.metals.map((m) => m.metal) ?? []),
  };
}

/** tidySpec leaves out what is blank: null, empty text and parts without anything in them. */
export function tidySpec(spec: BackgroundSpec): BackgroundSpec {
  return tidy(spec) as BackgroundSpec;
}

function tidy(value: unknown): unknown {
  if (Array.isArray(value)) return (value as unknown[]).map(tidy);
  if (typeof value !== 'object' || value === null) return value;
  const kept: Record<string, unknown> = {};
  for (const [key, v] of Object.entries(value)) {
    if (v === null || v === undefined || v === '') continue;
    kept[key] = tidy(v);
  }
  return kept;
}

/** faultsAt parts the sentences of a refusal: those about a knob, and the rest. */
export function faultsAt(details: readonly Detail[]): { faults: Faults; rest: string[] } {
  const faults = new Map<string, string>();
  const rest: string[] = [];
  for (const { location, message } of details) {
    const path = /^(?:body[./])?(?:background[./])?(.+)$/.exec(location)?.[1]?.replace(/\[(\d+)\]/g, '/$1');
    const clean = path?.replaceAll('.', '/');
    if (clean && clean !== 'body' && clean !== 'background') faults.set(clean, message);
    else rest.push(message);
  }
  return { faults, rest };
}

/** So many places of a line are asked for. */
const points = 33;
/** Distances of the picture: from a hand's breadth to beyond any boat, metres. */
export const nearestM = 0.1;
export const farthestM = 200;

/**
 * samples are one question for each source: its field at places from near to
 * far, on the level line from it towards the nearest pair. The places stand
 * where the pairs would.
 */
export function samples(spec: BackgroundSpec, document: BackgroundDocument): BackgroundSpec[] {
  const height = spec.height_m ?? 0;
  const questions: BackgroundSpec[] = [];
  (spec.sources ?? []).forEach((source, i) => {
    if (!document.sources[i] || source.at_m.length < 3) return;
    const [x, y, z] = source.at_m as [number, number, number];
    const to = nearestPair(spec, x, y);
    const level = Math.hypot(to[0] - x, to[1] - y);
    const [c, s] = level > 0 ? [(to[0] - x) / level, (to[1] - y) / level] : [1, 0];
    const up = height - z;
    const pairs = [];
    for (let k = 0; k < points; k++) {
      const r = nearestM * (farthestM / nearestM) ** (k / (points - 1));
      if (r < Math.abs(up)) continue;
      const along = Math.sqrt(r * r - up * up);
      pairs.push({ label: String(k), centre_m: [x + along * c, y + along * s] });
    }
    const { depth_m } = spec.site;
    questions.push(
      tidySpec({
        site: { depth_m },
        date: spec.date,
        water_S_per_m: spec.water_S_per_m,
        height_m: height,
        stimulus: spec.stimulus,
        sources: [source],
        pairs,
      }),
    );
  });
  return questions;
}

function nearestPair(spec: BackgroundSpec, x: number, y: number): [number, number] {
  let best: [number, number] = [x, y];
  let least = Infinity;
  for (const { centre_m } of spec.pairs ?? []) {
    const [px = NaN, py = NaN] = centre_m;
    const r = Math.hypot(px - x, py - y);
    if (r < least) [best, least] = [[px, py], r];
  }
  return best;
}

/** How a source stands to the pairs. */
export type Standing = 'near' | 'far' | 'unknown';

/**
 * standing is what the program says while its answer is about this place; while
 * the source is being moved it is told by its distance and standoff.
 */
export function standing(
  source: BackgroundSource,
  spec: BackgroundSpec,
  answered: { spec: BackgroundSpec; document: BackgroundDocument } | undefined,
  i: number,
): Standing {
  const found = answered?.document.sources[i];
  const was = answered?.spec.sources?.[i];
  if (!found || !was || was.kind !== source.kind) return 'unknown';
  const same = was.at_m.every((v, k) => v === source.at_m[k]);
  if (same) return found.ok === null ? 'unknown' : found.ok ? 'far' : 'near';
  if (found.standoff_m === null) return 'unknown';
  return distanceM(source, spec) < found.standoff_m ? 'near' : 'far';
}

/** distanceM from a source to the nearest pair at the height that is asked for. */
export function distanceM(source: BackgroundSource, spec: BackgroundSpec): number {
  const [x = NaN, y = NaN, z = 0] = source.at_m;
  const to = nearestPair(spec, x, y);
  return Math.hypot(to[0] - x, to[1] - y, (spec.height_m ?? 0) - z);
}

/** cutM is the radius of the standoff at the height of the pairs; 0 where it does not reach down to them. */
export function cutM(standoffM: number, upM: number): number {
  return Math.sqrt(Math.max(0, standoffM * standoffM - upM * upM));
}

/** keepOf is the distance that a crew is told: with the uncertainty of the water where it is stated. */
export const keepOf = (found: Pick<BackgroundSourceFound, 'standoff_m' | 'standoff_high_m'>): number | null =>
  found.standoff_m === null ? null : keepAwayM(Math.max(found.standoff_m, found.standoff_high_m ?? 0));

/**
 * keepAwayM is a standoff as it is printed for a boat's crew: never rounded
 * down, in half metres from 2 m on and whole ones from 10 m on.
 */
export function keepAwayM(standoffM: number): number {
  const step = standoffM < 2 ? 0.1 : standoffM < 10 ? 0.5 : 1;
  return Number((Math.ceil(standoffM / step - 1e-9) * step).toPrecision(6));
}

/** Groups of knobs that say where their values come from. */
export type Group = 'site' | 'water' | 'stream' | 'animal' | 'share' | 'pairs' | 'sources' | 'cable';

const about: Record<Group, RegExp> = {
  site: /\b(site|latitude|longitude|depth|bearing|x axis|date|day|field season)\b/i,
  water: /\b(water|conducts?|conductivity|salinity|temperature)\b/i,
  stream: /\b(stream|tide|tidal)\b/i,
  animal: /\b(animals?|swims?|swimming)\b/i,
  share: /\b(stimulus|thresholds?|share)\b/i,
  pairs: /\b(pairs?|height)\b/i,
  sources: /\b(sources?|gear)\b/i,
  cable: /\b(cable|leaks?|supply)\b/i,
};

/** groupFrom puts each sentence to the group that it speaks of first; what speaks of none is other. */
export function groupFrom(sentences: readonly string[]): Record<Group | 'other', string[]> {
  const out: Record<Group | 'other', string[]> = {
    site: [],
    water: [],
    stream: [],
    animal: [],
    share: [],
    pairs: [],
    sources: [],
    cable: [],
    other: [],
  };
  for (const sentence of sentences) {
    let best: Group | 'other' = 'other';
    let first = Infinity;
    for (const [group, words] of Object.entries(about) as [Group, RegExp][]) {
      const at = sentence.search(words);
      if (at >= 0 && at < first) [best, first] = [group, at];
    }
    out[best].push(sentence);
  }
  return out;
}

/** readySpec has a place for every knob of the page: what is absent stands as the program takes it. */
export function readySpec(spec: BackgroundSpec): BackgroundSpec {
  return {
    ...spec,
    pairs: spec.pairs ?? [],
    sources: spec.sources ?? [],
    stimulus: spec.stimulus ?? { threshold_nV_per_cm: 5, share_percent: 10 },
  };
}

// A rig's values by their path, as the program names its faults:
// "supply/voltage_V", "pairs/0/separation_m". And resistors as people write them.
import type { Detail } from '$lib/api/client';
import type { RigBench, RigCurrent, RigDocument, RigPart, RigSpec } from '$lib/api/rig';
import type { Figure } from '$lib/draw/picture';
import { words } from '$lib/words';
import { sig } from '$lib/words/numbers';

type Tree = Record<string, unknown>;
const isTree = (v: unknown): v is Tree => typeof v === 'object' && v !== null;

/** plain leaves out what says nothing, so that the same rig is always the same text. */
export function plain(spec: RigSpec): RigSpec {
  const tidy = (v: unknown): unknown => {
    if (Array.isArray(v)) return v.map(tidy);
    if (!isTree(v)) return v;
    return Object.fromEntries(
      Object.keys(v)
        .sort()
        .filter((k) => v[k] !== null && v[k] !== undefined && v[k] !== false && v[k] !== '')
        .map((k) => [k, tidy(v[k])]),
    );
  };
  const kept = tidy(spec) as RigSpec;
  delete kept.measured;
  // A flag that must be there says no as well.
  if (kept.ammeter) kept.ammeter.stays_in ??= false;
  for (const p of kept.ladder.positions ?? []) p.label ??= '';
  return kept;
}

export const sameRig = (a: RigSpec, b: RigSpec): boolean => JSON.stringify(plain(a)) === JSON.stringify(plain(b));

/** rigFaults parts the sentences of a refusal: those about a value, by its path ("supply/voltage_V"), and the rest. */
export function rigFaults(details: readonly Detail[]): { faults: Map<string, string>; rest: string[] } {
  const faults = new Map<string, string>();
  const rest: string[] = [];
  for (const { location, message } of details) {
    const path = /^(?:body[./])?rig[./](.+)$/.exec(location)?.[1]?.replaceAll('.', '/');
    if (path) faults.set(path, message);
    else rest.push(message);
  }
  return { faults, rest };
}

/** From which resistance on a unit is used. */
const prefixes: [number, string][] = [
  [1e6, 'MΩ'],
  [1e3, 'kΩ'],
  [0.01, 'Ω'],
  [1e-3, 'mΩ'],
];

/** ohmText writes a resistance as on a resistor: 750 kΩ, 5.11 kΩ, 1.5 MΩ. */
export function ohmText(ohm: number, digits = 4): string {
  if (!Number.isFinite(ohm)) return '';
  if (ohm === 0) return '0 Ω';
  const [from, unit] = prefixes.find(([f]) => Math.abs(ohm) >= f * 0.99995) ?? prefixes.at(-1)!;
  const text = sig(unit === 'Ω' ? ohm : ohm / from, digits);
  return `${text.includes('.') ? text.replace(/\.?0+$/, '') : text} ${unit}`;
}

export const ohmsText = (ohm: readonly number[]): string => ohm.map((v) => ohmText(v, 6)).join(' + ');

/**
 * readOhms reads "120k + 5.1 kΩ", "4k7", "750000" as resistances in series, in
 * ohms; [] where nothing is written, undefined where it cannot be read.
 */
export function readOhms(text: string): number[] | undefined {
  const bare = text.trim();
  if (bare === '' || /^(none|–|-|0)$/i.test(bare)) return [];
  const found: number[] = [];
  for (const part of bare.split(/\s*[+;]\s*/)) {
    const v = readOhm(part);
    if (v === undefined) return undefined;
    found.push(v);
  }
  return found;
}

/** readOhm reads one resistance in ohms. A comma counts as the decimal point; M is mega and m is milli. */
export function readOhm(text: string): number | undefined {
  const m = /^(\d+)(?:[.,](\d+))?\s*(?:([kKMmRrGg])(\d*))?\s*(?:Ω|Ω|ohms?)?$/.exec(text.trim());
  if (!m) return undefined;
  const [, whole = '', fraction, letter = '', after = ''] = m;
  if (fraction !== undefined && after) return undefined;
  const size = { k: 1e3, K: 1e3, M: 1e6, m: 1e-3, R: 1, r: 1, G: 1e9, g: 1e9, '': 1 }[letter] ?? 1;
  const value = Number(`${whole}.${fraction ?? (after || '0')}`) * size;
  return Number(value.toPrecision(12));
}

/** readCurrents reads "15, 10 8" as currents; undefined where something in it is no number above 0. */
export function readCurrents(text: string): number[] | undefined {
  const parts = text.trim().split(/[\s,;]+/);
  if (parts.length === 1 && parts[0] === '') return undefined;
  const values = parts.map(Number);
  return values.every((v) => Number.isFinite(v) && v > 0) ? values : undefined;
}

/** currentText writes a current of any size with its unit: 9.1 µA, 32 pA. */
export function currentText(uA: number, digits = 3): string {
  if (!Number.isFinite(uA)) return '';
  const size = Math.abs(uA);
  if (size === 0) return '0 µA';
  if (size >= 999.5) return `${sig(uA / 1e3, digits)} mA`;
  if (size >= 0.9995) return `${sig(uA, digits)} µA`;
  if (size >= 0.9995e-3) return `${sig(uA * 1e3, digits)} nA`;
  if (size >= 0.9995e-6) return `${sig(uA * 1e6, digits)} pA`;
  return '< 1 pA';
}

/** percentText writes a percentage; what is less than a ten-thousandth is said to be that. */
export const percentText = (percent: number): string =>
  percent !== 0 && Math.abs(percent) < 0.01 ? '< 0.01 %' : `${sig(percent, 2)} %`;

/** partColumns is the parts list as a file. */
export const partColumns = (parts: readonly RigPart[]): Pick<Figure, 'columns' | 'rows'> => ({
  columns: ['what', 'count', 'value', 'value_ohm', 'series', 'tolerance_percent', 'power_W', 'rating_W', 'note'],
  rows: parts.map((p) => [
    ...[p.what, p.count, p.value, p.value_ohm, p.series, p.tolerance_percent, p.power_W, p.rating_W, p.note],
  ]),
});

/** Standing is what a measurement counts for in the rig as it is now. */
export type Standing = 'counts' | 'older' | 'elsewhere' | 'beside';

/** standingOf tells whether a measured current replaces a nominal one, has been overtaken, is of a position or pair that is not there, or holds no current. */
export function standingOf(b: RigBench, doc: RigDocument): Standing {
  if (b.current_uA == null) return 'beside';
  const at = doc.positions.find((p) => p.label === b.position);
  const currents = (at?.currents ?? []).filter((c) => !b.pair || c.pair === b.pair);
  if (currents.length === 0) return 'elsewhere';
  return currents.some((c) => c.measured_on === b.date && c.measured_uA === b.current_uA) ? 'counts' : 'older';
}

/** alike joins the pairs whose currents at a position read the same; limiting resistors make most pairs alike. */
export function alike(currents: readonly RigCurrent[]): { pairs: string[]; current: RigCurrent }[] {
  const groups = new Map<string, { pairs: string[]; current: RigCurrent }>();
  for (const c of currents) {
    // Drawn intervals differ by chance alone where the bounds are the same.
    const ends = [...c.worst_uA, ...c.season_uA];
    const read = [c.nominal_uA, ...ends, c.full_uA, c.empty_uA, c.measured_uA].map((v) => (v === null ? '' : sig(v)));
    const key = [...read, c.measured_on ?? ''].join();
    const group = groups.get(key);
    if (group) group.pairs.push(c.pair);
    else groups.set(key, { pairs: [c.pair], current: c });
  }
  return [...groups.values()];
}

/** singleFaults is the sentence of safety: the most that any one fault sends through a diver. */
export const singleFaults = ({ limited_diver_uA: uA, felt_uA }: RigDocument['safety']): string =>
  words.rig.faults.worst(currentText(uA, 2), percentText((100 * uA) / felt_uA));

// The lists of a deck while they are being changed: numbers as they were typed,
// and what is wrong, by place ("responses/2/label").
import type { DeckCheckItem } from '$lib/api/deck';
import type { DeckHeight, DeckResponse, DeckSpec } from '$lib/api/types';
import { words } from '$lib/words';

/** key keeps a row's fields and its focus when it moves. */
export type ResponseRow = DeckResponse & { key: number };
export interface HeightRow {
  key: number;
  word: string;
  low: string;
  high: string;
}
export type CheckRow = DeckCheckItem & { key: number };

export interface SetupDraft {
  responses: ResponseRow[];
  heights: HeightRow[];
  checks: CheckRow[];
  trialMin: string;
  washoutMin: string;
}

export type ListName = 'responses' | 'heights' | 'checks';

export const mostRows: Record<ListName, number> = { responses: 24, heights: 12, checks: 20 };
/** In characters: of what stands in a cell, and of what stands on a button. */
const longest = 40;
const longestLabel = 60;
const highestCM = 10_000;

const w = words.deckSetup.fault;

export function draftOf(spec: DeckSpec): SetupDraft {
  let key = 0;
  return {
    responses: spec.responses.map((r) => ({ ...r, key: key++ })),
    heights: spec.heights.map((h) => ({ key: key++, word: h.word, low: String(h.low_cm), high: String(h.high_cm) })),
    checks: spec.checks.map((c) => ({ ...c, key: key++ })),
    trialMin: String(spec.trial_min),
    washoutMin: String(spec.washout_min),
  };
}

/** numberOf reads what was typed; NaN where it is no number. */
export const numberOf = (typed: string): number => {
  const text = typed.trim().replace('−', '-').replace(',', '.');
  return /^-?\d+(\.\d+)?$/.test(text) ? Number(text) : NaN;
};

/** specOf is what is sent; only of a draft without faults. */
export function specOf(draft: SetupDraft, format: number): DeckSpec {
  const heights: DeckHeight[] = draft.heights.map((h) => ({
    word: h.word.trim(),
    low_cm: numberOf(h.low),
    high_cm: numberOf(h.high),
  }));
  return {
    format,
    responses: draft.responses.map(({ word, label, turned, bit, electrode }) => ({
      word: word.trim(),
      label: label.trim(),
      turned,
      bit,
      electrode,
    })),
    heights,
    // A check keeps the word under which it was logged before.
    checks: draft.checks.map((c) => ({ word: c.word || wordOf(c.label), label: c.label.trim() })),
    trial_min: numberOf(draft.trialMin),
    washout_min: numberOf(draft.washoutMin),
  };
}

/** wordOf makes a word of a label: what stands in the data. */
export const wordOf = (label: string): string =>
  label
    .trim()
    .toLowerCase()
    .replace(/[",;\r\n]+/g, ' ')
    .replace(/\s+/g, ' ')
    .trim()
    .slice(0, longest)
    .trim();

/** faultsOf says what is wrong, by place. */
export function faultsOf(
  draft: SetupDraft,
  refused: Readonly<Record<string, string>> = {},
): ReadonlyMap<string, string> {
  const faults = new Map<string, string>(Object.entries(refused));
  const say = (place: string, wrong: string) => {
    if (wrong && !faults.has(place)) faults.set(place, wrong);
  };
  for (const list of ['responses', 'heights', 'checks'] as const)
    if (draft[list].length > mostRows[list]) say(list, w.most(mostRows[list]));
  if (draft.responses.length === 0) say('responses', w.none);
  draft.responses.forEach((r, i) => {
    const at = `responses/${i}`;
    say(`${at}/label`, !r.label.trim() ? w.labelMissing : tooLong(r.label, longestLabel));
    say(`${at}/word`, r.word.trim() ? badWord(r.word) : '');
    const before = draft.responses.slice(0, i);
    if (before.some((o) => same(o.label, r.label))) say(`${at}/label`, w.twice);
    if (r.word.trim() && before.some((o) => same(o.word, r.word))) say(`${at}/word`, w.twice);
    if (!r.word.trim() && before.some((o) => !o.word.trim() && o.turned === r.turned && o.bit === r.bit))
      say(`${at}/word`, w.alike);
    if (r.bit === 'yes' && r.turned === 'no') say(`${at}/turned`, w.contradiction);
    if (r.electrode && r.bit !== 'yes') say(`${at}/electrode`, w.electrode);
  });
  draft.heights.forEach((h, i) => {
    const at = `heights/${i}`;
    say(`${at}/word`, h.word.trim() ? badWord(h.word) : w.nameMissing);
    if (draft.heights.slice(0, i).some((o) => same(o.word, h.word))) say(`${at}/word`, w.twice);
    const [low, high] = [numberOf(h.low), numberOf(h.high)];
    if (!(low >= 0 && low <= highestCM)) say(`${at}/low`, w.number);
    if (!(high >= 0 && high <= highestCM)) say(`${at}/high`, w.number);
    if (low >= high) say(`${at}/high`, w.order);
  });
  draft.checks.forEach((c, i) => {
    say(`checks/${i}/label`, !c.label.trim() ? w.checkMissing : tooLong(c.label, longestLabel));
    const word = (o: CheckRow) => o.word || wordOf(o.label);
    if (draft.checks.slice(0, i).some((o) => same(o.label, c.label) || same(word(o), word(c))))
      say(`checks/${i}/label`, w.twice);
  });
  for (const [place, typed] of [
    ['trialMin', draft.trialMin],
    ['washoutMin', draft.washoutMin],
  ] as const) {
    const v = numberOf(typed);
    if (!(v >= 0 && v <= 1440)) say(place, w.minutes);
  }
  return faults;
}

const same = (a: string, b: string): boolean => a.trim().toLowerCase() === b.trim().toLowerCase();
const tooLong = (text: string, most: number): string => (text.trim().length > most ? w.long(most) : '');
const badWord = (word: string): string => (/[",;\r\n]/.test(word) ? w.comma : tooLong(word, longest));

/** placeHere is where a fault that the program names as "deck//heights/0/low_cm" stands on the page. */
export function placeHere(location: string): string {
  const place = /^deck\/\/(.+)$/.exec(location)?.[1] ?? '';
  return place
    .replace(/_cm$/, '')
    .replace(/^checks\/(\d+)\/word$/, 'checks/$1/label')
    .replace('trial_min', 'trialMin')
    .replace('washout_min', 'washoutMin');
}

/** moved is the list with one row a place further up (−1) or down (1). */
export function moved<T>(rows: readonly T[], i: number, by: -1 | 1): T[] {
  const to = i + by;
  const list = [...rows];
  const row = list[i];
  if (row === undefined || to < 0 || to >= list.length) return list;
  list.splice(i, 1);
  list.splice(to, 0, row);
  return list;
}

/** A spec in four lines, to be set beside another. */
export function specLines(spec: DeckSpec): Record<ListName | 'times', string[]> {
  const p = words.deckSetup;
  return {
    responses: spec.responses.map((r) =>
      [
        r.label,
        r.word && `(${r.word})`,
        r.turned && `${p.responses.turned.toLowerCase()} ${r.turned}`,
        r.bit && `${p.responses.bit.toLowerCase()} ${r.bit}`,
        r.electrode && p.preview.bite,
      ]
        .filter(Boolean)
        .join(' '),
    ),
    heights: spec.heights.map((h) => `${h.word} ${h.low_cm}–${h.high_cm} cm`),
    checks: spec.checks.map((c) => c.label),
    times: [p.preview.times(String(spec.trial_min), String(spec.washout_min))],
  };
}

// A paper log as it is typed in: what a cell means, what is wrong with it, and
// what is sent. Times are those of the clock at the site.
import type { CellChange, NewRow } from '$lib/api/studies';
import type { Deck, DeckResponse } from '$lib/api/types';
import { words } from '$lib/words';

export const paperColumns = [
  'trial',
  'time',
  'pair',
  'species',
  'individual',
  'response',
  'height_class',
  'bite_electrode',
  'watched_s',
  'note',
] as const;
export type PaperColumn = (typeof paperColumns)[number];
export type Cells = Record<PaperColumn, string>;

export interface PaperRow {
  key: number;
  cells: Cells;
}

/** What a planned trial lacks that nobody has begun, as it was typed. */
export interface PaperTrial {
  start: string;
  end: string;
  temperature_C: string;
  salinity: string;
  note: string;
}
export const blankTrial: PaperTrial = { start: '', end: '', temperature_C: '', salinity: '', note: '' };

const f = words.deckPaper.faults;

export const blankCells = (): Cells => Object.fromEntries(paperColumns.map((c) => [c, ''])) as Cells;
/** A trial alone is carried over from above: such a row is still blank. */
export const isBlank = (cells: Cells): boolean => paperColumns.every((c) => c === 'trial' || !cells[c].trim());

/** dittos stand for "the same as above" on paper. */
export const isDitto = (typed: string): boolean => /^\s*(["″”„]|'')\s*$/.test(typed);

/** clockOf reads a time of the day as minutes and seconds: 1412, 14:12, 141205, 9.05; undefined where it is none. */
export function clockOf(typed: string): string | undefined {
  const text = typed.trim();
  const m = /^(\d{1,2})[:.h](\d{2})(?:[:.](\d{2}))?$/.exec(text) ?? /^(\d{1,2})(\d{2})(\d{2})?$/.exec(text);
  if (!m) return undefined;
  const [h, min, s] = [Number(m[1]), Number(m[2]), Number(m[3] ?? 0)];
  if (h > 23 || min > 59 || s > 59) return undefined;
  return [h, min, ...(m[3] ? [s] : [])].map((n) => String(n).padStart(2, '0')).join(':');
}

/** laterBy is a time of the day so many minutes after another; undefined past midnight. */
export function laterBy(clock: string, minutes: number): string | undefined {
  const [h = 0, m = 0, s = 0] = clock.split(':').map(Number);
  const all = Math.round(h * 3600 + m * 60 + s + minutes * 60);
  if (all < 0 || all >= 86_400) return undefined;
  const parts = [Math.floor(all / 3600), Math.floor(all / 60) % 60, all % 60];
  return parts
    .slice(0, parts[2] || clock.length > 5 ? 3 : 2)
    .map((n) => String(n).padStart(2, '0'))
    .join(':');
}

/** timeOf reads a time cell: a time, or +3 minutes after the one above; undefined where neither. */
export function timeOf(typed: string, above: string): string | undefined {
  const later = /^\+\s*(\d{1,4}(?:[.,]\d+)?)$/.exec(typed.trim());
  if (!later) return clockOf(typed);
  return above ? laterBy(above, Number(later[1]!.replace(',', '.'))) : undefined;
}

/** One thing that a list offers; what else people call it is looked at too. */
export interface Choice {
  value: string;
  also: readonly string[];
}

/** choicesOf is what a column offers; undefined where anything can be written. */
export function choicesOf(column: PaperColumn, deck: Deck): Choice[] | undefined {
  const plain = (values: readonly string[]): Choice[] => values.map((value) => ({ value, also: [] }));
  switch (column) {
    case 'trial':
      return plain(deck.trials.map((t) => t.trial));
    case 'pair':
      return plain(deck.pairs.map((p) => p.label));
    case 'species':
      return deck.species.map((s) => ({ value: s.name, also: s.aliases }));
    case 'individual':
      return deck.individuals.map((i) => ({ value: i.id, also: i.mark ? [i.mark] : [] }));
    case 'response':
      return deck.spec.responses.map((r) => ({ value: r.label, also: r.word ? [r.word] : [] }));
    case 'height_class':
      return plain(deck.spec.heights.map((h) => h.word));
    case 'bite_electrode':
      return plain(words.deckPaper.electrodes);
    default:
      return undefined;
  }
}

/** pick is what typed letters mean: what is called so, else what begins so, in the order of the list. */
export function pick(typed: string, choices: readonly Choice[]): string | undefined {
  const text = typed.trim().toLowerCase();
  if (!text) return undefined;
  const names = (c: Choice) => [c.value, ...c.also].map((n) => n.toLowerCase());
  return (
    choices.find((c) => names(c).includes(text)) ??
    choices.find((c) => names(c).some((n) => n.startsWith(text))) ??
    choices.find((c) => names(c).some((n) => n.split(/[\s.,/-]+/).some((part) => part.startsWith(text))))
  )?.value;
}

/** settled is what a cell holds once it is left: letters become the choice that they mean, times are written out. */
export function settled(column: PaperColumn, typed: string, above: Cells | undefined, deck: Deck): string {
  const text = typed.trim();
  if (isDitto(text)) return above?.[column] ?? '';
  if (column === 'time') return timeOf(text, above?.time ?? '') ?? text;
  if (column === 'watched_s') return text.replace(',', '.');
  if (column === 'individual' && (text === '?' || text === '-')) return '';
  const choices = choicesOf(column, deck);
  if (!choices) return text;
  if (text.endsWith('!')) return text.slice(0, -1).trim();
  return pick(text, choices) ?? text;
}

export const responseNamed = (label: string, deck: Deck): DeckResponse | undefined =>
  deck.spec.responses.find((r) => r.label === label);

export type RowFaults = Partial<Record<PaperColumn, string>>;

/** faultsOfRow says what is wrong with a row; of a cell that is being typed, what it means is looked at. */
export function faultsOfRow(cells: Cells, above: Cells | undefined, deck: Deck): RowFaults {
  if (isBlank(cells)) return {};
  const faults: RowFaults = {};
  const list = (names: readonly string[]) => names.slice(0, 8).join(', ') + (names.length > 8 ? '…' : '');
  const is = Object.fromEntries(paperColumns.map((c) => [c, settled(c, cells[c], above, deck)])) as Cells;
  for (const c of ['trial', 'time', 'pair', 'species', 'response'] as const) if (!is[c]) faults[c] = f.missing;
  const known = (c: PaperColumn) => choicesOf(c, deck)?.some((o) => o.value === is[c]) ?? true;
  const others: [PaperColumn, string][] = [
    ['trial', f.trial(list(deck.trials.map((t) => t.trial)))],
    ['pair', f.pair(list(deck.pairs.map((p) => p.label)))],
    ['species', f.species],
    ['response', f.response],
    ['height_class', f.height(list(deck.spec.heights.map((h) => h.word)))],
  ];
  for (const [c, wrong] of others) if (is[c] && !known(c)) faults[c] = wrong;
  if (is.time && !clockOf(is.time)) faults.time = is.time.startsWith('+') && !above?.time ? f.timeAbove : f.time;
  const response = responseNamed(is.response, deck);
  if (response?.electrode && !is.bite_electrode) faults.bite_electrode = f.electrode;
  if (response && !response.electrode && is.bite_electrode && response.bit !== 'yes')
    faults.bite_electrode = f.electrodeToo;
  if (is.watched_s && !/^\d+(\.\d+)?$/.test(is.watched_s)) faults.watched_s = f.number;
  const animal = deck.individuals.find((i) => i.id === is.individual);
  if (animal && is.species && animal.species && !faults.species && animal.species !== is.species)
    faults.species = f.species2(animal.id, animal.species);
  return faults;
}

/** toBegin are the planned trials that the rows name and that nobody has begun. */
export function toBegin(rows: readonly PaperRow[], deck: Deck): string[] {
  const unrun = new Set(deck.trials.filter((t) => Object.keys(t.fields).length === 0).map((t) => t.trial));
  const named = rows.filter((r) => !isBlank(r.cells)).map((r) => r.cells.trial);
  return [...new Set(named)].filter((t) => unrun.has(t));
}

/** newAnimals are individuals that the study does not know yet, with the species of their first row. */
export function newAnimals(rows: readonly PaperRow[], deck: Deck): { id: string; species: string }[] {
  const known = new Set(deck.individuals.map((i) => i.id));
  const found: Record<string, string> = Object.create(null);
  for (const { cells } of rows)
    if (cells.individual && !known.has(cells.individual)) found[cells.individual] ??= cells.species;
  return Object.entries(found).map(([id, species]) => ({ id, species }));
}

export function trialFaults(t: PaperTrial): Partial<Record<keyof PaperTrial, string>> {
  const faults: Partial<Record<keyof PaperTrial, string>> = {};
  const [start, end] = [clockOf(t.start), clockOf(t.end)];
  if (!start) faults.start = f.trialTime;
  if (!end) faults.end = f.trialTime;
  if (start && end && end <= start) faults.end = f.trialEnd;
  for (const c of ['temperature_C', 'salinity'] as const)
    if (t[c].trim() && !/^-?\d+([.,]\d+)?$/.test(t[c].trim())) faults[c] = f.trialNumber;
  return faults;
}

export interface Sending {
  date: string;
  scorer: string;
  rows: readonly PaperRow[];
  trials: Record<string, PaperTrial>;
  /** Number of the first pass. */
  first: number;
}

export const paperName = (n: number): string => `paper-${String(n).padStart(4, '0')}`;

/** withoutBlanks drops what was left blank. */
const withoutBlanks = (fields: Record<string, string>): Record<string, string> =>
  Object.fromEntries(Object.entries(fields).filter(([, v]) => v !== ''));

/** addsOf is one edit of a whole sheet: trials first, then animals, then passes. */
export function addsOf(s: Sending, deck: Deck): { add: NewRow[]; changes: CellChange[] } {
  const at = (time: string) => `${s.date}T${clockOf(time) ?? time}`;
  const begun = toBegin(s.rows, deck).map((id): NewRow => {
    const t = s.trials[id] ?? blankTrial;
    const fields = withoutBlanks({
      start: at(t.start),
      end: at(t.end),
      temperature_C: t.temperature_C.trim().replace(',', '.'),
      salinity: t.salinity.trim().replace(',', '.'),
      observers: s.scorer.trim(),
      note: t.note.trim(),
    });
    return { kind: 'trial', id, fields };
  });
  const animals = newAnimals(s.rows, deck).map(({ id, species }): NewRow => ({
    kind: 'individual',
    id,
    fields: withoutBlanks({ species }),
  }));
  const passes = s.rows
    .filter((r) => !isBlank(r.cells))
    .map(({ cells }, i): NewRow => {
      const response = responseNamed(cells.response, deck);
      const fields = withoutBlanks({
        trial: cells.trial,
        time: at(cells.time),
        individual: cells.individual,
        species: cells.species,
        pair: cells.pair,
        turned: response?.turned ?? '',
        bit: response?.bit ?? '',
        response: response?.word ?? '',
        bite_electrode: cells.bite_electrode,
        height_class: cells.height_class,
        watched_s: cells.watched_s,
        scorer: s.scorer.trim(),
        note: cells.note,
      });
      return { kind: 'pass', id: paperName(s.first + i), fields };
    });
  return { add: [...begun, ...animals, ...passes], changes: [] };
}

/** columnOf is the cell at which a refused field of a pass stands. */
export const columnOf = (field: string): PaperColumn | undefined =>
  field === 'turned' || field === 'bit' ? 'response' : paperColumns.find((c) => c === field);

export interface Difference {
  row: number;
  column: PaperColumn;
  first: string;
  second: string;
}

/** compared lists where two typings of one sheet differ, row by row; rows without a pass are left out of both. */
export function compared(first: readonly PaperRow[], second: readonly PaperRow[]): Difference[] {
  const [a, b] = [first, second].map((rows) => rows.filter((r) => !isBlank(r.cells)));
  const found: Difference[] = [];
  for (let i = 0; i < Math.max(a!.length, b!.length); i++)
    for (const column of paperColumns) {
      const [x, y] = [a![i]?.cells[column] ?? '', b![i]?.cells[column] ?? ''];
      if (x !== y) found.push({ row: i, column, first: x, second: y });
    }
  return found;
}

/** firstFree is the smallest number above all that were ever used: names are given out in a row. */
export async function firstFree(used: (name: string) => Promise<boolean>): Promise<number> {
  if (!(await used(paperName(1)))) return 1;
  let [low, high] = [1, 2];
  while (high < 1e6 && (await used(paperName(high)))) [low, high] = [high, high * 2];
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (await used(paperName(middle))) low = middle;
    else high = middle;
  }
  return high;
}

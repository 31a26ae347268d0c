// Which passes are shown.
import type { ExposureRow } from '$lib/api/types';

export const filterKeys = ['species', 'individual', 'pair', 'trial', 'role', 'responded'] as const;
export type FilterKey = (typeof filterKeys)[number];

/** An absent key lets everything through. */
export type Filter = Partial<Record<FilterKey, string | undefined>>;

/** What stands for a missing individual or role; no name in a season is a single dash. */
export const missing = '-';

const valueOf: Record<FilterKey, (row: ExposureRow) => string> = {
  species: (r) => r.species,
  individual: (r) => r.individual || missing,
  pair: (r) => r.pair,
  trial: (r) => r.trial,
  role: (r) => r.role ?? missing,
  responded: (r) => (r.responded ? 'yes' : 'no'),
};

export function filterRows(rows: readonly ExposureRow[], filter: Filter): readonly ExposureRow[] {
  const wanted = filterKeys.filter((k) => filter[k] !== undefined);
  if (wanted.length === 0) return rows;
  return rows.filter((row) => wanted.every((k) => valueOf[k](row) === filter[k]));
}

/** optionsOf lists the values of one filter that occur, those of the missing last. */
export function optionsOf(rows: readonly ExposureRow[], key: FilterKey): string[] {
  const found = [...new Set(rows.map(valueOf[key]))];
  const last = (v: string) => (v === missing ? 1 : 0);
  return found.sort((a, b) => last(a) - last(b) || a.localeCompare(b, 'en', { numeric: true }));
}

/** readFilter takes a filter from an address, ignoring what it does not know. */
export function readFilter(search: string): Filter {
  const query = new URLSearchParams(search);
  const filter: Filter = {};
  for (const key of filterKeys) {
    const value = query.get(key);
    if (value) filter[key] = value;
  }
  return filter;
}

/** readPass takes the chosen pass from an address. */
export const readPass = (search: string): string => new URLSearchParams(search).get('pass') ?? '';

/** writeSearch is the address's query for a filter and the pass that is shown. */
export function writeSearch(filter: Filter, pass: string): string {
  const query = new URLSearchParams();
  for (const key of filterKeys) {
    const value = filter[key];
    if (value) query.set(key, value);
  }
  if (pass) query.set('pass', pass);
  const text = query.toString();
  return text ? `?${text}` : '';
}

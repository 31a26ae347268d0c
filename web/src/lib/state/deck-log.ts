// What came in from the deck, put in order for the page. Times stay as they
// were recorded: the clock of the site.
import type { DeckCheck, DeckPass, DeckPermit, DeckReading } from '$lib/api/types';

/** ofTablet tells a tablet from a laptop, this one or one that the study was on before, by the name under which it writes. */
export const ofTablet = (device: string): boolean => device.startsWith('deck-');

/** dayOf is the date of a recorded time, "" where it has none. */
export const dayOf = (time: string): string => /^\d{4}-\d\d-\d\d(?=[T ])/.exec(time)?.[0] ?? '';

/** minutesOf is the time of the day in minutes, undefined where there is none. */
export function minutesOf(time: string): number | undefined {
  const m = /^\d{4}-\d\d-\d\d[T ](\d\d):?(\d\d)(?::?(\d\d(?:[.,]\d+)?))?/.exec(time);
  if (!m) return undefined;
  const minutes = Number(m[1]) * 60 + Number(m[2]) + Number((m[3] ?? '0').replace(',', '.')) / 60;
  return Number.isFinite(minutes) && minutes <= 1440 ? minutes : undefined;
}

/** timeOfDay is the time without its date. */
export const timeOfDay = (time: string): string => /[T ](\d\d:\d\d(?::\d\d)?)/.exec(time)?.[1] ?? time;

/** daysOf are the days on which passes were logged, newest first. */
export const daysOf = (passes: readonly DeckPass[]): string[] =>
  [...new Set(passes.map((p) => dayOf(p.fields.time ?? '')))].filter(Boolean).sort().reverse();

export interface TrialRow {
  trial: string;
  first: string;
  last: string;
  /** Passes by device, in the order of devices. */
  counts: number[];
  all: number;
}

/** devicesOf are the devices of these passes, by name. */
export const devicesOf = (passes: readonly DeckPass[]): string[] => [...new Set(passes.map((p) => p.device))].sort();

/** trialRows counts passes by trial and device, in the order of their first pass. */
export function trialRows(passes: readonly DeckPass[], devices: readonly string[]): TrialRow[] {
  const rows: Record<string, TrialRow> = Object.create(null);
  const byTime = [...passes].sort((a, b) => (a.fields.time ?? '').localeCompare(b.fields.time ?? ''));
  for (const p of byTime) {
    const time = timeOfDay(p.fields.time ?? '');
    const trial = p.fields.trial ?? '';
    const row = (rows[trial] ??= { trial, first: time, last: time, counts: devices.map(() => 0), all: 0 });
    row.last = time;
    row.all++;
    const i = devices.indexOf(p.device);
    if (i >= 0) row.counts[i] = (row.counts[i] ?? 0) + 1;
  }
  return Object.values(rows);
}

export interface CheckedTrial {
  trial: string;
  checks: DeckCheck[];
  bad: DeckCheck[];
}

/** checkedTrials gathers what was found before each trial; of one thing looked at twice the later counts. */
export function checkedTrials(checks: readonly DeckCheck[]): CheckedTrial[] {
  const trials: Record<string, Record<string, DeckCheck>> = Object.create(null);
  for (const c of [...checks].reverse()) (trials[c.trial] ??= Object.create(null))[c.check] = c;
  return Object.entries(trials)
    .map(([trial, by]) => {
      const all = Object.values(by);
      return { trial, checks: all, bad: all.filter((c) => c.state !== 'ok') };
    })
    .sort((a, b) => b.trial.localeCompare(a.trial, 'en', { numeric: true }));
}

export interface ReadTrial {
  trial: string;
  before?: DeckReading;
  after?: DeckReading;
}

/** readTrials gathers the currents by trial; of several the newest counts (they come newest first). */
export function readTrials(readings: readonly DeckReading[]): ReadTrial[] {
  const trials: Record<string, ReadTrial> = Object.create(null);
  for (const r of readings) {
    const at = (trials[r.trial] ??= { trial: r.trial });
    at[r.when] ??= r;
  }
  return Object.values(trials).sort((a, b) => b.trial.localeCompare(a.trial, 'en', { numeric: true }));
}

export interface Tally {
  what: 'animals' | 'hours';
  counted: number;
  most: number | undefined;
  /** How much of the bar is full, 0 to 1; undefined without a limit. */
  share: number | undefined;
  over: boolean;
}

/** talliesOf are the bars of a permit: what is limited, and what was counted all the same. */
export function talliesOf(p: DeckPermit): Tally[] {
  const all: [Tally['what'], number, number | undefined][] = [
    ['animals', p.animals, p.animals_most],
    ['hours', p.hours, p.hours_most],
  ];
  return all
    .filter(([, counted, most]) => most !== undefined || counted > 0)
    .map(([what, counted, most]) => ({
      what,
      counted,
      most,
      share: most === undefined ? undefined : most > 0 ? Math.min(1, counted / most) : 1,
      over: most !== undefined && counted > most,
    }));
}

/** aboutOf takes "kind/ID" apart. */
export function aboutOf(about: string): { kind: string; id: string } {
  const at = about.indexOf('/');
  return at < 0 ? { kind: about, id: '' } : { kind: about.slice(0, at), id: about.slice(at + 1) };
}

/** apartAsWrittenS is how far apart the two times stand as they are written, in seconds; undefined where one does not name its offset from UTC. */
export function apartAsWrittenS(passes: readonly DeckPass[]): number | undefined {
  const [a = NaN, b = NaN] = passes.map((p) =>
    /T.*(Z|[+-]\d\d:\d\d)$/.test(p.fields.time ?? '') ? Date.parse(p.fields.time ?? '') : NaN,
  );
  const apart = Math.abs(a - b) / 1000;
  return Number.isFinite(apart) ? apart : undefined;
}

/** fieldsApart are the fields of passes that may be one: those that differ first, those that are blank in both left out. */
export function fieldsApart(
  passes: readonly DeckPass[],
  differ: readonly string[],
  order: readonly string[],
): { field: string; differs: boolean }[] {
  const names = new Set(passes.flatMap((p) => Object.keys(p.fields)));
  const place = (f: string) => (order.includes(f) ? order.indexOf(f) : order.length);
  return [...names]
    .filter((f) => passes.some((p) => p.fields[f]))
    .map((field) => ({ field, differs: differ.includes(field) }))
    .sort(
      (x, y) =>
        Number(y.differs) - Number(x.differs) || place(x.field) - place(y.field) || x.field.localeCompare(y.field),
    );
}

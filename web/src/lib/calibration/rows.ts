// The table of readings as it is typed: texts until they are read. Places are
// typed in cm, potentials in µV.
import type { CalibrationReading } from '$lib/api/calibration';
import { words } from '$lib/words';

export const columns = ['label', 'px', 'py', 'pz', 'mx', 'my', 'mz', 'uV', 'sd'] as const;
export type Column = (typeof columns)[number];
export type Cells = Record<Column, string>;

/** A row keeps its key while it lasts, whatever is typed. */
export interface Row extends Cells {
  key: number;
}

/** One cell that cannot be read: row from 1. */
export interface CellFault {
  row: number;
  column: Column;
  found: string;
  says: string;
}

export const mostReadings = 500;
/** cm: as far as the program takes a place. */
const farthestCm = 1e5;

/** As the program takes it. */
const longestLabel = 100;

export const noCells: Cells = { label: '', px: '', py: '', pz: '', mx: '', my: '', mz: '', uV: '', sd: '' };

/** Ten digits hide the noise of a change of unit. */
const tidy = (v: number): number => Number(v.toPrecision(10));

/** readNumber takes a point or a comma, and the minus of typeset tables; undefined: no number. */
export function readNumber(text: string): number | undefined {
  const plain = text.trim().replace(/[−–]/g, '-').replace(',', '.');
  if (!/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(plain)) return undefined;
  const v = Number(plain);
  return Number.isFinite(v) ? v : undefined;
}

/** isFar tells the words for a reference far away. */
export const isFar = (text: string): boolean => /^(far( away)?|remote|∞|inf(inity)?)$/i.test(text.trim());
const isNothing = (text: string): boolean => /^[-–−—.]?$/.test(text.trim());

export const isBlank = (row: Cells): boolean => columns.every((c) => row[c].trim() === '');

const places = { plus: ['px', 'py', 'pz'], minus: ['mx', 'my', 'mz'] } as const;

/** farMinus: nothing is written for the minus tip, or that it is far away. */
export const farMinus = (row: Cells): boolean => places.minus.every((c) => isNothing(row[c]) || isFar(row[c]));

/** One row as a reading, or what is wrong with it. Row numbers count from 1. */
export function readRow(
  row: Cells,
  number: number,
  inTank = false,
): { reading?: CalibrationReading; faults: CellFault[] } {
  const w = words.calibration.cells;
  const faults: CellFault[] = [];
  const fault = (column: Column, says: string) =>
    void faults.push({ row: number, column, found: row[column].trim(), says });
  const place = (at: readonly Column[]): number[] =>
    at.map((column) => {
      const v = readNumber(row[column]);
      if (v === undefined) fault(column, row[column].trim() ? w.notNumber : w.missing);
      else if (Math.abs(v) > farthestCm) fault(column, w.tooFar);
      return tidy((v ?? 0) / 100);
    });
  const plus_m = place(places.plus);
  const far = farMinus(row);
  if (far && inTank) fault('mx', w.noFar);
  const minus_m = far ? null : place(places.minus);
  if (minus_m && faults.length === 0 && minus_m.every((v, i) => v === plus_m[i])) fault('mx', w.samePlace);
  if ([...row.label.trim()].length > longestLabel) fault('label', w.longLabel(longestLabel));
  const measured = (column: 'uV' | 'sd'): number | null => {
    if (isNothing(row[column])) return null;
    const v = readNumber(row[column]);
    if (v === undefined) fault(column, w.notReading);
    return v ?? null;
  };
  const uV = measured('uV');
  const sd_uV = measured('sd');
  if (sd_uV !== null && !(sd_uV > 0)) fault('sd', w.sdAbove0);
  const label = row.label.trim();
  // A place that can be read is foretold, whatever is wrong with its reading.
  if (faults.some((f) => f.column[0] === 'p' || f.column[0] === 'm')) return { faults };
  const kept = faults.length > 0 ? { uV: null, sd_uV: null } : { uV, sd_uV };
  return { reading: { ...(label ? { label } : {}), plus_m, minus_m, ...kept }, faults };
}

export interface ReadTable {
  readings: CalibrationReading[];
  /** Of each reading, which row it came from: index from 0. */
  rowOf: number[];
  faults: CellFault[];
}

/** readRows leaves out blank rows. */
export function readRows(rows: readonly Cells[], inTank = false): ReadTable {
  const table: ReadTable = { readings: [], rowOf: [], faults: [] };
  rows.forEach((row, i) => {
    if (isBlank(row)) return;
    const { reading, faults } = readRow(row, i + 1, inTank);
    table.faults.push(...faults);
    if (!reading) return;
    table.readings.push(reading);
    table.rowOf.push(i);
  });
  // A standard deviation stands with all measured readings or with none.
  const measured = table.readings.map((r, i) => ({ r, i })).filter(({ r }) => r.uV != null);
  const stated = measured.filter(({ r }) => r.sd_uV != null);
  if (stated.length > 0 && stated.length < measured.length) {
    for (const { r, i } of measured) {
      if (r.sd_uV != null) continue;
      table.faults.push({ row: table.rowOf[i]! + 1, column: 'sd', found: '', says: words.calibration.cells.sdAll });
      table.readings[i] = { ...r, uV: null };
    }
  }
  table.faults.sort((a, b) => a.row - b.row || columns.indexOf(a.column) - columns.indexOf(b.column));
  return table;
}

/** correlationText has two decimals: more mean nothing. */
export const correlationText = (r: number): string => (r + 0).toFixed(2).replace('-', '−').replace('−0.00', '0.00');

const cmText = (m: number): string => String(tidy(m * 100));
const numberText = (v: number | null | undefined): string => (v == null ? '' : String(v));

/** cellsOf writes a reading as it would be typed. */
export function cellsOf(r: CalibrationReading): Cells {
  const [px = '', py = '', pz = ''] = r.plus_m.map(cmText);
  const [mx = '', my = '', mz = ''] = (r.minus_m ?? []).map(cmText);
  return { label: r.label ?? '', px, py, pz, mx, my, mz, uV: numberText(r.uV), sd: numberText(r.sd_uV) };
}

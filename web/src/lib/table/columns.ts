// The columns of the table of passes: what they say, how they sort.
import type { ExposureRow } from '$lib/api/types';
import type { Cell } from '$lib/draw/picture';
import { words } from '$lib/words';
import { clock, sig } from '$lib/words/numbers';

export type ColumnKey = keyof typeof words.exposures.table.columns;

export interface Column {
  key: ColumnKey;
  title: string;
  unit: string;
  numeric: boolean;
  /** Width in rem. */
  width: number;
  text: (row: ExposureRow) => string;
  /** null sorts last in both directions. */
  sort: (row: ExposureRow) => number | string | null;
  italic?: boolean;
}

const w = words.exposures.table;
const units = words.units;

export function response(row: ExposureRow): string {
  if (row.turned === 'yes') {
    const text = row.bit === 'yes' ? w.turnedBit : w.turned;
    return row.falling_field ? `${text}${w.falling}` : text;
  }
  if (row.bit === 'yes') return w.bit;
  return row.turned === 'no' ? w.neither : w.notScored;
}

export function used(row: ExposureRow): string {
  if (row.used === null) return w.sealed;
  if (row.used) return w.used;
  return row.not_used_because ? `${w.notUsed}: ${row.not_used_because}` : w.notUsed;
}

/** phantom is written like the field: between two bounds, or a single one. */
function between(low: number | null, high: number | null): string {
  if (low === null && high === null) return w.nothing;
  if (high === null) return sig(low ?? 0);
  return words.findings.to(sig(low ?? 0), sig(high));
}

const number = (v: number | null): string => (v === null ? w.nothing : sig(v));
const said = (key: ColumnKey, width: number, text: (r: ExposureRow) => string, more: Partial<Column> = {}): Column => ({
  key,
  title: w.columns[key],
  unit: '',
  numeric: false,
  width,
  text,
  sort: (r) => text(r) || null,
  ...more,
});
const figure = (
  key: ColumnKey,
  width: number,
  unit: string,
  value: (r: ExposureRow) => number | null,
  more: Partial<Column> = {},
): Column => ({
  key,
  title: w.columns[key],
  unit,
  numeric: true,
  width,
  text: (r) => number(value(r)),
  sort: value,
  ...more,
});

export const columns: readonly Column[] = [
  said('pass', 6, (r) => r.pass),
  said('trial', 5, (r) => r.trial),
  said('time', 11.5, (r) => clock(r.time), { sort: (r) => Date.parse(r.time) }),
  said('individual', 6.5, (r) => r.individual || w.nothing, { sort: (r) => r.individual || null }),
  said('species', 12.5, (r) => r.species, { italic: true }),
  said('pair', 4, (r) => r.pair),
  said('role', 5, (r) => (r.role === null ? w.nothing : (words.roles[r.role] ?? r.role)), { sort: (r) => r.role }),
  said('response', 9, response),
  figure('low', 6.5, units.field, (r) => r.field_low_nV_per_cm),
  figure('high', 6.5, units.field, (r) => r.field_high_nV_per_cm),
  figure('phantom', 8.5, units.field, (r) => r.phantom_low_nV_per_cm, {
    text: (r) => between(r.phantom_low_nV_per_cm, r.phantom_high_nV_per_cm),
  }),
  figure('textbook', 6.5, units.field, (r) => r.textbook_nV_per_cm),
  figure('computed', 6.5, units.field, (r) => r.position_nV_per_cm),
  figure('distance', 6, units.cm, (r) => r.distance_cm),
  figure('angle', 5, units.deg, (r) => r.angle_deg),
  figure('height', 5, units.cm, (r) => r.height_cm),
  said('used', 22, used),
];

/** The columns of the CSV file: everything the program said of a pass, with its units. */
const fileColumns = [
  'pass',
  'trial',
  'time',
  'individual',
  'species',
  'pair',
  'role',
  'turned',
  'bit',
  'visit',
  'scorer',
  'current_uA',
  'field_low_nV_per_cm',
  'field_high_nV_per_cm',
  'falling_field',
  'phantom_low_nV_per_cm',
  'phantom_high_nV_per_cm',
  'textbook_nV_per_cm',
  'position_nV_per_cm',
  'distance_cm',
  'horizontal_cm',
  'angle_deg',
  'height_cm',
  'head_x_cm',
  'head_y_cm',
  'watched_s',
  'used',
  'not_used_because',
  'pair_from_track',
] as const satisfies readonly (keyof ExposureRow)[];

/** The components of the field at the head: along the axis of the pair, across it, up. */
export const componentColumns = [
  'position_along_nV_per_cm',
  'position_across_nV_per_cm',
  'position_up_nV_per_cm',
] as const;
export const componentsOf = (r: ExposureRow): Cell[] =>
  componentColumns.map((_, k) => r.position_components_nV_per_cm?.[k]);

export function tableData(rows: readonly ExposureRow[]): { columns: string[]; rows: Cell[][] } {
  return {
    columns: [...fileColumns, ...componentColumns, 'after_opening'],
    // The program leaves the mark out where nothing was scored or changed after the opening.
    rows: rows.map((r) => [...fileColumns.map((c) => r[c]), ...componentsOf(r), r.after_opening ?? false]),
  };
}

// A table of readings as it comes from a spreadsheet: tabs, semicolons or
// commas between the cells, with or without a row of headers. Numbers are only
// brought to cm and µV here; the table itself says which cannot be read.
import { words } from '$lib/words';
import { columns, isFar, mostReadings, noCells, readNumber, type Cells, type Column } from './rows';

export interface Pasted {
  rows: Cells[];
  /** Headers of columns that were left out. */
  unused: string[];
  /** Why nothing was taken; empty when the rows can be had. */
  faults: string[];
}

/** splitCells parts a text into cells, quotes as in RFC 4180. */
export function splitCells(text: string): { cells: string[][]; separator: string } {
  const clean = text.replace(/^\uFEFF/, '').replace(/\r\n?/g, '\n');
  const separator = clean.includes('\t') ? '\t' : clean.includes(';') ? ';' : ',';
  const cells: string[][] = [];
  let row: string[] = [];
  let cell = '';
  let quoted = false;
  const endRow = () => {
    row.push(cell);
    cells.push(row.map((c) => c.trim()));
    row = [];
    cell = '';
  };
  for (let i = 0; i < clean.length; i++) {
    const c = clean[i]!;
    if (quoted) {
      if (c !== '"') cell += c;
      else if (clean[i + 1] === '"') cell += clean[++i]!;
      else quoted = false;
    } else if (c === '"' && cell.trim() === '') {
      quoted = true;
      cell = '';
    } else if (c === separator) {
      row.push(cell);
      cell = '';
    } else if (c === '\n') endRow();
    else cell += c;
  }
  if (cell !== '' || row.length > 0) endRow();
  return { cells: cells.filter((r) => r.some((c) => c !== '')), separator };
}

interface Meant {
  column: Column;
  /** cm or µV for one of what the column is in. */
  factor: number;
}

const lengths: Record<string, number> = { mm: 0.1, cm: 1, m: 100 };
const potentials: Record<string, number> = { nv: 1e-3, uv: 1, mv: 1e3, v: 1e6 };

/** columnOf reads a header: "plus x, cm", "minus_y_m", "reading in mV", "sd". */
export function columnOf(header: string): Meant | undefined {
  const parts = header
    .normalize('NFKC')
    .toLowerCase()
    .replace(/[µμ]v/g, 'uv')
    .replace(/\+/g, ' plus ')
    .replace(/[−–]/g, '-')
    .replace(/(^|[^a-z0-9])-|-(?=$)/g, ' minus ')
    .replace(/([xyz])-(?![a-z0-9])/g, '$1 minus ')
    .replace(/\bp([xyz])\b|\b([xyz])1\b/g, (_, p?: string, one?: string) => `plus ${p ?? one ?? ''}`)
    .replace(/\bm([xyz])\b|\b([xyz])2\b/g, (_, m?: string, two?: string) => `minus ${m ?? two ?? ''}`)
    .split(/[^a-z0-9]+/)
    .filter(Boolean);
  const has = (...names: string[]) => names.some((n) => parts.includes(n));
  const axis = (['x', 'y', 'z'] as const).find((a) => has(a));
  const side = has('plus', 'pos', 'positive') ? 'p' : has('minus', 'neg', 'negative') ? 'm' : undefined;
  const unit = (units: Record<string, number>) =>
    Object.entries(units).find(([name]) => parts.includes(name))?.[1] ?? 1;
  if (has('foretold', 'designed', 'fitted', 'residual', 'textbook', 'influence', 'leverage')) return undefined;
  if (axis) return { column: `${side ?? 'p'}${axis}`, factor: unit(lengths) };
  if (has('sd', 'stdev', 'se', 'sigma', 'deviation', 'error')) return { column: 'sd', factor: unit(potentials) };
  if (has('reading', 'measured', 'potential', 'voltage', 'uv', 'mv', 'nv', 'v', 'value'))
    return { column: 'uV', factor: unit(potentials) };
  if (has('label', 'name', 'place', 'point', 'id', 'no', 'number', 'station')) return { column: 'label', factor: 1 };
  return undefined;
}

/** Without headers the order counts: all nine, without the label, or without the minus tip. */
function byOrder(width: number, firstIsNumber: boolean): Column[] | undefined {
  const far: Column[] = ['px', 'py', 'pz', 'uV', 'sd'];
  if (width === 9) return [...columns];
  if (width === 8) return firstIsNumber ? columns.slice(1) : columns.slice(0, 8);
  if (width === 7) return firstIsNumber ? columns.slice(1, 8) : columns.slice(0, 7);
  if (width === 6) return firstIsNumber ? columns.slice(1, 7) : ['label', ...far];
  if (width === 5) return firstIsNumber ? far : ['label', ...far.slice(0, 4)];
  if (width === 4) return firstIsNumber ? far.slice(0, 4) : ['label', ...far.slice(0, 3)];
  if (width === 3 && firstIsNumber) return far.slice(0, 3);
  return undefined;
}

/** readPasted makes rows of a text; what stands in a cell is kept as it is where it is no number. */
export function readPasted(text: string): Pasted {
  const w = words.calibration.paste;
  const refused = (...faults: string[]): Pasted => ({ rows: [], unused: [], faults });
  const { cells, separator } = splitCells(text);
  if (cells.length === 0) return refused(w.empty);
  const numbers = (row: readonly string[]) => row.filter((c) => readNumber(c) !== undefined).length;
  const headed = numbers(cells[0]!) === 0;
  const body = (headed ? cells.slice(1) : cells).map((row) => wholeFar(row));
  if (body.length === 0) return refused(w.onlyHeader);
  if (body.length > mostReadings) return refused(w.tooMany(body.length, mostReadings));
  let meant: (Meant | undefined)[];
  const unused: string[] = [];
  const first = headed ? 2 : 1;
  if (headed) {
    meant = cells[0]!.map(columnOf);
    cells[0]!.forEach((h, i) => {
      const twice = meant.findIndex((m, j) => j < i && m !== undefined && m.column === meant[i]?.column);
      if (twice >= 0) meant[i] = undefined;
      if (!meant[i] && h) unused.push(h);
    });
    const missing = (['px', 'py', 'pz'] as const).filter((c) => !meant.some((m) => m?.column === c));
    if (missing.length > 0) return refused(w.noColumn(missing.map((c) => words.calibration.columns[c])));
  } else {
    const width = Math.max(...body.map((r) => r.length));
    // A label may be a number itself: with all nine columns the first is the label.
    const order = byOrder(
      width,
      body.every((r) => readNumber(r[0]!) !== undefined),
    );
    if (!order) return refused(w.width(width));
    meant = order.map((column) => ({ column, factor: 1 }));
  }
  const faults: string[] = [];
  const rows = body.map((row, i) => {
    if (row.slice(meant.length).some((c) => c !== '')) faults.push(w.tooWide(i + first, row.length, meant.length));
    const out = { ...noCells };
    meant.forEach((m, j) => {
      if (m) out[m.column] = toUnit(row[j] ?? '', m, separator);
    });
    return out;
  });
  return faults.length > 0 ? refused(...faults) : { rows, unused, faults };
}

/** wholeFar lets one cell that says "far" stand for the three of the minus tip. */
function wholeFar(row: string[]): string[] {
  // Before the fourth cell the word can only be a label.
  const at = row.findIndex((c, i) => i >= 3 && isFar(c));
  if (at < 0) return row;
  const [second, third] = [row[at + 1] ?? '', row[at + 2] ?? ''];
  const spare = (c: string) => c === '' || isFar(c) || /^[-–−—]$/.test(c);
  // Three cells of its own already, as a spreadsheet with all columns has them.
  if (row.length >= at + 4 && spare(second) && spare(third)) return row;
  return [...row.slice(0, at), 'far', '', '', ...row.slice(at + 1)];
}

function toUnit(cell: string, { column, factor }: Meant, separator: string): string {
  if (column === 'label') return cell;
  // Between commas a comma parts cells; one within quotes is no decimal sign.
  if (separator === ',' && cell.includes(',')) return cell;
  const v = readNumber(cell);
  return v === undefined ? cell : String(Number((v * factor).toPrecision(12)));
}

/** A block pasted into cells fills them from the one that has the cursor; rows are added as needed. */
export function fillBlock(rows: readonly Cells[], text: string, row: number, column: Column): Cells[] {
  const { cells, separator } = splitCells(text);
  const from = columns.indexOf(column);
  const out = rows.map((r) => ({ ...r }));
  cells.slice(0, mostReadings).forEach((line, i) => {
    const target = (out[row + i] ??= { ...noCells });
    line.forEach((cell, j) => {
      const c = columns[from + j];
      if (c) target[c] = toUnit(cell, { column: c, factor: 1 }, separator);
    });
  });
  return out;
}

/** isTable tells a whole table from a block of cells: it has headers or all places of a tip. */
export function isTable(text: string): boolean {
  const { cells } = splitCells(text);
  const [head] = cells;
  if (!head) return false;
  if (head.some((c) => columnOf(c) !== undefined && readNumber(c) === undefined && !isFar(c)) && head.length > 3)
    return head.every((c) => readNumber(c) === undefined);
  return cells.every((r) => r.length >= 8);
}

// The field over a grid of points as a file of the simple legacy formats of
// VTK, dataset STRUCTURED_POINTS (docs.vtk.org, "Simple Legacy Formats": five
// parts, each on lines of its own; x varies fastest, then y, then z; binary
// numbers with the highest byte first). Lengths in metres, season frame, field
// in nV/cm, not a number where there is no water.
import type { Grid } from '$lib/draw/iso-surface';

/** The header line of the format holds at most so many characters, its end included. */
const titleMost = 256;

/** Numbers a line of a text file: short enough to be read. */
const perLine = 9;

/** heading is everything before the numbers. The grid is even: its steps are those from its first to its last point. */
function heading(grid: Grid, title: string, encoding: 'ASCII' | 'BINARY'): string {
  const axes = [grid.x_m, grid.y_m, grid.z_m];
  const counts = axes.map((a) => a.length);
  const steps = axes.map((a) => (a.length > 1 ? (a.at(-1)! - a[0]!) / (a.length - 1) : 1));
  const plain = title.replace(/\s+/g, ' ').replace(/[^\x20-\x7e]/g, '?');
  return [
    '# vtk DataFile Version 3.0',
    plain.slice(0, titleMost - 1),
    encoding,
    'DATASET STRUCTURED_POINTS',
    `DIMENSIONS ${counts.join(' ')}`,
    `ORIGIN ${axes.map((a) => tidy(a[0]!)).join(' ')}`,
    `SPACING ${steps.map(tidy).join(' ')}`,
    `POINT_DATA ${counts.reduce((a, b) => a * b, 1)}`,
    'SCALARS field_nV_per_cm float 1',
    'LOOKUP_TABLE default',
    '',
  ].join('\n');
}

/** tidy drops the last digits, in which sums of steps differ from what is meant. */
const tidy = (v: number): string => String(Number(v.toPrecision(12)));

const known = (v: number | null | undefined): v is number => v !== null && v !== undefined && Number.isFinite(v);

/** vtkText writes the numbers as text, "nan" where there is none. Some readers of the format stop at that word. */
export function vtkText(grid: Grid, title: string): string {
  const lines: string[] = [];
  for (let i = 0; i < grid.values.length; i += perLine) {
    const part = grid.values.slice(i, i + perLine);
    lines.push(part.map((v) => (known(v) ? String(v) : 'nan')).join(' '));
  }
  return `${heading(grid, title, 'ASCII')}${lines.join('\n')}\n`;
}

/** vtkBinary writes the numbers as floats of four bytes, which every reader of the format takes, missing ones too. */
export function vtkBinary(grid: Grid, title: string): Uint8Array<ArrayBuffer> {
  const head = new TextEncoder().encode(heading(grid, title, 'BINARY'));
  const bytes = new Uint8Array(head.length + grid.values.length * 4 + 1);
  bytes.set(head);
  const view = new DataView(bytes.buffer);
  grid.values.forEach((v, i) => view.setFloat32(head.length + i * 4, known(v) ? v : NaN, false));
  bytes[bytes.length - 1] = 10;
  return bytes;
}

// Against the published description of the format (docs.vtk.org, "Simple
// Legacy Formats"; its example volume has the same lines in the same order):
// read back by a reader written from that description alone.
import { describe, expect, test } from 'vitest';
import { vtkBinary, vtkText } from '$lib/export/vtk';

const grid = {
  x_m: [-0.1, 0, 0.1],
  y_m: [0.2, 0.25],
  z_m: [0, 0.5],
  // 100 x + 10 y + z by index, so that a wrong order shows.
  values: [0, 100, 200, 10, 110, null, 1, 101.25, 201, 11, 111, 211],
};

const expectedLines = [
  '# vtk DataFile Version 3.0',
  'Field, nV/cm',
  'ASCII',
  'DATASET STRUCTURED_POINTS',
  'DIMENSIONS 3 2 2',
  'ORIGIN -0.1 0.2 0',
  'SPACING 0.1 0.05 0.5',
  'POINT_DATA 12',
  'SCALARS field_nV_per_cm float 1',
  'LOOKUP_TABLE default',
];

describe('as text', () => {
  const lines = vtkText(grid, 'Field, nV/cm').split('\n');
  test('the five parts in their order', () => expect(lines.slice(0, 10)).toEqual(expectedLines));
  test('the numbers, x fastest, nan where there is none', () => {
    const words = lines.slice(10).join(' ').trim().split(/\s+/);
    expect(words).toEqual(grid.values.map((v) => (v === null ? 'nan' : String(v))));
    // Read back: index of (i, j, k) is i + 3j + 6k.
    expect(Number(words[2 + 3 * 0 + 6 * 1])).toBe(201);
    expect(Number(words[0 + 3 * 1 + 6 * 0])).toBe(10);
  });
  test('ends with a new line', () => expect(lines.at(-1)).toBe(''));
});

describe('as bytes', () => {
  const bytes = vtkBinary(grid, 'Field, nV/cm');
  const head = expectedLines.join('\n').replace('ASCII', 'BINARY') + '\n';
  test('the same heading', () => expect(new TextDecoder().decode(bytes.subarray(0, head.length))).toBe(head));
  test('floats of four bytes, the highest byte first', () => {
    const view = new DataView(bytes.buffer, head.length);
    expect(bytes).toHaveLength(head.length + 12 * 4 + 1);
    expect([0x42, 0xca, 0x80, 0x00]).toEqual([...bytes.subarray(head.length + 28, head.length + 32)]); // 101.25 in IEEE 754
    grid.values.forEach((v, i) => expect(view.getFloat32(4 * i, false)).toEqual(v ?? NaN));
  });
});

test('a title cannot break the heading', () => {
  const lines = vtkText(grid, `two\nlines, ${'long '.repeat(80)}µA`).split('\n');
  expect(lines[1]!.length).toBeLessThan(256);
  expect(lines[2]).toBe('ASCII');
  expect(vtkText(grid, 'µA').split('\n')[1]).toBe('?A');
});

test('a single layer keeps a step above 0, as the format asks', () => {
  const flat = { ...grid, z_m: [0.3], values: grid.values.slice(0, 6) };
  expect(vtkText(flat, 't')).toContain('\nSPACING 0.1 0.05 1\n');
});

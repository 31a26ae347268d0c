// Turns at active and control pairs: one row a species, two marks on it.
import type { Preference } from '$lib/api/types';
import { words } from '$lib/words';
import { percent, whole } from '$lib/words/numbers';
import { xAxis, type Frame } from './axes';
import { line, path, shapeAt, text, type Figure, type Mark } from './picture';
import { linearScale } from './scale';

const w = words.figures.shares;
const rowHeight = 44;

export function sharesFigure(rows: readonly Preference[], width: number): Figure {
  const frame: Frame = { left: 200, right: width - 56, top: 44, bottom: 50 + rows.length * rowHeight };
  const x = linearScale([0, 1], [frame.left, frame.right]);
  const marks: Mark[] = [...xAxis(frame, x, { write: percent, label: w.axis }), ...legend(frame)];
  rows.forEach((row, i) => {
    const y = frame.top + 6 + (i + 0.5) * rowHeight;
    const all = row.species === 'all';
    marks.push(text(0, y + 5, all ? words.findings.preference.all : row.species, { italic: !all, bold: all }));
    const active = share(row.turns_active, row.passes_active);
    const control = share(row.turns_control, row.passes_control);
    if (active !== null && control !== null) {
      marks.push(line(x.at(control), y, x.at(active), y, { stroke: 'edge', width: 2 }));
    }
    if (control !== null) {
      const at = x.at(control);
      marks.push(
        path(shapeAt('circle', at, y, 6.5), { fill: 'paper', stroke: 'ink', width: 2.5 }),
        text(at, y - 12, `${whole(row.turns_control)}/${whole(row.passes_control)}`, {
          anchor: 'middle',
          fill: 'soft',
          halo: true,
        }),
      );
    }
    if (active !== null) {
      const at = x.at(active);
      marks.push(
        path(shapeAt('circle', at, y, 7), { fill: 'accent', stroke: 'paper', width: 1 }),
        text(at, y - 12, `${whole(row.turns_active)}/${whole(row.passes_active)}`, {
          anchor: 'middle',
          fill: 'accent',
          bold: true,
          halo: true,
        }),
      );
    }
  });
  return {
    name: w.name,
    picture: { width, height: frame.bottom + 52, title: w.title, description: w.description, marks },
    columns: [
      'species',
      'passes_active',
      'turns_active',
      'bites_active',
      'passes_control',
      'turns_control',
      'bites_control',
    ],
    rows: rows.map((r) => [
      r.species,
      r.passes_active,
      r.turns_active,
      r.bites_active,
      r.passes_control,
      r.turns_control,
      r.bites_control,
    ]),
  };
}

const share = (n: number, of: number): number | null => (of > 0 ? n / of : null);

function legend(frame: Frame): Mark[] {
  const y = 14;
  return [
    path(shapeAt('circle', frame.left + 6, y, 6.5), { fill: 'paper', stroke: 'ink', width: 2.5 }),
    text(frame.left + 20, y + 5, w.control),
    path(shapeAt('circle', frame.left + 140, y, 7), { fill: 'accent' }),
    text(frame.left + 154, y + 5, w.active),
  ];
}

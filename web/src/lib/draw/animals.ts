// One row an animal: the smallest field by which it had turned and the largest
// that it met without turning.
import type { Individual } from '$lib/api/types';
import { words } from '$lib/words';
import { tickText } from '$lib/words/numbers';
import { xAxis, type Frame } from './axes';
import { line, path, shapeAt, speciesStyle, text, type Figure, type Mark } from './picture';
import { logDomain, logScale } from './scale';

const w = words.figures;
const rowHeight = 22;
const headHeight = 36;

/** byLowest puts the animals that turned in the smallest field first, those that never turned last. */
export function byLowest(a: Individual, b: Individual): number {
  const at = (v: number | null) => v ?? Infinity;
  const difference = at(a.lowest_turn_nV_per_cm) - at(b.lowest_turn_nV_per_cm);
  if (difference < 0 || difference > 0) return difference;
  return at(a.highest_no_turn_nV_per_cm) - at(b.highest_no_turn_nV_per_cm) || (a.individual < b.individual ? -1 : 1);
}

export function animalsFigure(animals: readonly Individual[], species: readonly string[], width: number): Figure {
  const left = 92;
  const domain = logDomain(animals.flatMap((a) => [a.lowest_turn_nV_per_cm, a.highest_no_turn_nV_per_cm]));
  const x = logScale(domain, [left, width - 24]);
  const marks: Mark[] = [];
  let top = 46;
  const groups = species.map((name) => ({ name, rows: animals.filter((a) => a.species === name).sort(byLowest) }));
  for (const group of groups.filter((g) => g.rows.length > 0)) {
    const { paint, shape } = speciesStyle(species.indexOf(group.name));
    const frame: Frame = {
      left,
      right: width - 24,
      top: top + headHeight - 8,
      bottom: top + headHeight + group.rows.length * rowHeight,
    };
    marks.push(...xAxis(frame, x, { write: tickText }));
    marks.push(text(0, top + 16, group.name, { italic: true, bold: true, size: 15 }));
    group.rows.forEach((a, i) => {
      const y = top + headHeight + (i + 0.5) * rowHeight - 2;
      marks.push(text(0, y + 5, a.individual));
      marks.push(...animalMarks(a, y, x.at, paint, shape));
    });
    top = frame.bottom + 34;
  }
  marks.push(text((left + width - 24) / 2, top + 8, w.fieldAxis, { anchor: 'middle', fill: 'soft' }));
  marks.push(...legend());
  return {
    name: w.animals.name,
    picture: { width, height: top + 18, title: w.animals.title, description: w.animals.description, marks },
    columns: [
      'species',
      'individual',
      'passes_active',
      'turns_active',
      'passes_control',
      'turns_control',
      'passes_silent',
      'turns_silent',
      'lowest_turn_nV_per_cm',
      'highest_no_turn_nV_per_cm',
    ],
    rows: groups.flatMap((g) =>
      g.rows.map((a) => [
        a.species,
        a.individual,
        a.passes_active,
        a.turns_active,
        a.passes_control,
        a.turns_control,
        a.passes_silent,
        a.turns_silent,
        a.lowest_turn_nV_per_cm,
        a.highest_no_turn_nV_per_cm,
      ]),
    ),
  };
}

type Style = ReturnType<typeof speciesStyle>;

function animalMarks(
  a: Individual,
  y: number,
  at: (v: number) => number,
  paint: Style['paint'],
  shape: Style['shape'],
): Mark[] {
  const marks: Mark[] = [];
  const [turned, ignored] = [a.lowest_turn_nV_per_cm, a.highest_no_turn_nV_per_cm];
  if (turned !== null && ignored !== null) {
    marks.push(line(at(turned), y, at(ignored), y, { stroke: paint, width: 1.5, opacity: 0.55 }));
  }
  if (ignored !== null) marks.push(path(shapeAt(shape, at(ignored), y, 5), { fill: 'paper', stroke: paint, width: 2 }));
  if (turned !== null) marks.push(path(shapeAt(shape, at(turned), y, 5.5), { fill: paint, stroke: 'paper', width: 1 }));
  return marks;
}

function legend(): Mark[] {
  return [
    path(shapeAt('circle', 8, 12, 5.5), { fill: 'ink' }),
    text(22, 17, w.animals.turned),
    path(shapeAt('circle', 8, 34, 5), { fill: 'paper', stroke: 'ink', width: 2 }),
    text(22, 39, w.animals.ignored),
  ];
}

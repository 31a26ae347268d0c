// What changed between two dossiers: each number from older to newer, with the
// steps that each cause makes of the way.
import type { DossierChange } from '$lib/api/dossier';
import { words } from '$lib/words';
import { sig, tickText, whole } from '$lib/words/numbers';
import { xAxis, type Frame } from './axes';
import { circleAt, line, path, text, type Figure, type Mark, type Paint } from './picture';
import { linearScale, logDomain, logScale, type Scale } from './scale';

const w = words.dossierCompare;
const gutter = 132;
const margin = 14;
/** Room for half a label of the axis. */
const right = 40;

export type StepCause = 'program' | 'model' | 'data';

/** Step is what one cause does to a number, after those before it. */
export interface Step {
  cause: StepCause;
  from: number;
  to: number;
}

/** differs leaves out what another kind of computer does to the last digits. */
const differs = (a: number, b: number): boolean => Math.abs(a - b) > 1e-9 * Math.max(Math.abs(a), Math.abs(b));

/** stepsOf are the causes that moved a number, one after the other. What could not be worked out in between takes no step. */
export function stepsOf(change: DossierChange): Step[] {
  const way: [StepCause, number | null][] = [
    ['program', change.after_program],
    ['model', change.after_model],
    ['data', change.after_data],
  ];
  const steps: Step[] = [];
  let at = change.old;
  for (const [cause, to] of way) {
    if (to === null) continue;
    if (at !== null && differs(at, to)) steps.push({ cause, from: at, to });
    at = to;
  }
  return steps;
}

/** moved tells whether a number is another one, or came or went. */
export const moved = (c: DossierChange): boolean => (c.old === null) !== (c.new === null) || stepsOf(c).length > 0;

/** exact writes a count whole, and other numbers without zeros that say nothing. */
const exact = (v: number, digits: number): string => {
  if (Number.isInteger(v)) return whole(v).replace('-', '−');
  const text = sig(v, digits);
  return text.includes('.') ? text.replace(/\.?0+(?=$|\s*×)/, '') : text;
};

/** tick labels an axis; p values are far below what other axes have. */
const tick = (v: number): string => (v !== 0 && Math.abs(v) < 1e-4 ? exact(v, 2) : tickText(v));

/** signed writes a step: +2.1, −0.3. */
export const signed = (v: number): string => (v > 0 ? `+${exact(v, 3)}` : exact(v, 3));

/** valueText writes a number, or that there is none. */
export const valueText = (v: number | null): string => (v === null ? w.figure.noValue : exact(v, 4));

/** changeText is a number from older to newer. */
const changeText = (c: DossierChange): string =>
  moved(c)
    ? `${valueText(c.old)} → ${valueText(c.new)}`
    : `${valueText(c.new)}${c.new === null ? '' : `, ${w.figure.same}`}`;

const look: Record<StepCause, { paint: Paint; dash: readonly number[] }> = {
  program: { paint: 'species-3', dash: [2, 3] },
  model: { paint: 'species-2', dash: [6, 3] },
  data: { paint: 'species-1', dash: [] },
};

const valuesOf = (c: DossierChange): number[] =>
  [c.old, c.after_program, c.after_model, c.after_data, c.new].filter((v) => v !== null);

/** Fields share an axis; counts, shares and p values are each of their own kind. */
function groupsOf(changes: readonly DossierChange[]): DossierChange[][] {
  const groups: DossierChange[][] = [];
  for (const c of changes) {
    const group = c.unit ? groups.find((g) => g[0]?.unit === c.unit) : undefined;
    if (group) group.push(c);
    else groups.push([c]);
  }
  return groups;
}

export function changeFigure(changes: readonly DossierChange[], width: number): Figure {
  const marks: Mark[] = [];
  let top = 6;
  for (const rows of groupsOf(changes)) {
    const unit = rows[0]?.unit ?? '';
    const plotted = rows.filter((c) => valuesOf(c).length > 0);
    const scale = scaleOf(plotted.flatMap(valuesOf), unit, [gutter, width - right]);
    const begin = top;
    const drawn: Mark[] = [];
    for (const row of rows) {
      const part = rowMarks(row, top, width, scale);
      drawn.push(...part.marks);
      top = part.bottom;
    }
    if (scale) {
      const frame: Frame = { left: gutter, right: width - right, top: begin + 20, bottom: top };
      marks.push(...xAxis(frame, scale, { write: tick, label: unit || undefined }));
      top += unit ? 58 : 40;
    } else top += 12;
    marks.push(...drawn);
  }
  return {
    name: w.figure.name,
    picture: {
      width,
      height: Math.max(top, 20),
      title: w.figure.title,
      description: w.figure.description(changes.length),
      marks,
    },
    columns: ['what', 'unit', 'old', 'after_program', 'after_model', 'after_data', 'new', 'old_why', 'new_why', 'by'],
    rows: changes.map((c) => [
      ...[c.what, c.unit, c.old, c.after_program, c.after_model, c.after_data, c.new],
      ...[c.old_not_estimable, c.new_not_estimable, c.by.join(' ')],
    ]),
  };
}

function scaleOf(values: readonly number[], unit: string, range: [number, number]): Scale | undefined {
  if (values.length === 0) return undefined;
  // Fields, and p values that are worlds apart.
  const apart = unit === 'nV/cm' || Math.max(...values) > 20 * Math.min(...values);
  if (apart && values.every((v) => v > 0)) return logScale(logDomain(values), range);
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const room = high > low ? (high - low) * 0.15 : Math.abs(low) * 0.15 || 1;
  return linearScale([low - room, high + room], range);
}

function rowMarks(
  c: DossierChange,
  top: number,
  width: number,
  scale: Scale | undefined,
): { marks: Mark[]; bottom: number } {
  const steps = stepsOf(c);
  const change = changeText(c);
  const lines = linesOf(c.what, Math.max(16, Math.floor(width / 7.9)));
  const marks: Mark[] = lines.map((part, i) => text(0, top + 15 + 18 * i, part, { bold: true, halo: true }));
  const below = top + 18 * (lines.length - 1);
  // The values stand beside the name where there is room, else below it.
  const beside = lines.length === 1 && c.what.length * 7.6 + change.length * 7.2 + 24 < width;
  if (beside) marks.push(text(width - margin, top + 15, change, { anchor: 'end', halo: true }));
  else marks.push(text(0, below + 33, change, { size: 12, fill: 'soft', halo: true }));
  let y = below + (beside ? 32 : 50);
  if (scale) {
    const [from, to] = [c.old, c.new].map((v) => (v === null ? null : scale.at(v))) as [number | null, number | null];
    if (from !== null && to !== null && from !== to) marks.push(line(from, y, to, y, { stroke: 'soft', width: 3 }));
    if (from !== null) marks.push(path(circleAt(from, y, 6), { fill: 'paper', stroke: 'ink', width: 2 }));
    if (to !== null) marks.push(path(circleAt(to, y, from === to ? 3 : 6), { fill: 'ink', stroke: 'paper', width: 1 }));
    for (const step of steps) {
      y += 17;
      marks.push(...stepMarks(step, y, scale));
    }
  }
  return { marks, bottom: y + 20 };
}

/** linesOf breaks a name between words. */
function linesOf(name: string, most: number): string[] {
  const lines: string[] = [];
  for (const word of name.split(' ')) {
    const last = lines.at(-1);
    if (last !== undefined && last.length + 1 + word.length <= most) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  return lines;
}

function stepMarks(step: Step, y: number, scale: Scale): Mark[] {
  const { paint, dash } = look[step.cause];
  const [a, b] = [scale.at(step.from), scale.at(step.to)];
  const way = Math.sign(b - a) || 1;
  const head = Math.min(6, Math.abs(b - a));
  const name = w.result.step[step.cause] ?? step.cause;
  return [
    text(gutter - 12, y + 4, `${name} ${signed(step.to - step.from)}`, { anchor: 'end', size: 12, fill: 'soft' }),
    line(a, y, b, y, { stroke: paint, width: 2, dash }),
    line(a, y - 4, a, y + 4, { stroke: paint, width: 1.5 }),
    path(`M${b} ${y}l${-way * head} -4v8z`, { fill: paint, stroke: paint, width: 1 }),
  ];
}

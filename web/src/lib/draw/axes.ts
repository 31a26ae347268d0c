// The frame of a figure: grid, ticks and their labels.
import { line, text, type Mark } from './picture';
import { linearTicks, logTicks, type Scale, type Tick } from './scale';

export interface Frame {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

interface AxisChoices {
  label?: string;
  write: (v: number) => string;
  ticks?: Tick[];
  grid?: boolean;
}

const ticksOf = (scale: Scale): Tick[] => (scale.kind === 'log' ? logTicks(scale.domain) : linearTicks(scale.domain));

/** labelled drops major labels that would stand closer than room pixels. */
function spaced(
  ticks: Tick[],
  scale: Scale,
  room: (label: string) => number,
  write: (v: number) => string,
): Set<number> {
  const kept = new Set<number>();
  let last = -Infinity;
  let half = 0;
  for (const tick of ticks) {
    if (!tick.major) continue;
    const [at, need] = [scale.at(tick.value), room(write(tick.value)) / 2];
    if (at - last < need + half) continue;
    kept.add(tick.value);
    [last, half] = [at, need];
  }
  return kept;
}

/** xAxis draws along the bottom of the frame. */
export function xAxis(frame: Frame, scale: Scale, choices: AxisChoices): Mark[] {
  const marks: Mark[] = [];
  const ticks = choices.ticks ?? ticksOf(scale);
  const kept = spaced(ticks, scale, (label) => label.length * 7.5 + 10, choices.write);
  for (const tick of ticks) {
    const x = scale.at(tick.value);
    if (choices.grid !== false && tick.major) {
      marks.push(line(x, frame.top, x, frame.bottom, { stroke: 'grid', width: 1 }));
    }
    marks.push(line(x, frame.bottom, x, frame.bottom + (tick.major ? 6 : 3), { stroke: 'edge', width: 1 }));
    if (kept.has(tick.value)) {
      marks.push(text(x, frame.bottom + 20, choices.write(tick.value), { anchor: 'middle', fill: 'soft' }));
    }
  }
  marks.push(line(frame.left, frame.bottom, frame.right, frame.bottom, { stroke: 'edge', width: 1 }));
  if (choices.label) {
    marks.push(
      text((frame.left + frame.right) / 2, frame.bottom + 40, choices.label, { anchor: 'middle', fill: 'soft' }),
    );
  }
  return marks;
}

/** yAxis draws along the left of the frame; its label stands above it, level, to be read without tilting the head. */
export function yAxis(frame: Frame, scale: Scale, choices: AxisChoices): Mark[] {
  const marks: Mark[] = [];
  const ticks = choices.ticks ?? ticksOf(scale);
  const flipped: Scale = { ...scale, at: (v) => -scale.at(v) };
  const kept = spaced(ticks, flipped, () => 15, choices.write);
  for (const tick of ticks) {
    const y = scale.at(tick.value);
    if (choices.grid !== false && tick.major) {
      marks.push(line(frame.left, y, frame.right, y, { stroke: 'grid', width: 1 }));
    }
    if (kept.has(tick.value)) {
      marks.push(text(frame.left - 8, y + 4.5, choices.write(tick.value), { anchor: 'end', fill: 'soft' }));
    }
  }
  if (choices.label) marks.push(text(4, frame.top - 14, choices.label, { fill: 'soft' }));
  return marks;
}

// Passes of one day over the time of the day: a row for each trial, a lane in
// it for each device, which is told apart by shape and colour.
import type { DeckPass } from '$lib/api/types';
import { minutesOf, timeOfDay } from '$lib/state/deck-log';
import { words } from '$lib/words';
import { xAxis, type Frame } from './axes';
import { box, line, path, shapeAt, speciesStyle, text, type Figure, type Mark } from './picture';
import { linearScale, type Tick } from './scale';

const w = words.deckPage.log.picture;
const lane = 16;

const clockText = (minutes: number): string =>
  `${String(Math.floor(minutes / 60)).padStart(2, '0')}:${String(Math.round(minutes % 60)).padStart(2, '0')}`;

/** clockTicks are at even times of the clock, about six of them. */
export function clockTicks(low: number, high: number): Tick[] {
  const steps = [1, 2, 5, 10, 15, 30, 60, 120, 180, 240];
  const step = steps.find((s) => (high - low) / s <= 7) ?? 240;
  const ticks: Tick[] = [];
  for (let t = Math.ceil(low / step) * step; t <= high; t += step) ticks.push({ value: t, major: true });
  return ticks;
}

interface Timed {
  pass: DeckPass;
  at: number;
}

export function deckPassesFigure(
  passes: readonly DeckPass[],
  day: string,
  devices: readonly string[],
  said: (pass: DeckPass) => string,
  width: number,
): Figure {
  const timed: Timed[] = passes
    .map((pass) => ({ pass, at: minutesOf(pass.fields.time ?? '') }))
    .filter((p): p is Timed => p.at !== undefined)
    .sort((a, b) => a.at - b.at);
  const trials = [...new Set(timed.map((p) => p.pass.fields.trial ?? ''))];
  const tall = Math.max(30, lane * devices.length + 12);
  const legend = legendMarks(devices, width);
  const frame: Frame = {
    left: Math.min(150, Math.round(width * 0.22)),
    right: width - 20,
    top: legend.height + 10,
    bottom: legend.height + 10 + Math.max(1, trials.length) * tall,
  };
  const first = timed[0]?.at ?? 480;
  const last = timed.at(-1)?.at ?? 1080;
  const pad = Math.max(3, (last - first) * 0.04);
  const [low, high] = [Math.max(0, first - pad), Math.min(1440, last + pad)];
  const x = linearScale([low, high], [frame.left, frame.right]);
  const marks: Mark[] = [];
  trials.forEach((_, i) => {
    if (i % 2 === 0)
      marks.push(box(frame.left, frame.top + i * tall, frame.right - frame.left, tall, { fill: 'sunk' }));
  });
  marks.push(...xAxis(frame, x, { write: clockText, label: w.axis, ticks: clockTicks(low, high) }));
  trials.forEach((trial, i) => {
    const y = frame.top + (i + 0.5) * tall;
    marks.push(
      text(frame.left - 10, y + 5, short(trial || w.noTrial, frame.left - 12), { anchor: 'end' }),
      line(frame.left, frame.top + (i + 1) * tall, frame.right, frame.top + (i + 1) * tall, {
        stroke: 'grid',
        width: 1,
      }),
    );
  });
  for (const { pass, at } of timed) {
    const row = trials.indexOf(pass.fields.trial ?? '');
    const k = Math.max(0, devices.indexOf(pass.device));
    const y = frame.top + row * tall + (tall - lane * devices.length) / 2 + (k + 0.5) * lane;
    const { paint, shape } = speciesStyle(k);
    marks.push(
      path(shapeAt(shape, x.at(at), y, 5.5), {
        fill: paint,
        stroke: 'paper',
        width: 1,
        title: w.pass(pass.pass, timeOfDay(pass.fields.time ?? ''), said(pass)),
      }),
    );
  }
  if (timed.length === 0)
    marks.push(text((frame.left + frame.right) / 2, frame.top + tall / 2 + 5, w.none, { anchor: 'middle' }));
  marks.push(...legend.marks);
  return {
    name: w.name,
    picture: {
      width,
      height: frame.bottom + 50,
      title: w.title(day),
      description: w.described(timed.length, trials.length, devices.length),
      marks,
    },
    columns: ['pass', 'device', 'trial', 'time', 'pair', 'individual', 'species', 'response', 'turned', 'bit'],
    rows: timed.map(({ pass }) => [
      pass.pass,
      pass.device,
      ...['trial', 'time', 'pair', 'individual', 'species', 'response', 'turned', 'bit'].map(
        (f) => pass.fields[f] ?? '',
      ),
    ]),
  };
}

function legendMarks(devices: readonly string[], width: number): { marks: Mark[]; height: number } {
  const marks: Mark[] = [];
  let [x, y] = [8, 12];
  devices.forEach((device, k) => {
    const room = 22 + device.length * 7.6 + 18;
    if (x > 8 && x + room > width) [x, y] = [8, y + 22];
    const { paint, shape } = speciesStyle(k);
    marks.push(
      path(shapeAt(shape, x + 5, y, 6), { fill: paint, stroke: 'paper', width: 1 }),
      text(x + 18, y + 5, device, { size: 13 }),
    );
    x += room;
  });
  return { marks, height: devices.length > 0 ? y + 12 : 4 };
}

/** short keeps a long name within its column. */
const short = (name: string, room: number): string => {
  const most = Math.max(4, Math.floor(room / 8.2));
  return name.length > most ? `${name.slice(0, most - 1)}…` : name;
};

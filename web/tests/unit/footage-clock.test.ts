import { expect, test } from 'vitest';
import { clockFigure } from '$lib/draw/footage-clock';
import { toSvg } from '$lib/export/svg';
import { momentAt, readMoment, timeOfDay, writeMoment, zoneNear } from '$lib/footage/clock';
import { AddClip } from '$lib/state/footage-add.svelte';
import type { FootageProgram } from '$lib/api/footage';

const near = readMoment('2025-06-01T23:59:50+01:00')!;

test.each([
  ['2025-06-01T21:40:00+01:00', '2025-06-01T21:40:00+01:00'],
  ['2025-06-01 21:40:12,5', '2025-06-01T21:40:12.500+01:00'],
  ['2025-06-01 21:40', '2025-06-01T21:40:00+01:00'],
  ['2025-06-01T20:40:00Z', '2025-06-01T20:40:00Z'],
  ['23:58:01.25', '2025-06-01T23:58:01.250+01:00'],
  ['0:00:03', '2025-06-02T00:00:03+01:00'], // past midnight
])('%s is read as %s', (text, want) => expect(writeMoment(readMoment(text, near)!)).toBe(want));

test.each(['', '24:00:00', '21:60:00', '21:40:60', '2025-02-30 10:00', '2025-13-01T10:00:00Z', 'noon', '10'])(
  '"%s" is no time',
  (text) => expect(readMoment(text, near)).toBeUndefined(),
);

test('a time of the day without a day is no time; a day without a zone keeps none', () => {
  expect(readMoment('21:40:00')).toBeUndefined();
  expect(writeMoment(readMoment('2025-06-01 21:40:00')!)).toBe('2025-06-01T21:40:00');
});

test('the clock at a frame is start, drift and offset', () => {
  // 120 ppm over two hours are 0.864 s (closed form).
  const clip = { start: '2025-06-01T21:00:00+01:00', clock_offset_s: 2.4, drift_ppm: 120 };
  expect(timeOfDay(momentAt(clip, 7200)!, 3)).toBe('23:00:03.264');
  expect(timeOfDay(momentAt({ ...clip, drift_ppm: null, clock_offset_s: null }, 0.5)!, 1)).toBe('21:00:00.5');
  expect(momentAt({ ...clip, start: '' }, 1)).toBeUndefined();
});

test('the figure of the events', async () => {
  const event = (frame: number, clip_s: number, residual_s: number) => ({
    frame,
    clip_s,
    clock: '2025-06-01T21:00:00+01:00',
    what: 'torch switched on',
    residual_s,
  });
  const clip = {
    clip: 'north pair',
    duration_s: 5400,
    sync: [event(60, 2, 0.012), event(81_000, 2700, -0.02), event(161_000, 5366, 0.008)],
  };
  const figure = clockFigure(clip, 620);
  expect(figure.rows.map((r) => r.at(-1))).toEqual([0.012, -0.02, 0.008]);
  await expect(toSvg(figure.picture, (p) => `var(--${p})`)).toMatchFileSnapshot('../pictures/footage-clock.svg');
});

test('files keep the order of their names, are moved, and none is taken twice', () => {
  const add = new AddClip({} as FootageProgram);
  const file = (name: string) => ({ name, path: `/card/${name}`, bytes: 10 });
  add.take([file('GX10.mp4'), file('GX2.mp4')]);
  add.take([file('GX2.mp4'), file('GX1.mp4')]);
  expect(add.files.map((f) => f.name)).toEqual(['GX2.mp4', 'GX10.mp4', 'GX1.mp4']);
  add.move(2, -1);
  add.move(1, -1);
  add.move(0, -1);
  expect(add.request(' C. Lead').files).toEqual(['/card/GX1.mp4', '/card/GX2.mp4', '/card/GX10.mp4']);
  add.drop('/card/GX2.mp4');
  expect([add.ready, add.bytes, add.has('/card/GX2.mp4')]).toEqual([true, 20, false]);
});

test('a time without a zone gets that of the nearest known time', () => {
  const known = ['2025-05-12T10:00:00+01:00', '2025-11-12T10:00:00+00:00', '2025-05-13T10:00:00'];
  expect(zoneNear(Date.UTC(2025, 4, 20), known)).toBe('+01:00');
  expect(zoneNear(Date.UTC(2025, 11, 1), known)).toBe('+00:00');
  expect(zoneNear(0, ['2025-05-13T10:00:00', ''])).toBe('');
});

// Figures of the water. Their stored pictures lie in tests/pictures.
import { describe, expect, test } from 'vitest';
import type { TrialWater, Water } from '$lib/api/studies';
import { castFigure, castStyle, domainOf, exact, steady } from '$lib/draw/cast';
import { conductivityFigure, sources, timeTicks, wallMs, writeTime } from '$lib/draw/conductivity';
import type { Figure, PathMark, TextMark } from '$lib/draw/picture';
import { toCsv } from '$lib/export/csv';
import { toSvg } from '$lib/export/svg';
import { fixture } from '../fixtures/study-program';

const water = fixture<Water>('water');
const every = new Set(water.casts.map((c) => c.time));
const figures: Record<string, Figure> = {
  casts: castFigure(water.casts, every, 900),
  conductivity: conductivityFigure(water.trials, 620),
};
const texts = (f: Figure) => f.picture.marks.filter((m): m is TextMark => m.kind === 'text');
const paths = (f: Figure) => f.picture.marks.filter((m): m is PathMark => m.kind === 'path');

describe.each(Object.entries(figures))('%s', (name, figure) => {
  test('looks as stored', async () => {
    await expect(toSvg(figure.picture, (p) => `var(--${p})`)).toMatchFileSnapshot(`../pictures/${name}.svg`);
  });
  test('holds no number that is none', () => {
    expect(JSON.stringify(figure.picture)).not.toMatch(/NaN|Infinity|undefined|null/);
  });
  test('has data for its file', () => {
    expect(figure.rows.every((r) => r.length === figure.columns.length)).toBe(true);
    expect(toCsv(figure.columns, figure.rows).split('\r\n').length).toBe(figure.rows.length + 2);
  });
});

describe('casts', () => {
  test('depth runs downwards: a deeper reading stands lower', () => {
    const depths = texts(figures.casts!).filter((t) => t.anchor === 'end');
    const places = depths.map((t) => [Number(t.text), t.y] as const).sort((a, b) => a[0] - b[0]);
    expect(places.length).toBeGreaterThanOrEqual(4);
    expect(places[0]![0]).toBe(0);
    for (let i = 1; i < places.length; i++) expect(places[i]![1]).toBeGreaterThan(places[i - 1]![1]);
  });
  test('each has a colour by its place in time, and a dash and shape of its own', () => {
    const styles = [0, 1, 2, 3, 4, 5].map((i) => castStyle(i, 6));
    expect(styles.map((s) => s.paint)).toEqual(['time-1', 'time-2', 'time-3', 'time-4', 'time-5', 'time-6']);
    expect(new Set(styles.map((s) => s.dash.join())).size).toBe(6);
    expect(new Set(styles.map((s) => s.shape)).size).toBe(6);
    expect(castStyle(39, 40).paint).toBe('time-6');
    expect(castStyle(0, 1).paint).toBe('time-6');
  });
  test('a cast that is not chosen is not drawn, and the others keep their colour', () => {
    const last = water.casts.at(-1)!;
    const one = castFigure(water.casts, new Set([last.time]), 900);
    expect(one.rows).toHaveLength(last.readings.length);
    const paints = new Set(
      paths(one)
        .map((p) => p.stroke)
        .filter((s) => s?.startsWith('time-')),
    );
    expect([...paints]).toEqual(['time-6']);
  });
  test('what was worked out has open marks and says so in the file', () => {
    const open = paths(figures.casts!).filter((p) => p.fill === 'paper' && p.stroke?.startsWith('time-'));
    expect(open).toHaveLength(water.casts.reduce((n, c) => n + c.readings.length, 0));
    expect(figures.casts!.rows.every((r) => r.at(-1) === true)).toBe(true);
  });
  test('the description tells each cast in words', () => {
    expect(figures.casts!.picture.description).toMatch(
      /Cast of 2025-05-12 08:10, 7 readings: temperature, °C 11\.\d+ at 0\.5 m/,
    );
  });
  test('a cast with conductivity alone has one panel', () => {
    const cast = {
      time: '2025-05-12T08:10:00+01:00',
      readings: [{ depth_m: 1, temperature_C: null, salinity: null, conductivity_S_per_m: 4.2, computed: false }],
    };
    const figure = castFigure([cast], new Set([cast.time]), 700);
    expect(texts(figure).map((t) => t.text)).toContain('conductivity, S/m');
    expect(texts(figure).map((t) => t.text)).not.toContain('salinity');
    expect(JSON.stringify(figure.picture)).not.toMatch(/NaN|Infinity/);
  });
});

describe('conductivity by trial', () => {
  const trial = (from: TrialWater['from'], start: string, v: number | null): TrialWater => ({
    trial: `T-${from}`,
    start,
    conductivity_S_per_m: v,
    from,
    cast_time: '',
    depth_m: 5,
  });
  const all = sources.map((s, i) => trial(s, `2025-06-0${i + 1}T09:00:00+01:00`, 4 + i / 10));
  test('each source has a shape of its own and its name in the legend', () => {
    const figure = conductivityFigure(all, 700);
    const outlines = paths(figure)
      .filter((p) => p.title)
      .map((p) => `${p.d.replace(/[\d. -]+/g, '')} ${p.fill === 'paper'}`);
    expect(new Set(outlines).size).toBe(4);
    for (const name of ['measured in the trial', 'the cast nearest in time', 'stated for the study']) {
      expect(texts(figure).map((t) => t.text)).toContain(name);
    }
  });
  test('a trial whose water is not known is in the file and in the description, and has no mark', () => {
    const figure = conductivityFigure([...all, trial('cast', '2025-06-09T09:00:00+01:00', null)], 700);
    expect(paths(figure).filter((p) => p.title)).toHaveLength(4);
    expect(figure.rows).toHaveLength(5);
    expect(figure.picture.description).toContain('Not known in 1 trial.');
  });
  test('no trial at all still gives a picture', () => {
    expect(JSON.stringify(conductivityFigure([], 700).picture)).not.toMatch(/NaN|Infinity/);
  });
});

describe('time on an axis', () => {
  test('is the clock of the site, whatever zone the reader sits in', () => {
    expect(wallMs('2025-06-01T09:00:00+01:00')).toBe(Date.UTC(2025, 5, 1, 9));
    expect(wallMs('no time')).toBeNaN();
  });
  test('ticks stand on whole hours, days and months', () => {
    const hours = timeTicks([Date.UTC(2025, 5, 1, 8, 40), Date.UTC(2025, 5, 1, 13)]).map((t) =>
      new Date(t.value).toISOString().slice(11, 16),
    );
    expect(hours).toEqual(['09:00', '10:00', '11:00', '12:00', '13:00']);
    const months = timeTicks([Date.UTC(2025, 10, 20), Date.UTC(2026, 3, 20)]).map((t) =>
      new Date(t.value).toISOString().slice(0, 10),
    );
    expect(months).toEqual(['2025-12-01', '2026-01-01', '2026-02-01', '2026-03-01', '2026-04-01']);
    expect(writeTime([0, 3_600_000])(0)).toBe('01-01 00:00');
  });
});

test('ticks of one axis have as many decimals as their step needs', () => {
  expect([34.95, 35, 35.05].map(steady([34.93, 35.12]))).toEqual(['34.95', '35.00', '35.05']);
  expect([10, 12].map(steady([9.5, 18]))).toEqual(['10', '12']);
  expect(exact(4.3)).toBe('4.3');
  expect(exact(-1.25)).toBe('−1.25');
  expect(domainOf([5])[0]).toBeLessThan(5);
});

// Every figure has a stored picture in tests/pictures: a change shows as a
// difference to be looked at. Renew them with `npx vitest run -u`.
import { describe, expect, test } from 'vitest';
import { alongFigure, sealedAlongFigure } from '$lib/draw/along';
import { animalsFigure, byLowest } from '$lib/draw/animals';
import { curvesFigure, stepMarks } from '$lib/draw/curves';
import { methodRows, oddsSpan } from '$lib/draw/estimates';
import { forestFigure } from '$lib/draw/forest';
import type { Figure } from '$lib/draw/picture';
import { polyline, ribbon } from '$lib/draw/picture';
import { linearScale, logScale } from '$lib/draw/scale';
import { sensitivityFigure } from '$lib/draw/sensitivity';
import { sharesFigure } from '$lib/draw/shares';
import { compare } from '$lib/draw/textbook';
import { textbookFigure } from '$lib/draw/textbook-figure';
import { uncertaintyFigure } from '$lib/draw/uncertainty';
import { toCsv } from '$lib/export/csv';
import { toSvg } from '$lib/export/svg';
import { curves, exposures, findings, passes, season, uncertainty } from './fixtures';

const turned = Object.values(passes).find((p) => p.onset_s !== null)!;
const still = Object.values(passes).find((p) => p.onset_s === null)!;
/** As the program gives it while the trial is sealed. */
const sealed = {
  ...turned,
  row: { ...turned.row, field_low_nV_per_cm: null, field_high_nV_per_cm: null },
  track: turned.track.map((p) => ({
    ...{ ...p, field_nV_per_cm: null, phantom_nV_per_cm: null },
    phantom_nV_per_cm_per_uA: p.phantom_nV_per_cm && p.phantom_nV_per_cm / 6,
  })),
};
const panels = findings.detection!.map((d) => methodRows(findings, d.species));

const figures: Record<string, Figure> = {
  curves: curvesFigure(curves.species[0]!, findings.detection![0]!, 720),
  forest: forestFigure(panels, 800),
  shares: sharesFigure(findings.preference!, 700),
  animals: animalsFigure(findings.individuals!, season.species, 700),
  sensitivity: sensitivityFigure(findings.detection!, season.species, 0.08, 620),
  uncertainty: uncertaintyFigure(uncertainty.uncertainty, findings.detection!, 700),
  'along-turned': alongFigure(turned, 560, 240),
  'along-still': alongFigure(still, 560, 240),
  'along-sealed': sealedAlongFigure(sealed, 560, 240),
  'textbook-distance': textbookFigure(compare(exposures.rows), 'distance', season.species, 700),
  'textbook-angle': textbookFigure(compare(exposures.rows), 'angle', season.species, 700),
};

describe.each(Object.entries(figures))('%s', (name, figure) => {
  test('looks as stored', async () => {
    await expect(toSvg(figure.picture, (p) => `var(--${p})`)).toMatchFileSnapshot(`../pictures/${name}.svg`);
  });
  test('holds no number that is none', () => {
    const text = JSON.stringify(figure.picture);
    expect(text).not.toMatch(/NaN|Infinity|undefined/);
    expect(text.includes('null')).toBe(false);
  });
  test('has data for its file', () => {
    expect(figure.rows.length).toBeGreaterThan(0);
    expect(figure.rows.every((r) => r.length === figure.columns.length)).toBe(true);
    expect(toCsv(figure.columns, figure.rows).split('\r\n').length).toBe(figure.rows.length + 2);
  });
});

describe('step curve', () => {
  const frame = { left: 0, right: 300, top: 0, bottom: 100 };
  const [x, y] = [logScale([1, 1000], [0, 300]), linearScale([0, 1], [100, 0])];
  test('is level where it is known and boxed where it climbs unseen', () => {
    const marks = stepMarks([{ low_nV_per_cm: 10, high_nV_per_cm: 100, before: 0, after: 1 }], x, y, frame);
    const paths = marks.map((m) => (m.kind === 'path' ? m.d : ''));
    expect(paths[0]).toBe('M100 0h100v100h-100z');
    expect(paths.at(-1)).toBe('M0 100L100 100M200 0L300 0');
  });
  test('an unbounded box runs to the edge, and nothing follows it', () => {
    const marks = stepMarks([{ low_nV_per_cm: 10, high_nV_per_cm: null, before: 0, after: 1 }], x, y, frame);
    expect(marks[0]).toMatchObject({ d: 'M100 0h200v100h-200z' });
    expect(marks.at(-1)).toMatchObject({ d: 'M0 100L100 100' });
  });
});

test('a line breaks where a value is missing', () => {
  expect(polyline([0, 1, 2, 3], [0, NaN, 2, 3])).toBe('M0 0M2 2L3 3');
  expect(ribbon([0, 1], [0, 1], [2, 3])).toBe('M0 2L1 3L1 1L0 0z');
});

describe('methods', () => {
  test('the detection model comes first and measures the others', () => {
    expect(panels[0]!.map((r) => r.key)).toEqual([
      'detection',
      'lognormal',
      'lognormal_individual',
      'npmle',
      'descriptive',
      'textbook',
    ]);
    expect(panels[0]![0]!.ratio).toBeNull();
    expect(panels[0]![1]!.ratio).toBeCloseTo(1.35, 9);
  });
  test('what is not estimable has its reason and no number', () => {
    const row = panels[1]!.find((r) => r.key === 'lognormal_individual')!;
    expect(row).toMatchObject({ median: null, ratio: null, why: 'every animal gave one pass only' });
  });
});

test('the interval of an odds ratio is that of its logarithm', () => {
  // Closed form: exp(2.6 ± 1.96 · 0.4).
  const { odds, low, high } = oddsSpan(2.6, 0.4);
  expect(odds).toBeCloseTo(13.4637, 3);
  expect(low).toBeCloseTo(6.1474, 3);
  expect(high).toBeCloseTo(29.4878, 3);
});

test('animals stand by the smallest field at which they turned; those that never did come last', () => {
  const some = [...findings.individuals!].sort(byLowest).map((a) => a.lowest_turn_nV_per_cm);
  const known = some.filter((v) => v !== null);
  expect(some.slice(0, known.length)).toEqual(known);
  expect([...known].sort((a, b) => a - b)).toEqual(known);
});

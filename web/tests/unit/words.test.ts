import { describe, expect, test } from 'vitest';
import { readSpan } from '$lib/api/types';
import { words } from '$lib/words';
import { passFacts, passVerdict } from '$lib/words/pass';
import { bare, em, phrase } from '$lib/words/phrase';
import { exposures, passes } from './fixtures';

describe('phrases', () => {
  test('emphasis is taken apart', () =>
    expect(phrase('a *b* **c** d_{e}f^{g}')).toEqual([
      { voice: 'plain', text: 'a ' },
      { voice: 'em', text: 'b' },
      { voice: 'plain', text: ' ' },
      { voice: 'strong', text: 'c' },
      { voice: 'plain', text: ' d' },
      { voice: 'sub', text: 'e' },
      { voice: 'plain', text: 'f' },
      { voice: 'sup', text: 'g' },
    ]));
  test('a name from the season cannot break out of its emphasis', () => {
    expect(phrase(em('Raja *x* _{y}'))).toHaveLength(1);
    expect(bare(em('Raja clavata'))).toBe('Raja clavata');
  });
  test('no formula or sentence of the catalogue keeps a stray mark', () => {
    for (const [key, method] of Object.entries(words.methods.by)) {
      for (const line of [...method.formula, ...method.what]) expect(bare(line), key).not.toMatch(/[*{}]|_\{|\^\{/);
    }
  });
});

describe('the headline', () => {
  const w = words.findings.headline;
  test('with an interval', () =>
    expect(bare(w.half('Raja clavata', '16', '12', '22', true)).replace(/\u00a0/g, ' ')).toBe(
      'Lapses apart, half of Raja clavata passes would turn by 16 nV/cm (95 % interval 12–22).',
    ));
  test('without lapses', () => expect(w.halfNoInterval('R', '16', false)).toMatch(/^Half of/));
  test.each([
    [22, 332, 8, '22 animals, 332 passes, 8 of them unidentified'],
    [1, 1, 1, '1 animal, 1 pass, one of them unidentified'],
    [15, 242, 0, '15 animals, 242 passes'],
  ])('counts %d %d %d', (animals, passes, n, expected) => expect(w.data(animals, passes, n)).toBe(expected));
});

describe('what a pass tells', () => {
  const base = exposures.rows[0]!;
  test.each([
    [{ turned: 'yes', field_low_nV_per_cm: 15.2, field_high_nV_per_cm: 30.17 }, 'Turned between 15.2 and 30.2 nV/cm'],
    [{ turned: 'yes', field_low_nV_per_cm: 0, field_high_nV_per_cm: 30.17 }, 'Turned by 30.2 nV/cm'],
    [
      { turned: 'no', bit: 'no', field_low_nV_per_cm: 15.2, field_high_nV_per_cm: null },
      'Met up to 15.2 nV/cm and did not turn',
    ],
    [{ turned: '', bit: '' }, 'Turn not scored'],
    [{ turned: 'yes', field_low_nV_per_cm: null, field_high_nV_per_cm: null }, 'Turned; the field is not known'],
    [
      { turned: 'yes', falling_field: true, field_low_nV_per_cm: 40, field_high_nV_per_cm: 12 },
      'Turned while the field was falling: it had not turned at 40.0 nV/cm before',
    ],
  ] as const)('%o', (more, expected) => expect(passVerdict({ ...base, ...more })).toBe(expected));
  test('a bite alone counts as a turn', () =>
    expect(
      passVerdict({ ...base, turned: 'no', bit: 'yes', field_low_nV_per_cm: 0, field_high_nV_per_cm: 90 }),
    ).toMatch(/^Bit without a scored turn/));
  test('a turn without an onset says so once the pass is read', () => {
    const row = { ...base, turned: 'yes' as const, field_low_nV_per_cm: 0, field_high_nV_per_cm: 90 };
    const pass = { ...Object.values(passes)[0]!, row, onset_s: null };
    expect(passVerdict(row)).toBe('Turned by 90.0 nV/cm');
    expect(passVerdict(row, pass)).toBe('Turned at some field up to 90.0 nV/cm; no onset was recorded');
  });
  test('facts leave out what is not known', () => {
    const names = passFacts({ ...base, height_cm: null, angle_deg: 12 }).map((f) => f.name);
    expect(names).toContain('Angle');
    expect(names).not.toContain('Height');
  });
});

test('spans are read as they are written', () => {
  expect(readSpan([1, 2])).toEqual({ low: 1, high: 2 });
  expect(readSpan([1, null])).toEqual({ low: 1, high: null });
  expect(readSpan({ not_estimable: 'why' })).toEqual({ why: 'why' });
  expect(readSpan(undefined)).toEqual({ why: '' });
});

test('places of faults', () => {
  expect(words.faults.place('passes.csv', 12, 'onset_s')).toBe('passes.csv, row 12, onset_s');
  expect(words.faults.place('tracks.csv', 0, '')).toBe('tracks.csv');
});

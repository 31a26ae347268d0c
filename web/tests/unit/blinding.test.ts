import { describe, expect, test } from 'vitest';
import type { GuessTest, Schedule, ScheduleTrial } from '$lib/api/schedule';
import { guessesFigure } from '$lib/draw/guesses';
import { toSvg } from '$lib/export/svg';
import { afterCount, afterRows, guessOf, openedRows, stepsOf, stillSealed, trialsText } from '$lib/state/blinding';
import { words } from '$lib/words';

const trial = (name: string, more: Partial<ScheduleTrial> = {}): ScheduleTrial => ({
  trial: name,
  spare: false,
  block: 1,
  run: false,
  passes: 0,
  opened: false,
  ...more,
});
const stamp = (when: string, by = 'Maeve', reason = '') => ({ when, by, reason });
const plan = {
  pairs: ['A', 'B'],
  currents_uA: [6],
  trials: 2,
  silent: 0,
  sham: 0,
  odour_off: 0,
  draw_polarity: false,
  repeats: 1,
  most_alike: 0,
  spare: 1,
};
const schedule = (more: Partial<Schedule> = {}): Schedule => ({
  study: 'bay',
  read_only: false,
  blind: true,
  pairs: ['A', 'B'],
  start: plan,
  seals: [
    {
      id: 'seal 1',
      written: stamp('2026-05-01T09:00:00+01:00'),
      seal: 'ab'.repeat(32),
      plan,
      per_day: 2,
      rule: { rule: 'blocks', block: 2 },
      keys: [
        { public: 'age1x', holder: 'Maeve', rehearsed: stamp('2026-05-02T10:30:00+01:00', 'Tadhg') },
        { public: 'age1y', holder: 'the safe' },
      ],
      in_force: true,
      trials_run: 0,
    },
  ],
  trials: [trial('T001'), trial('T002'), trial('S001', { spare: true })],
  unscored: 0,
  openings: [],
  guesses: [],
  guessed: [],
  knowers: [],
  warnings: [],
  after_opening: [],
  more_after_opening: 0,
  ...more,
});
const states = (view: Schedule) => Object.fromEntries(stepsOf(view).map((s) => [s.key, s.state]));

describe('trials as people write them', () => {
  test.each([
    [[], 'all trials'],
    [['T003'], 'T003'],
    [['T001', 'T002'], 'T001, T002'],
    [['T001', 'T002', 'T003', 'T005'], 'T001–T003, T005'],
    [['T009', 'T010', 'T011'], 'T009–T011'],
    [['T001', 'S001', 'S002', 'S003'], 'T001, S001–S003'],
    [['one', 'two'], 'one, two'],
    [['T9', 'T10', 'T11'], 'T9, T10, T11'],
  ])('%o', (trials, text) => expect(trialsText(trials)).toBe(text));
});

describe('the steps', () => {
  test('a sealed schedule of which one key was rehearsed', () => {
    const view = schedule();
    expect(states(view)).toEqual({
      sealed: 'done',
      rehearsed: 'partly',
      run: 'open',
      scored: 'open',
      locked: 'open',
      opened: 'open',
    });
    expect(stepsOf(view)[1]!.said).toEqual(['1 of 2 keys seen to open it', '2026-05-02 10:30, by Tadhg']);
  });
  test('spare draws are not asked for', () => {
    const trials = [
      trial('T001', { run: true, passes: 3 }),
      trial('T002', { run: true }),
      trial('S001', { spare: true }),
    ];
    const view = schedule({ trials, unscored: 0 });
    expect(states(view)).toMatchObject({ run: 'done', scored: 'done' });
    expect(states({ ...view, unscored: 2 }).scored).toBe('partly');
  });
  test('opened in part, then wholly', () => {
    const trials = [trial('T001', { run: true, opened: true }), trial('T002', { run: true })];
    const some = schedule({
      trials,
      openings: [{ id: 'opening 1', opened: stamp('2026-06-01T12:00:00+01:00'), trials: ['T001'] }],
    });
    expect(stepsOf(some).at(-1)).toMatchObject({
      state: 'partly',
      said: ['2026-06-01 12:00, by Maeve', 'Opened so far: T001'],
    });
    expect(stillSealed(some)).toBe(true);
    const all = { ...some, blind: false, trials: trials.map((t) => ({ ...t, opened: true })) };
    expect([stillSealed(all), states(all).opened]).toEqual([false, 'done']);
  });
  test('a study that was imported blind has no rehearsal', () => {
    const view = schedule({ seals: [] });
    expect(stepsOf(view).map((s) => s.key)).not.toContain('rehearsed');
    expect(stepsOf(view)[0]).toMatchObject({ state: 'done', said: [words.blinding.steps.import] });
    expect(stepsOf({ ...view, blind: false })[0]!.state).toBe('open');
  });
});

test('the last guess of a scorer in a trial counts', () => {
  const guess = (id: string, by: string, pair: string) => ({ id, trial: 'T001', pair, by, when: '', late: false });
  const guesses = [guess('a', 'Maeve', 'A'), guess('b', 'Tadhg', 'B'), guess('c', 'Maeve', 'unknown')];
  expect(guessOf(guesses, 'Maeve', 'T001')?.pair).toBe('unknown');
  expect(guessOf(guesses, 'Maeve', 'T002')).toBeUndefined();
});

describe('what was touched after the opening', () => {
  const after = (kind: string, id: string) => ({
    ...{ kind, id, trial: 'T001', field: 'turned', from: 'no', to: 'yes' },
    ...{ when: '2026-06-02T08:00:00+01:00', by: 'Maeve', reason: 'looked again', entry: 'e1' },
  });
  const view = schedule({ after_opening: [after('pass', 'P1'), after('track', 'P2'), after('trial', 'T001')] });
  test('those that are not listed are counted too', () =>
    expect([afterCount(view), afterCount({ ...view, more_after_opening: 7 })]).toEqual([3, 10]));
  test('as a table', () => {
    const { columns, rows } = afterRows(view);
    expect(rows).toHaveLength(3);
    expect(rows.every((r) => r.length === columns.length)).toBe(true);
  });
});

test('the table of what was drawn holds opened trials only', () => {
  const trials = [trial('T001', { opened: true, kind: 'active', active_pair: 'A', current_uA: 6 }), trial('T002')];
  const { columns, rows } = openedRows({ trials });
  expect(rows.map((r) => r[0])).toEqual(['T001']);
  expect(rows[0]![columns.indexOf('active_pair')]).toBe('A');
});

describe('guesses against chance', () => {
  const w = words.blinding.hits;
  const tests: GuessTest[] = [
    { by: 'all', guesses: 24, unknown: 4, hits: 11, expected: 10.1, p: 0.42 },
    { by: 'Maeve Kinsella-Ó Conchobhair', guesses: 12, unknown: 0, hits: 11, expected: 6, p: 0.00002 },
    { by: 'Tadhg', guesses: 12, unknown: 12, hits: 0, expected: null, p: null, not_estimable: 'nobody named a pair' },
  ];
  test('in words', () => {
    expect(w.sentence('all', 11, 24, 10.1, 0.42, '')).toMatch(
      /^Together the scorers hit 11 of 24 guesses; chance alone gives 10 on average, and as many or more in 42\D?% of schedules/,
    );
    expect(w.sentence('Maeve', 11, 12, 6, 0.00002, '')).toMatch(/fewer than 0\.1 %.*more than chance readily gives/);
    expect(w.sentence('Tadhg', 0, 12, null, null, 'nobody named a pair')).toBe(
      'Tadhg hit 0 of 12 guesses. This cannot be set against chance: nobody named a pair.',
    );
  });
  test.each([
    ['guesses', 640],
    ['guesses-narrow', 320],
  ])('%s looks as stored', async (name, width) => {
    const figure = guessesFigure(tests, width);
    await expect(toSvg(figure.picture, (p) => `var(--${p})`)).toMatchFileSnapshot(`../pictures/${name}.svg`);
    expect(JSON.stringify(figure.picture)).not.toMatch(/NaN|Infinity|undefined|null/);
    expect(figure.rows.every((r) => r.length === figure.columns.length)).toBe(true);
  });
});

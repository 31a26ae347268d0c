// The fixture was drawn by the program: brinefield schedule draw --pairs A,B,C,D
// --trials 24 --currents-uA 6,10.5 --silent 2 --sham 2 --odour-off 3 --polarity
// --repeats 2 --spare 4 --per-day 5 --seed 7 --json, without its commitments.
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { RequestError } from '$lib/api/client';
import type { Schedule, ScheduleDocument, ScheduleProgram, ScheduleTrial, Seal } from '$lib/api/schedule';
import type { Figure } from '$lib/draw/picture';
import { pairPaint, scheduleFigure, short } from '$lib/draw/schedule';
import { balanceFigure } from '$lib/draw/schedule-balance';
import { toCsv } from '$lib/export/csv';
import { toSvg } from '$lib/export/svg';
import { fours, keyFileName, secretGroups, secretLine, strengthOf, typedKey } from '$lib/state/schedule-keys';
import { exampleDrawn, planFaults, viewDrawn } from '$lib/state/schedule-plan';
import { ScheduleState } from '$lib/state/schedule.svelte';
import { words } from '$lib/words';

const doc = JSON.parse(readFileSync(new URL('../fixtures/schedule.json', import.meta.url), 'utf8')) as ScheduleDocument;
const example = exampleDrawn(doc, 5);
const stamp = { when: '2026-06-01T09:00:00+01:00', by: 'C. Lead', reason: '' };
const seal: Seal = {
  id: 'seal 1',
  written: stamp,
  seal: 'ab'.repeat(32),
  plan: doc.plan,
  per_day: 5,
  rule: doc.rule,
  keys: [],
  in_force: true,
  trials_run: 0,
};
const rows = (opened: (i: number) => boolean): ScheduleTrial[] =>
  [...doc.trials, ...doc.spare].map((t, i) => ({
    ...{ trial: t.trial, spare: i >= doc.trials.length, block: 1, run: false, passes: 0, opened: opened(i) },
    ...(opened(i) ? { kind: t.kind!, active_pair: t.active_pair!, current_uA: t.current_uA!, odour: t.odour! } : {}),
  }));
const view = (more: Partial<Schedule> = {}): Schedule => ({
  ...{ study: 'bay', read_only: false, blind: true, pairs: ['A', 'B', 'C', 'D', 'E'], start: doc.plan },
  ...{ seals: [], trials: [], unscored: 0, openings: [], guesses: [], guessed: [], knowers: [], warnings: [] },
  ...{ after_opening: [], more_after_opening: 0 },
  ...more,
});
const partly = viewDrawn(view({ seals: [seal], trials: rows((i) => i < 6) }))!;
const balance = { balance: doc.balance!, currentsUA: doc.plan.currents_uA, drawPolarity: true, example: true };
const many = { ...example, perDay: 100, trials: Array.from({ length: 9000 }, (_, i) => example.trials[i % 24]!) };

const figures: [string, Figure][] = [
  ['schedule-example', scheduleFigure(example, 860)],
  ['schedule-example-narrow', scheduleFigure(example, 340)],
  ['schedule-partly', scheduleFigure(partly, 640)],
  ['schedule-balance', balanceFigure(balance, 560)],
  ['schedule-balance-narrow', balanceFigure(balance, 330)],
];

describe.each(figures)('%s', (name, figure) => {
  test('looks as stored', async () => {
    await expect(toSvg(figure.picture, (p) => `var(--${p})`)).toMatchFileSnapshot(`../pictures/${name}.svg`);
  });
  test('holds no number that is none', () => {
    expect(toSvg(figure.picture, (p) => p)).not.toMatch(/NaN|Infinity|undefined|null/);
  });
  test('text stays within the picture', () => {
    for (const m of figure.picture.marks) {
      if (m.kind !== 'text') continue;
      // A letter is at most about 0.62 of its height on the average.
      const wide = m.text.length * (m.size ?? 14) * 0.62;
      const left = m.anchor === 'end' ? m.x - wide : m.anchor === 'middle' ? m.x - wide / 2 : m.x;
      expect(left, m.text).toBeGreaterThan(-8);
      expect(left + wide, m.text).toBeLessThan(figure.picture.width + 12);
    }
  });
});

const texts = (f: Figure) => f.picture.marks.flatMap((m) => (m.kind === 'text' ? [m.text] : []));

describe('pictures of a schedule', () => {
  test('an example says so in its picture, its title and each row of its file', () => {
    for (const f of [scheduleFigure(example, 860), balanceFigure(balance, 560)]) {
      expect(texts(f)).toContain('Example, not the sealed schedule');
      expect(f.picture.title).toMatch(/^Example/);
      expect(f.name).toContain('example');
      const lines = toCsv(f.columns, f.rows).trim().split('\r\n').slice(1);
      expect(lines.every((l) => l.startsWith('"Example, not the sealed schedule",'))).toBe(true);
    }
    expect(texts(scheduleFigure(partly, 640)).join()).not.toContain('Example');
  });
  test('the file holds every trial with its day, block, pair and signed current', () => {
    const f = scheduleFigure(example, 860);
    expect(f.rows).toHaveLength(28);
    const column = (name: string) => f.rows.map((r) => r[f.columns.indexOf(name)]);
    expect(column('day').slice(0, 6)).toEqual([1, 1, 1, 1, 1, 2]);
    expect(column('current_uA').slice(0, 24)).toEqual(doc.trials.map((t) => t.current_uA));
    expect(column('active_pair').slice(0, 24)).toEqual(doc.trials.map((t) => t.active_pair));
    expect(column('kind').filter((k) => k === 'silent')).toHaveLength(2);
  });
  test('what is sealed has a question mark and nothing else', () => {
    const f = scheduleFigure(partly, 640);
    const sealed = f.rows.filter((r) => r[f.columns.indexOf('kind')] === 'sealed');
    expect(sealed).toHaveLength(22);
    for (const r of sealed) expect(r.slice(-3)).toEqual(['', null, null]);
    expect(texts(f).filter((t) => t === '?').length).toBe(23); // and one in the key
  });
  test('each trial is told in words', () => {
    const title = (i: number) => words.schedule.picture.trial(example.trials[i]!);
    for (const [i, t] of doc.trials.entries()) {
      expect(title(i)).toContain(`${t.trial}: ${t.kind === 'active' ? `pair ${t.active_pair}` : t.kind}`);
      expect(title(i).includes('no odour')).toBe(!t.odour);
    }
  });
  test('thousands of trials are counted, not drawn', () => {
    const f = scheduleFigure(many, 860);
    expect(texts(f).some((t) => t.startsWith('and 30 more rows'))).toBe(true);
    expect(f.rows).toHaveLength(9004);
  });
  test('pairs differ in shade, and long labels are cut', () => {
    expect(new Set([0, 1, 2, 3].map((i) => pairPaint(i, 4))).size).toBe(4);
    expect(pairPaint(0, 1)).toBe('field-1');
    expect([short('A', 24), short('north-east', 30)]).toEqual(['A', 'n…']);
  });
  test('bars stand for the counts of the program', () => {
    const f = balanceFigure(balance, 560);
    const at = (over: string) => f.rows.filter((r) => r[f.columns.indexOf('over')] === over);
    expect(at('Over currents').map((r) => r.at(-1))).toEqual(doc.balance!.pairs.flatMap((p) => p.by_current));
    expect(at('Over days')).toHaveLength(4 * 5);
    const reversed = at('Over polarity').filter((r) => r.at(-2) === 'reversed');
    expect(reversed.map((r) => r.at(-1))).toEqual(doc.balance!.pairs.map((p) => p.reversed));
  });
});

describe('what of a schedule may be drawn', () => {
  test('nothing while all of it is sealed', () =>
    expect(viewDrawn(view({ seals: [seal], trials: rows(() => false) }))).toBeUndefined());
  test('trials of the season beside the schedule are left out', () => {
    const more = { trial: 'X9', spare: false, block: 0, run: true, passes: 1, opened: true, active_pair: 'E' };
    const all = viewDrawn(view({ seals: [seal], trials: [...rows(() => true), more] }))!;
    expect(all.trials).toHaveLength(24);
    expect(all.spare).toHaveLength(4);
    expect(viewDrawn(view({ seals: [seal], trials: [...rows(() => false), more] }))).toBeUndefined();
  });
  test('a season in plain sight shows what it holds', () => {
    const of = (trial: string, more: Partial<ScheduleTrial>): ScheduleTrial => ({
      ...{ trial, spare: false, block: 0, run: true, passes: 1, opened: true },
      ...more,
    });
    const shown = viewDrawn(
      view({ blind: false, trials: [of('1', { active_pair: 'A' }), of('2', { active_pair: 'none' }), of('3', {})] }),
    )!;
    expect(shown.trials.map((t) => t.kind)).toEqual(['active', 'silent', 'blank']);
  });
});

describe('faults of a plan stand at their field', () => {
  // The sentences of core/schedule, as the program joins them.
  test.each([
    ['schedule: 1 pairs; expected 2 to 64, so that there is something to draw', 'pairs'],
    ['schedule: pair "A+B"; expected a label of printable letters', 'pairs'],
    ['schedule: a current of -1 µA; expected one above 0', 'currents_uA'],
    ['schedule: the current 6 µA is named twice; expected each once', 'currents_uA'],
    ['schedule: 0 trials; expected 1 to 100000', 'trials'],
    ['schedule: 4 trials, of which 4 are silent and 0 shams; expected at least one', 'trials'],
    ['schedule: 100001 silent trials; expected 0 to 100000', 'silent'],
    ['schedule: 100001 sham trials; expected 0 to 100000', 'sham'],
    ['schedule: 30 trials without odour; expected at most the 20 that drive a pair', 'odour_off'],
    ['schedule: 100001 spare trials; expected 0 to 100000', 'spare'],
    ['schedule: each pair 101 times in a block; expected 1 to 100', 'repeats'],
    ['schedule: 2 pairs cannot be drawn with at most 1 alike in a row; expected a larger limit', 'most_alike'],
  ])('%s', (message, field) => {
    const { faults, rest } = planFaults({ message, details: [] });
    expect([...faults.keys()]).toEqual([field]);
    expect(faults.get(field)).not.toMatch(/^schedule:/);
    expect(rest).toEqual([]);
  });
  test('several at once, with and without a place', () => {
    const two = planFaults({ message: 'schedule: 1 pairs; expected 2\nschedule: 0 trials; expected 1', details: [] });
    expect([...two.faults.keys()]).toEqual(['pairs', 'trials']);
    const placed = planFaults({
      message: 'validation failed',
      details: [
        { location: 'body.plan.spare', message: 'expected integer' },
        { location: 'body.per_day', message: 'expected number <= 1000' },
        { location: 'body.seed', message: 'odd' },
      ],
    });
    expect([...placed.faults]).toEqual([
      ['spare', 'expected integer'],
      ['per_day', 'expected number <= 1000'],
    ]);
    expect(placed.rest).toEqual(['odd']);
  });
});

describe('keys as people handle them', () => {
  // Letters as the age format writes a key; it opens nothing.
  const secret = 'AGE-SECRET-KEY-1GFPYYSJZGFPYYSJZGFPYYSJZGFPYYSJZGFPYYSJZGFPYYSJZGFPQ4EGAEX';
  test('a secret key is parted for paper and put together again', () => {
    const groups = secretGroups(secret);
    expect(groups[0]).toBe('AGE-SECRET-KEY-1');
    expect(groups.slice(1).every((g) => g.length <= 4)).toBe(true);
    expect(typedKey(groups.join(' '))).toBe(secret);
    expect(typedKey(groups.slice(1).join('-').toLowerCase())).toBe(secret);
  });
  test('letters that do not occur are read as what they were taken for', () => {
    expect(typedKey('age-secret-key-1 o1ib')).toBe('AGE-SECRET-KEY-10LL8');
    expect(typedKey('')).toBe('');
    expect(typedKey('AGE-SECRET-KEY-1')).toBe('');
  });
  test('the line of the key is found in its file, a protected one has none', () => {
    expect(secretLine(`# public key: age1abc\n${secret}\n`)).toBe(secret);
    expect(secretLine('-----BEGIN AGE ENCRYPTED FILE-----')).toBe('');
  });
  test('names and groups', () => {
    expect(keyFileName('age1qqqqqqxyz789')).toBe('brinefield-key-xyz789.txt');
    expect(fours('abcdefghij')).toEqual(['abcd', 'efgh', 'ij']);
    expect(fours('')).toEqual([]);
  });
  test.each([
    ['', 'none'],
    ['shark', 'short'],
    ['aaaaaaaaaaaaaaaaaaaaaaaa', 'short'],
    ['thornback ray', 'simple'],
    ['kelp lantern ninety violin moss', 'good'],
  ] as const)('strength of %j', (passphrase, strength) => expect(strengthOf(passphrase)).toBe(strength));
});

describe('the state of the page', () => {
  const program = (views: Schedule[]) => {
    let asked = 0;
    return {
      view: () => {
        const next = views[Math.min(asked, views.length - 1)];
        asked++;
        return next ? Promise.resolve(next) : Promise.reject(new RequestError(503, 'busy'));
      },
    } as unknown as ScheduleProgram;
  };
  test('a change is told to everybody and read again', async () => {
    const told: unknown[] = [];
    const page = new ScheduleState(program([view(), view({ seals: [seal], trials: rows(() => false) })]), (e) =>
      told.push(e),
    );
    await page.load();
    expect(page.seal).toBeUndefined();
    await page.after({ entries: [{ kind: 'seal' }] });
    expect(told).toEqual([[{ kind: 'seal' }]]);
    expect(page.seal?.id).toBe('seal 1');
    expect([page.opened, page.open]).toEqual([0, false]);
  });
  test('the plan begins with that of the study; what was turned stays', async () => {
    const page = new ScheduleState(program([view()]), () => undefined);
    await page.load();
    page.draft.tick('B', false);
    page.draft.turn('trials', 30);
    await page.load();
    expect(page.draft.plan).toMatchObject({ pairs: ['A', 'C', 'D'], trials: 30 });
    page.draft.tick('E', true);
    page.draft.tick('B', true);
    expect(page.draft.plan?.pairs).toEqual(['A', 'B', 'C', 'D', 'E']);
  });
  test('a refused reading keeps what was there', async () => {
    const page = new ScheduleState(program([]), () => undefined);
    await page.load();
    expect(page.problem?.status).toBe(503);
  });
});

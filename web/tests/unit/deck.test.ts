// The parts of the tablet's pages that need no browser.
import { describe, expect, test } from 'vitest';
import { Fold, prefixOf } from '../../src/deck/fold';
import { padKey, padReads } from '../../src/deck/pad';
import { fit } from '../../src/deck/photo';
import { bounceMs, Taps } from '../../src/deck/taps';
import { dayOf, minutes, offsetMin, readTime, rfc3339 } from '../../src/deck/times';
import { beside, running, trialTimer, upcoming, washoutTimer } from '../../src/deck/trials';
import { readSelf, readView } from '../../src/deck/view';
import * as w from '../../src/deck/writings';
import { noHead, parse, seal, type Draft, type Entry, type Head } from '$lib/offline/entry';
import { tablet as words } from '$lib/words/en-tablet';
import { view as study } from '../e2e/deck/study';

// Changes of the clocks in 2031: Europe on 30 March and 26 October at 01:00 UTC
// (Directive 2000/84/EC); New South Wales on 6 April and 5 October at 16:00 UTC
// of the day before (Standard Time Act 1987); Nepal keeps +05:45.
describe('times of the site', () => {
  test.each([
    ['2031-03-30T00:59:59Z', 'Europe/Dublin', '2031-03-30T00:59:59+00:00'],
    ['2031-03-30T01:00:00Z', 'Europe/Dublin', '2031-03-30T02:00:00+01:00'],
    ['2031-10-26T00:59:59Z', 'Europe/Dublin', '2031-10-26T01:59:59+01:00'],
    ['2031-10-26T01:00:00Z', 'Europe/Dublin', '2031-10-26T01:00:00+00:00'],
    ['2031-04-05T15:59:59Z', 'Australia/Sydney', '2031-04-06T02:59:59+11:00'],
    ['2031-04-05T16:00:00Z', 'Australia/Sydney', '2031-04-06T02:00:00+10:00'],
    ['2031-06-14T12:00:00.900Z', 'Asia/Kathmandu', '2031-06-14T17:45:00+05:45'],
    ['2031-01-01T02:00:00Z', 'America/St_Johns', '2030-12-31T22:30:00-03:30'],
    ['2031-06-14T00:00:00Z', 'UTC', '2031-06-14T00:00:00+00:00'],
    ['2031-06-14T00:00:00Z', 'No/Such_Zone', '2031-06-14T00:00:00+00:00'],
  ])('%s in %s', (utc, zone, expected) => {
    expect(rfc3339(Date.parse(utc), zone)).toBe(expected);
    expect(readTime(expected, zone)).toBe(Math.floor(Date.parse(utc) / 1000) * 1000);
  });
  test('every hour of the year comes back, in both halves of a doubled hour', () => {
    for (let ms = Date.UTC(2031, 0, 1); ms < Date.UTC(2032, 0, 1); ms += 3_600_000) {
      expect(Date.parse(rfc3339(ms, 'Europe/Dublin'))).toBe(ms);
      // Without an offset only the doubled hour is open: it is read as one of its two.
      const bare = readTime(rfc3339(ms, 'Europe/Dublin').slice(0, 19), 'Europe/Dublin');
      expect(Math.abs(bare - ms) === 0 || ms === Date.UTC(2031, 9, 26, 0) || ms === Date.UTC(2031, 9, 26, 1)).toBe(
        true,
      );
    }
  });
  test('days and lengths', () => {
    expect(dayOf(Date.parse('2031-06-13T23:30:00Z'), 'Europe/Dublin')).toBe('2031-06-14');
    expect(offsetMin(0, 'UTC')).toBe(0);
    expect([0, 59.9, 61, 3600, 36061, -5].map(minutes)).toEqual([
      '0:00',
      '0:59',
      '1:01',
      '1:00:00',
      '10:01:01',
      '0:00',
    ]);
    expect(readTime('yesterday', 'UTC')).toBeNaN();
  });
});

test('taps: two on one button within 400 ms are one, on two buttons they are two', () => {
  let now = 0;
  const taps = new Taps(() => now);
  const at = (ms: number, key: string) => ((now = ms), taps.take(key));
  expect([at(0, 'a'), at(399, 'a'), at(790, 'a'), at(1190, 'a')]).toEqual([true, false, false, true]);
  expect([at(1200, 'b'), at(1210, 'a'), at(1220, 'b')]).toEqual([true, true, true]);
  expect(at(1220 + bounceMs, 'b')).toBe(true);
});

test('a number is tapped in', () => {
  const type = (keys: string) => [...keys].reduce(padKey, '');
  expect(['91', '9.1', '.5', '0012', '5±', '±5±', '1.2.3', '12⌫', '⌫', '1234567890'].map(type)).toEqual([
    '91',
    '9.1',
    '0.5',
    '12',
    '-5',
    '5',
    '1.23',
    '1',
    '',
    '123456789',
  ]);
  expect(['', '-', '0.', '1.5', '-2'].map(padReads)).toEqual([false, false, false, true, true]);
});

test('photos shrink to fit and never grow', () => {
  expect(fit(8000, 6000)).toEqual({ width: 3000, height: 2250 });
  expect(fit(600, 800)).toEqual({ width: 600, height: 800 });
  expect(fit(1, 90000)).toEqual({ width: 1, height: 3000 });
});

describe('trials', () => {
  const trials = readView(study()).trials;
  const t = (trial: string, fields: Record<string, string>, more = {}) => ({
    trial,
    planned: true,
    spare: false,
    fields,
    passes: 0,
    ...more,
  });
  const now = Date.parse('2031-06-14T12:00:00Z');
  test('the next are those that were not begun, spare draws last', () => {
    expect(upcoming(trials).map((x) => x.trial)).toEqual(['T002', 'T003', 'T004', 'T005']);
    expect(upcoming([t('S1', {}, { spare: true }), t('T9', {})]).map((x) => x.trial)).toEqual(['T9', 'S1']);
    expect(beside(trials)).toBe('T006');
    expect(beside([])).toBe('T001');
    expect(beside([t('Day 9', {})])).toBe('Day 10');
  });
  test('which runs: the chosen one, else the newest of the last day', () => {
    const some = [
      t('T1', { start: '2031-06-01T12:00:00Z' }),
      t('T2', { start: '2031-06-14T10:00:00Z' }),
      t('T3', { start: '2031-06-14T11:00:00Z', end: '2031-06-14T11:30:00Z' }),
    ];
    expect(running(some, 'UTC', '', now)?.trial).toBe('T2');
    expect(running(some, 'UTC', 'T1', now)?.trial).toBe('T1');
    expect(running(some, 'UTC', 'T3', now)?.trial).toBe('T2');
    expect(running([some[0]!], 'UTC', '', now)).toBeUndefined();
  });
  test('countdown and washout', () => {
    expect(trialTimer(now, 30, now + 600_000)).toEqual({ state: 'running', seconds: 1200, share: 1 / 3 });
    expect(trialTimer(now, 30, now + 1_860_000)).toMatchObject({ state: 'over', seconds: 60 });
    expect(trialTimer(now, 30, now - 999_000)).toMatchObject({ state: 'running', seconds: 1800 });
    expect(trialTimer(now, 0, now + 5000)).toMatchObject({ state: 'running', seconds: 5 });
    const ended = [t('T1', { start: '2031-06-14T11:00:00Z', end: '2031-06-14T11:55:00Z' })];
    expect(washoutTimer(ended, 'UTC', 10, now)).toEqual({ state: 'washout', seconds: 300, share: 0.5 });
    expect(washoutTimer(ended, 'UTC', 5, now).state).toBe('free');
    expect(washoutTimer(ended, 'UTC', 0, now).state).toBe('free');
    expect(washoutTimer(ended, 'UTC', 10, now - 3_600_000).state, 'a clock far before the end').toBe('free');
  });
});

/** Writer seals drafts as the log does. */
class Writer {
  head: Head = noHead;
  constructor(
    readonly device = 'deck-7c1e',
    readonly entries: Entry[] = [],
  ) {}
  async write(d: Draft): Promise<Entry> {
    const stamp = { wallMs: 1_939_204_800_000, monotonicUS: 1, run: 'r', random: new Uint8Array(10) };
    const s = await seal(this.head, this.device, { ...d, author: 'person:' + 'ab'.repeat(32) }, stamp);
    this.head = s.head;
    this.entries.push(parse(s.text));
    return this.entries.at(-1)!;
  }
}

describe('what is so on deck', () => {
  const view = readView(study());
  const pass = (n: number, more = {}) =>
    w.pass(`7c1e-000${n}`, {
      trial: 'T002',
      time: '2031-06-14T12:00:00+01:00',
      pair: 'B',
      response: view.spec.responses[2]!,
      species: 'Raja clavata',
      individual: 'Blotch',
      scorer: 'person:' + 'ab'.repeat(32),
      ...more,
    });

  test('a pass holds what was tapped and leaves out what is blank', () => {
    expect(pass(1).body.fields).toMatchObject({ turned: 'yes', bit: 'yes', pair: 'B', individual: 'Blotch' });
    expect(pass(1).body.fields).not.toHaveProperty('response');
    const blank = pass(1, { response: view.spec.responses[6]!, individual: '' }).body.fields!;
    expect(Object.keys(blank).sort()).toEqual(['pair', 'response', 'scorer', 'species', 'time', 'trial']);
  });

  test('numbers go on after the highest that was ever given, also after an undo', async () => {
    const writer = new Writer();
    const e = await writer.write(pass(7));
    await writer.write(w.undo(e)!);
    const fold = new Fold(view, new Map(), writer.entries);
    expect(fold.next('deck-7c1e', 'pass')).toBe('7c1e-0008');
    expect(fold.next('deck-7c1e', 'pass')).toBe('7c1e-0009');
    expect(fold.next('deck-7c1e', 'check')).toBe('7c1e-c0001');
    expect(fold.next('deck-7c1e-2', 'pass'), 'as a new device').toBe('7c1e-2-0001');
    expect(prefixOf('deck-7c1e-2')).toBe('7c1e-2');
  });

  test('undo takes back one entry after the other, corrections to what was before', async () => {
    const writer = new Writer();
    await writer.write(pass(1));
    const fold = () => new Fold(view, new Map(), writer.entries);
    await writer.write(
      w.correct('pass', '7c1e-0001', fold().ownOf('pass', '7c1e-0001')!.fields, { height_class: 'low' })!,
    );
    await writer.write(
      w.correct('pass', '7c1e-0001', fold().ownOf('pass', '7c1e-0001')!.fields, { height_class: 'high' })!,
    );
    const heights = [];
    for (let i = 0; i < 3; i++) {
      heights.push(fold().ownOf('pass', '7c1e-0001')?.fields.height_class);
      const last = fold().last!;
      const back = await writer.write(w.undo(last)!);
      expect(back.undoes).toBe(last.id);
    }
    expect(heights).toEqual(['high', 'low', undefined]);
    expect(fold().own('pass')).toEqual([]);
    expect(fold().last).toBeUndefined();
  });

  test('a trial of the laptop with what was begun here over it; what the laptop has is not counted twice', async () => {
    const writer = new Writer();
    await writer.write(w.correct('trial', 'T002', {}, { start: '2031-06-14T12:00:00+01:00' })!);
    await writer.write(pass(1));
    await writer.write(pass(2));
    await writer.write(w.count('7c1e-k0001', { permit: 'P1', time: 't', animals: '1', by: 'b' }));
    const t2 = (f: Fold) => f.trials.find((x) => x.trial === 'T002')!;
    const fresh = new Fold(view, new Map(), writer.entries);
    expect(t2(fresh)).toMatchObject({ passes: 2, fields: { start: '2031-06-14T12:00:00+01:00' } });
    expect(fresh.permits[0]!.animals).toBe(39);
    expect(fresh.individuals.find((i) => i.id === 'Blotch')!.passes).toBe(14);
    // The laptop's next view holds the first three entries.
    const later = structuredClone(view);
    later.trials[1] = { ...later.trials[1]!, fields: { start: '2031-06-14T12:01:00+01:00' }, passes: 2 };
    const after = new Fold(later, new Map([['deck-7c1e', 3]]), writer.entries);
    expect(t2(after), 'corrected on the laptop since').toMatchObject({
      passes: 2,
      fields: { start: '2031-06-14T12:01:00+01:00' },
    });
    expect(after.permits[0]!.animals).toBe(39);
    // Taking back what the laptop has counts down.
    await writer.write(w.undo(writer.entries[2]!)!);
    expect(t2(new Fold(later, new Map([['deck-7c1e', 3]]), writer.entries)).passes).toBe(1);
  });

  test('an animal that got a name here, with its photo', async () => {
    const writer = new Writer();
    await writer.write(w.correct('individual', 'Comet', {}, { species: 'Raja clavata', sex: '', mark: 'white tail' })!);
    await writer.write(
      w.attachment('7c1e-a0001', {
        kind: 'photo',
        ref: 'f'.repeat(64),
        about: 'individual/Comet',
        type: 'image/jpeg',
        bytes: '3',
        time: 't',
        by: 'b',
      }),
    );
    const comet = new Fold(view, new Map(), writer.entries).individuals.find((i) => i.id === 'Comet')!;
    expect(comet).toMatchObject({ species: 'Raja clavata', mark: 'white tail', pictures: ['f'.repeat(64)] });
    await writer.write(w.undo(writer.entries[0]!)!);
    expect(new Fold(view, new Map(), writer.entries).individuals.some((i) => i.id === 'Comet')).toBe(false);
  });
});

describe('what another version of the app kept', () => {
  test('less: what is missing is empty, and passes can be logged', () => {
    const v = readView({
      study: 'bay',
      identity: 'x',
      zone: 'Europe/Dublin',
      trials: null,
      species: [{ name: 'Raja clavata' }, null],
    });
    expect(v).toMatchObject({ trials: [], individuals: [], permits: [], people: [] });
    expect(v.species).toEqual([{ name: 'Raja clavata', aliases: [] }]);
    expect(v.spec.responses.length).toBeGreaterThan(0);
    expect(new Fold(v, new Map(), []).trials).toEqual([]);
  });
  test('more, and of other types: nothing throws', () => {
    const odd = {
      ...study(),
      spec: { responses: [{ label: 'X', turned: 7, later: true }], trial_min: 'soon' },
      zone: 3,
      new_key: [1],
    };
    const v = readView(odd);
    expect(v.spec.responses).toEqual([{ word: '', label: 'X', turned: '', bit: '', electrode: false, later: true }]);
    expect([v.spec.trial_min, v.zone]).toEqual([0, 'UTC']);
    for (const raw of [undefined, null, 3, 'x', [], {}]) {
      expect(readView(raw).trials).toEqual([]);
      expect(readSelf(raw)).toMatchObject({ paired: false, studies: [] });
    }
  });
});

describe('words', () => {
  test('an entry of a current never tells the current', async () => {
    const e = await new Writer().write(
      w.reading('7c1e-r0001', { trial: 'T1', when: 'before', time: 't', by: 'b', ref: 'a'.repeat(64) }),
    );
    expect(words.entry(e)).toBe('Current before the trial');
  });
  test('limits of a permit', () => {
    expect(words.animalsLeft(39, 40)).toBe('39 of 40 animals; 1 left');
    expect(words.animalsLeft(42, 40)).toBe('42 animals: 2 over the limit of 40');
    expect(words.hoursLeft(11.55, 12)).toBe('11.55 of 12 h; 0.45 h left');
    expect(words.animalsLeft(1, undefined)).toBe('1 animal');
  });
  test('species by the name that people use, where there is one', () => {
    expect(words.species('Raja clavata', [{ name: 'Raja clavata', aliases: ['R. clavata', 'thornback ray'] }])).toBe(
      'Thornback ray',
    );
    expect(words.species('Raja clavata', [{ name: 'Raja clavata', aliases: ['R. clavata'] }])).toBe('Raja clavata');
  });
});

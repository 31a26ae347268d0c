import { readFileSync } from 'node:fs';
import { describe, expect, test, vi } from 'vitest';
import { RequestError } from '$lib/api/client';
import type { DeckProgram, TabletsProgram } from '$lib/api/deck';
import type { Deck, DeckLog, DeckPass, Tablets } from '$lib/api/types';
import { clockTicks, deckPassesFigure } from '$lib/draw/deck-passes';
import { toSvg } from '$lib/export/svg';
import {
  aboutOf,
  apartAsWrittenS,
  checkedTrials,
  dayOf,
  daysOf,
  devicesOf,
  fieldsApart,
  minutesOf,
  ofTablet,
  readTrials,
  talliesOf,
  timeOfDay,
  trialRows,
} from '$lib/state/deck-log';
import { DeckState } from '$lib/state/deck.svelte';
import { grouped, secondsLeft, TabletsState } from '$lib/state/tablets.svelte';
import { words } from '$lib/words';
import { passSays, responseOf } from '$lib/words/deck-pass';

const read = <T>(name: string): T =>
  JSON.parse(readFileSync(new URL(`../fixtures/${name}.json`, import.meta.url), 'utf8')) as T;
const deck = read<Deck>('study-deck');
const log = read<DeckLog>('study-deck-log');
const tablets = read<Tablets>('tablets');

describe('what came in', () => {
  test('times stay as they were recorded', () => {
    expect(minutesOf('2025-06-03T13:41:30+01:00')).toBe(821.5);
    expect(minutesOf('2025-06-03T13:41')).toBe(821);
    for (const none of ['', 'soon', '2025-06-03', '13:41', '2025-06-03T99:00']) expect(minutesOf(none)).toBeUndefined();
    expect(timeOfDay('2025-06-03T13:41:30+01:00')).toBe('13:41:30');
    expect([dayOf('2025-06-03T13:41:30Z'), dayOf('noon')]).toEqual(['2025-06-03', '']);
  });
  test('times apart as they are written, whatever their offsets from UTC', () => {
    const at = (...times: string[]) =>
      apartAsWrittenS(times.map((time) => ({ pass: time, device: '', fields: { time } as Record<string, string> })));
    expect(at('2025-06-03T13:41:30+01:00', '2025-06-03T12:43:00Z')).toBe(90);
    expect(at('2025-06-03T13:41:30+01:00', '2025-06-03T13:41:30')).toBeUndefined();
    expect(at('2025-06-03T13:41:30+01:00', '')).toBeUndefined();
    expect(at('2025-06-03T13:41:30+01:00')).toBeUndefined();
  });
  test('a laptop of before is no tablet', () => {
    expect(['deck-7c1e', 'deck-7c1e-2', '90f6894af9380e23'].map(ofTablet)).toEqual([true, true, false]);
  });
  test('every pass is in one row of the numbers', () => {
    const devices = devicesOf(log.passes);
    expect(devices).toEqual(['deck-7c1e', 'deck-b20a']);
    expect(daysOf(log.passes)).toEqual(['2025-06-03']);
    const rows = trialRows(log.passes, devices);
    expect(rows.map((r) => r.trial)).toEqual(['T001', 'T002', 'T003']);
    expect(rows.reduce((n, r) => n + r.all, 0)).toBe(log.passes.length);
    for (const r of rows) {
      expect(r.counts.reduce((a, b) => a + b)).toBe(r.all);
      expect(r.first <= r.last).toBe(true);
    }
  });
  test('the later look at one thing counts, and the newest current', () => {
    const one = log.checks[0]!;
    const again = [{ ...one, id: 'later', state: 'ok' as const }, one];
    expect(checkedTrials(again)[0]).toMatchObject({ trial: one.trial, bad: [] });
    expect(
      checkedTrials(log.checks)
        .find((t) => t.trial === 'T003')
        ?.bad.map((c) => c.check),
    ).toEqual(['level']);
    const reading = log.readings.find((r) => r.current_uA !== undefined)!;
    expect(readTrials([{ ...reading, id: 'newer', current_uA: 8 }, reading])[0]?.before?.current_uA).toBe(8);
  });
  test('a bar is full at its limit and never longer', () => {
    const [animals, hours] = talliesOf(deck.permits[0]!);
    expect(animals).toMatchObject({ what: 'animals', counted: 64, most: 80, share: 0.8, over: false });
    expect(hours).toMatchObject({ what: 'hours', share: 1, over: true });
    expect(talliesOf(deck.permits[1]!)).toEqual([]);
    expect(talliesOf({ ...deck.permits[1]!, animals_most: 0 })[0]).toMatchObject({ share: 1, over: false });
  });
  test('what differs comes first', () => {
    const { passes, differ } = log.same[0]!;
    const rows = fieldsApart(passes, differ, ['time', 'individual']);
    expect(rows.slice(0, 2)).toEqual([
      { field: 'time', differs: true },
      { field: 'individual', differs: true },
    ]);
    const firstSame = rows.findIndex((r) => !r.differs);
    expect(rows.slice(firstSame).every((r) => !r.differs)).toBe(true);
    expect(rows.map((r) => r.field)).not.toContain('response');
  });
  test('about what a photo is', () => {
    expect(aboutOf('pass/7c1e-0004')).toEqual({ kind: 'pass', id: '7c1e-0004' });
    expect(aboutOf('individual/a/b')).toEqual({ kind: 'individual', id: 'a/b' });
    expect(aboutOf('')).toEqual({ kind: '', id: '' });
  });
  test('a pass says what its button said', () => {
    const pass = (fields: Record<string, string>): DeckPass => ({ pass: 'x', device: 'd', fields });
    const say = (fields: Record<string, string>) => passSays(pass(fields), deck.spec.responses);
    expect(say({ turned: 'yes', bit: 'no' })).toBe('Turn');
    expect(say({ turned: 'yes', bit: 'yes', bite_electrode: 'positive' })).toBe('Bite, positive');
    expect(say({ turned: 'yes', bit: 'no', response: 'avoidance' })).toBe('Avoided');
    expect(say({ response: 'a word of last year' })).toBe('a word of last year');
    expect(passSays(pass({ turned: 'yes', bit: 'no' }), [])).toBe('turned');
    expect(passSays(pass({}), [])).toBe('not scored');
    expect(responseOf({ response: 'unscorable' }, deck.spec.responses)?.label).toBe('Cannot be scored');
  });
});

describe('the passes of a day', () => {
  const say = (p: DeckPass) => passSays(p, deck.spec.responses);
  const make = (passes: DeckPass[], width = 720) =>
    deckPassesFigure(passes, '2025-06-03', devicesOf(passes), say, width);
  test.each([
    ['deck-passes', 720],
    ['deck-passes-narrow', 420],
  ])('%s looks as stored', async (name, width) => {
    const figure = make(log.passes, width);
    await expect(toSvg(figure.picture, (p) => `var(--${p})`)).toMatchFileSnapshot(`../pictures/${name}.svg`);
    expect(JSON.stringify(figure.picture)).not.toMatch(/NaN|Infinity|undefined/);
    expect(figure.rows).toHaveLength(log.passes.length);
    expect(figure.rows.every((r) => r.length === figure.columns.length)).toBe(true);
  });
  test('without a time, or without a pass, it is still a picture', () => {
    const odd = make([{ pass: 'p', device: 'deck-1', fields: { time: 'noon' } }]);
    expect(odd.rows).toEqual([]);
    expect(JSON.stringify([odd.picture, make([]).picture])).not.toMatch(/NaN|Infinity|undefined/);
  });
  test('ticks are at even times', () => {
    expect(clockTicks(480, 840).map((t) => t.value)).toEqual([480, 540, 600, 660, 720, 780, 840]);
    expect(clockTicks(601, 609).map((t) => t.value)).toEqual([602, 604, 606, 608]);
    expect(clockTicks(0, 1440).length).toBeLessThanOrEqual(8);
  });
});

describe('the page', () => {
  test('reads both views, keeps them when the program is gone, and reads again after others wrote', async () => {
    let gone = false;
    let asked = 0;
    const program = {
      view: () => (gone ? Promise.reject(new RequestError(0, '')) : Promise.resolve(deck)),
      log: () => {
        asked++;
        return Promise.resolve(log);
      },
    } as unknown as DeckProgram;
    const page = new DeckState(program, () => undefined);
    await page.load();
    expect([page.waiting, page.readOnly]).toEqual([1, false]);
    gone = true;
    await page.load();
    expect([page.problem?.status, page.view?.study]).toEqual([0, deck.study]);
    const before = asked;
    page.take([{ kind: 'calibration' }] as unknown as Parameters<DeckState['take']>[0]);
    expect(asked).toBe(before);
    page.take([{ kind: 'pass' }] as unknown as Parameters<DeckState['take']>[0]);
    expect(asked).toBe(before + 1);
  });
});

describe('tablets', () => {
  const program = (views: Tablets[]): TabletsProgram => {
    let i = 0;
    return {
      view: () => Promise.resolve(views[Math.min(i++, views.length - 1)]!),
      change: () => Promise.reject(new RequestError(409, 'the port is taken')),
      code: () => Promise.resolve({ code: 'KPAR7M2Q', ends: '2025-06-03T15:02:00Z', study: 'tank-2', role: 'scorer' }),
      role: () => Promise.resolve(views[0]!),
    };
  };
  test('a tablet that came in with the code is named, and the code is gone', async () => {
    const before = { ...tablets, devices: tablets.devices.slice(1) };
    const state = new TabletsState(program([before, before, tablets]));
    await state.look();
    await state.pair({ study: 'tank-2', role: 'scorer' });
    await state.look();
    expect([state.code?.code, state.joined]).toEqual(['KPAR7M2Q', '']);
    await state.look();
    expect([state.code, state.joined]).toEqual([undefined, 'Yellow tablet']);
  });
  test('a refusal is kept and the page goes on', async () => {
    const state = new TabletsState(program([tablets]));
    expect(await state.change({ serve: true })).toBe(false);
    expect([state.refused?.message, state.busy]).toEqual(['the port is taken', false]);
  });
  test('it is asked again every three seconds, only while the page is seen', async () => {
    vi.useFakeTimers();
    try {
      let asked = 0;
      let seen = true;
      const state = new TabletsState({
        ...program([tablets]),
        view: () => {
          asked++;
          return Promise.resolve(tablets);
        },
      });
      const stop = state.watch(() => seen);
      await vi.advanceTimersByTimeAsync(9000);
      expect(asked).toBe(4);
      seen = false;
      await vi.advanceTimersByTimeAsync(60_000);
      expect(asked).toBe(4);
      stop();
      seen = true;
      await vi.advanceTimersByTimeAsync(60_000);
      expect(asked).toBe(4);
    } finally {
      vi.useRealTimers();
    }
  });
  test('a code is counted down and read aloud in fours', () => {
    const ends = '2025-06-03T15:02:00+01:00';
    expect(secondsLeft(ends, Date.parse('2025-06-03T14:00:30Z'))).toBe(90);
    expect(secondsLeft(ends, Date.parse('2025-06-03T14:03:00Z'))).toBe(0);
    expect(secondsLeft('later', 0)).toBe(0);
    expect(grouped('KPAR7M2Q')).toBe('KPAR 7M2Q');
    expect(grouped('KPAR-7M2Q')).toBe('KPAR 7M2Q');
  });
});

test('offsets are said with their direction', () => {
  const w = words.deckPage.log;
  expect(w.devices.offset(-74.2, '')).toBe('Its clock was 1 min 14 s behind this laptop.');
  expect(w.devices.offset(3600, '')).toBe('Its clock was 1 h ahead of this laptop.');
  expect(w.align.how(3, 12.34)).toBe(
    'The times of 3 passes become 12.3 s earlier. So do the starts and ends of trials that stand as it wrote them. Each gets an entry of its own and can be taken back in its history.',
  );
  expect(w.align.how(1, -0.5)).toMatch(/^The times of 1 pass become 0.50 s later/);
});

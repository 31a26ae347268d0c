import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { RequestError } from '$lib/api/client';
import type { EditDone, EditRequest, History } from '$lib/api/studies';
import type { Deck } from '$lib/api/types';
import {
  addsOf,
  blankCells,
  clockOf,
  compared,
  faultsOfRow,
  firstFree,
  isBlank,
  laterBy,
  newAnimals,
  paperName,
  pick,
  settled,
  timeOf,
  toBegin,
  trialFaults,
  type Cells,
  type PaperRow,
} from '$lib/state/paper';
import { isDate, todayAt, type Shelf } from '$lib/state/paper-shelf';
import { Paper } from '$lib/state/paper.svelte';

const deck = JSON.parse(readFileSync(new URL('../fixtures/study-deck.json', import.meta.url), 'utf8')) as Deck;
const cells = (change: Partial<Cells>): Cells => ({ ...blankCells(), ...change });
const good = cells({
  trial: 'T003',
  time: '14:12',
  pair: 'B',
  species: 'Raja clavata',
  individual: 'RC03',
  response: 'Turn',
  height_class: 'low',
});
const rows = (...all: Cells[]): PaperRow[] => all.map((c, key) => ({ key, cells: c }));

test.each([
  ['1412', '14:12'],
  ['14:12', '14:12'],
  ['9.05', '09:05'],
  ['905', '09:05'],
  ['14h12', '14:12'],
  ['141205', '14:12:05'],
  ['14:12:05', '14:12:05'],
  ['2460', undefined],
  ['2500', undefined],
  ['14', undefined],
  ['noon', undefined],
  ['', undefined],
])('the time %j is read as %j', (typed, clock) => expect(clockOf(typed)).toBe(clock));

test('minutes after the row above', () => {
  expect(timeOf('+3', '14:12')).toBe('14:15');
  expect(timeOf('+ 2.5', '14:12')).toBe('14:14:30');
  expect(timeOf('+3', '14:12:05')).toBe('14:15:05');
  expect(timeOf('+3', '')).toBeUndefined();
  expect(laterBy('23:58', 3)).toBeUndefined();
});

test('first letters pick from the list, in its order', () => {
  const of = (...values: string[]) => values.map((value) => ({ value, also: [] as string[] }));
  expect(pick('t', of('No turn', 'Turn', 'Bite'))).toBe('Turn');
  expect(pick('TURN', of('Turned late', 'Turn'))).toBe('Turn');
  expect(pick('x', of('Turn'))).toBeUndefined();
  expect(pick('', of('Turn'))).toBeUndefined();
  expect(pick('clav', [{ value: 'Raja clavata', also: ['thornback ray'] }])).toBe('Raja clavata');
  expect(pick('thorn', [{ value: 'Raja clavata', also: ['thornback ray'] }])).toBe('Raja clavata');
});

describe('a cell that is left', () => {
  test.each([
    ['response', 'b', 'Bite'],
    ['response', 'avoidance', 'Avoided'],
    ['species', 's', 'Scyliorhinus canicula'],
    ['individual', 'blot', 'Blotch'],
    ['individual', 'Blot!', 'Blot'],
    ['individual', '?', ''],
    ['individual', 'New one', 'New one'],
    ['height_class', 'm', 'mid'],
    ['watched_s', '4,5', '4.5'],
    ['note', ' as it is ', 'as it is'],
    ['time', '+3', '14:15'],
    ['pair', '"', 'B'],
    ['note', '″', ''],
  ] as const)('%s %j becomes %j', (column, typed, is) => expect(settled(column, typed, good, deck)).toBe(is));
});

describe('faults of a row', () => {
  const wrong = (change: Partial<Cells>, above?: Cells) =>
    Object.keys(faultsOfRow(cells({ ...good, ...change }), above, deck));
  test('none in a good one, none in a blank one', () => {
    expect(wrong({})).toEqual([]);
    expect(faultsOfRow(blankCells(), undefined, deck)).toEqual({});
    expect(faultsOfRow(cells({ trial: 'T003' }), undefined, deck)).toEqual({});
  });
  test.each([
    ['trial', { trial: 'T0O3' }],
    ['time', { time: '25:00' }],
    ['time', { time: '+3' }],
    ['pair', { pair: 'Z' }],
    ['species', { species: 'Mustelus', individual: 'X' }],
    ['response', { response: 'zzz' }],
    ['height_class', { height_class: 'surface' }],
    ['bite_electrode', { response: 'Bite' }],
    ['bite_electrode', { bite_electrode: 'positive' }],
    ['watched_s', { watched_s: 'long' }],
    ['species', { species: 'Scyliorhinus canicula' }],
  ] as const)('at %s', (column, change) => expect(wrong(change)).toEqual([column]));
  test('first letters are no fault', () => expect(wrong({ species: 'Raja', response: 'tu' })).toEqual([]));
  test('what is missing is said', () =>
    expect(Object.keys(faultsOfRow(cells({ note: 'wake' }), undefined, deck))).toEqual([
      'trial',
      'time',
      'pair',
      'species',
      'response',
    ]));
});

describe('what is sent', () => {
  test('trials that nobody began, new animals, then passes, all in one', () => {
    const list = rows(
      good,
      blankCells(),
      cells({
        ...good,
        trial: 'T004',
        time: '15:01',
        individual: 'Notch',
        response: 'Bite',
        bite_electrode: 'positive',
        watched_s: '4.5',
        note: 'came twice',
      }),
    );
    expect(toBegin(list, deck)).toEqual(['T004']);
    expect(newAnimals(list, deck)).toEqual([{ id: 'Notch', species: 'Raja clavata' }]);
    const trial = { start: '1500', end: '1550', temperature_C: '14,2', salinity: '', note: '' };
    const { add } = addsOf(
      { date: '2025-06-03', scorer: 'N. Example', rows: list, trials: { T004: trial }, first: 7 },
      deck,
    );
    expect(add.map((a) => [a.kind, a.id])).toEqual([
      ['trial', 'T004'],
      ['individual', 'Notch'],
      ['pass', 'paper-0007'],
      ['pass', 'paper-0008'],
    ]);
    expect(add[0]?.fields).toEqual({
      start: '2025-06-03T15:00',
      end: '2025-06-03T15:50',
      temperature_C: '14.2',
      observers: 'N. Example',
    });
    expect(add[2]?.fields).toEqual({
      trial: 'T003',
      time: '2025-06-03T14:12',
      individual: 'RC03',
      species: 'Raja clavata',
      pair: 'B',
      turned: 'yes',
      bit: 'no',
      height_class: 'low',
      scorer: 'N. Example',
    });
    expect(add[3]?.fields).toMatchObject({ turned: 'yes', bit: 'yes', bite_electrode: 'positive', watched_s: '4.5' });
  });
  test('times of a trial', () => {
    const t = { start: '0900', end: '0850', temperature_C: 'warm', salinity: '34', note: '' };
    expect(Object.keys(trialFaults(t))).toEqual(['end', 'temperature_C']);
    expect(trialFaults({ ...t, end: '0950', temperature_C: '' })).toEqual({});
  });
  test('numbers that were ever used are not used again', async () => {
    for (const used of [0, 1, 2, 3, 7, 8, 9, 100, 1023]) {
      let asked = 0;
      const free = await firstFree((name) => {
        asked++;
        return Promise.resolve(Number(name.slice(6)) <= used);
      });
      expect(free).toBe(used + 1);
      expect(asked).toBeLessThanOrEqual(2 * Math.ceil(Math.log2(used + 2)) + 2);
    }
    expect(paperName(12345)).toBe('paper-12345');
  });
});

test('two typings are compared row by row', () => {
  const [a, b] = [good, { ...good, pair: 'A' }];
  expect(compared(rows(good, a), rows(good, b))).toEqual([{ row: 1, column: 'pair', first: 'B', second: 'A' }]);
  expect(compared(rows(good, blankCells()), rows(good))).toEqual([]);
  expect(compared(rows(good), rows()).length).toBeGreaterThan(4);
});

test('dates', () => {
  expect([isDate('2025-06-03'), isDate('2025-02-29'), isDate('3.6.2025')]).toEqual([true, false, false]);
  // 23:30 UTC is already the next day in Dublin in summer.
  expect(todayAt('Europe/Dublin', new Date('2025-06-03T23:30:00Z'))).toBe('2025-06-04');
  expect(todayAt('Nowhere/Here', new Date('2025-06-03T23:30:00Z'))).toBe('2025-06-03');
});

describe('the sheet', () => {
  const shelf = (): Shelf & { text: string } => {
    const s = {
      text: '',
      read: () => s.text || null,
      write: (text: string) => {
        s.text = text;
        return true;
      },
    };
    return s;
  };
  const program = (edit: (body: Omit<EditRequest, 'author'>) => Promise<EditDone>, used = 0) => ({
    edit,
    history: (_: string, id: string) =>
      Promise.resolve({ entries: Number(id.slice(6)) <= used ? [{}] : [] } as unknown as History),
  });
  const open = (
    kept: Shelf,
    edit = (_: Omit<EditRequest, 'author'>) => Promise.resolve({ entries: [] } as EditDone),
    used = 0,
  ) => new Paper(deck, program(edit, used), kept, () => undefined, '2025-06-03');
  const fill = (paper: Paper, i: number, c: Cells) => {
    for (const [column, text] of Object.entries(c)) paper.type(i, column as keyof Cells, text);
  };

  test('survives a reload and is gone once it was sent', async () => {
    const kept = shelf();
    const paper = open(kept);
    paper.scorer = 'N. Example';
    fill(paper, 0, good);
    paper.insert(0);
    expect(paper.rows[1]?.cells.trial).toBe('T003');
    const again = open(kept);
    expect([again.filled.length, again.rows[0]?.cells.pair, again.scorer]).toEqual([1, 'B', 'N. Example']);
    expect(await again.send()).toBe(true);
    expect(again.sent).toEqual({ n: 1, first: 'paper-0001', last: 'paper-0001' });
    expect(kept.text).toBe('');
  });
  test('what is kept by another version is no harm', () => {
    const kept = shelf();
    for (const text of ['{', 'null', '{"rows":5,"trials":3}', '{"rows":[null,{"pair":7}],"trials":{"T004":null}}']) {
      kept.text = text;
      expect(() => open(kept)).not.toThrow();
    }
  });
  test('a refusal loses nothing and stands at its cell', async () => {
    const sent: Omit<EditRequest, 'author'>[] = [];
    const paper = open(
      shelf(),
      (body) => {
        sent.push(body);
        return Promise.reject(
          new RequestError(422, 'refused', [
            { location: 'pass/paper-0004/turned', message: 'odd' },
            { location: 'trial/T003/end', message: 'before the pass' },
          ]),
        );
      },
      3,
    );
    fill(paper, 0, good);
    expect(await paper.send()).toBe(false);
    expect(sent[0]?.add?.map((a) => a.id)).toEqual(['paper-0004']);
    expect(paper.filled).toHaveLength(1);
    expect(paper.refused).toEqual({ [`${paper.rows[0]?.key}/response`]: 'odd' });
    expect(paper.sentences).toEqual(['trial T003 end: before the pass']);
    paper.type(0, 'response', 'No turn');
    expect(paper.refused).toEqual({});
  });
  test('faults keep it from being sent', async () => {
    let asked = 0;
    const paper = open(shelf(), () => {
      asked++;
      return Promise.resolve({ entries: [] });
    });
    fill(paper, 0, { ...good, pair: 'Z' });
    expect(await paper.send()).toBe(false);
    expect([asked, paper.wrong]).toEqual([0, 1]);
    paper.date = 'yesterday';
    expect(paper.wrong).toBe(2);
  });
  test('a row that was taken out can be put back', () => {
    const paper = open(shelf());
    fill(paper, 0, good);
    paper.takeOut(0);
    expect(paper.filled).toHaveLength(0);
    paper.putBack();
    expect(paper.filled[0]?.cells).toEqual(good);
  });
  test('typed twice: what differs is settled in both', () => {
    const paper = open(shelf());
    fill(paper, 0, good);
    paper.again();
    expect([paper.stage, isBlank(paper.rows[0]!.cells)]).toEqual(['second', true]);
    fill(paper, 0, { ...good, pair: 'A' });
    paper.turnTo('compare');
    expect(paper.differences).toHaveLength(1);
    paper.settle(paper.differences[0]!, 'second');
    expect(paper.differences).toEqual([]);
    paper.turnTo('first');
    expect(paper.first[0]?.cells.pair).toBe('A');
  });
});

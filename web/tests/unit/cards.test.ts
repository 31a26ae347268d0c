import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import { RequestError } from '$lib/api/client';
import type { Card } from '$lib/api/schedule';
import { Cards, shownMs } from '../../src/routes/schedule/cards.svelte';

const face = (trial: string): Card => ({
  ...{ trial, position: 3, positions: 4, current_uA: 6 },
  ...{ reversed: false, odour: true, polarities: true, odours: false },
});

/** Answers that the test lets go. */
function later<T>(): { promise: Promise<T>; give: (v: T) => void } {
  let give: (v: T) => void = () => undefined;
  const promise = new Promise<T>((done) => (give = done));
  return { promise, give };
}

let printed = 0;
let away: string[] = [];
const program = {
  cards: vi.fn(() => Promise.resolve({ token: 'secret', trials: ['T001', 'T002', 'S001'], next: 'T002' })),
  card: vi.fn((_: string, trial: string) => Promise.resolve(face(trial))),
  allCards: vi.fn(() => Promise.resolve({ seal: 'ab', cards: [face('T001'), face('T002'), face('S001')] })),
  wiring: vi.fn(() => Promise.resolve({ seal: 'ab', wires: [{ position: 1, pair: 'B' }] })),
  putAway: vi.fn((token: string) => Promise.resolve(away.push(token))),
};
const proof = { key: 'k', passphrase: 'p' };
const made = async () => {
  const cards = new Cards(program, () => printed++);
  expect(await cards.take(proof, 'Tadhg')).toBe(true);
  return cards;
};
const told = (cards: Cards) => JSON.stringify([cards.card, cards.wiring, cards.sheet, cards.said]);

beforeEach(() => {
  vi.useFakeTimers();
  printed = 0;
  away = [];
});
afterEach(() => vi.useRealTimers());

describe('cards', () => {
  test('begin covered, at the first trial that has not been run', async () => {
    const cards = await made();
    expect([cards.out, cards.trial, cards.covered, cards.following]).toEqual([true, 'T002', true, 'S001']);
  });
  test('one is shown until it is hidden, the trial changes, or two minutes are over', async () => {
    const cards = await made();
    await cards.show();
    expect([cards.card?.trial, cards.card?.position]).toEqual(['T002', 3]);
    cards.hide();
    expect(told(cards)).not.toContain('position');
    await cards.show();
    cards.go('S001');
    expect([cards.trial, cards.covered]).toEqual(['S001', true]);
    await cards.show();
    vi.advanceTimersByTime(shownMs - 1);
    expect(cards.covered).toBe(false);
    vi.advanceTimersByTime(1);
    expect([cards.covered, cards.said]).toEqual([true, 'Hidden after two minutes.']);
  });
  test('an answer that comes after the hiding is thrown away', async () => {
    const cards = await made();
    const slow = later<Card>();
    program.card.mockImplementationOnce(() => slow.promise);
    const asked = cards.show();
    cards.hide('focus');
    slow.give(face('T002'));
    await asked;
    expect([cards.covered, cards.said]).toEqual([true, '']);
  });
  test('the sheet is in the page from the asking until the printing is over', async () => {
    const cards = await made();
    await cards.show();
    await cards.printCards();
    expect([printed, cards.covered, cards.sheet && 'cards' in cards.sheet && cards.sheet.cards.cards.length]).toEqual([
      1,
      true,
      3,
    ]);
    expect(cards.printed()).toBe(true);
    expect(told(cards)).not.toContain('position');
    expect(cards.printed()).toBe(false);
  });
  test('put away, nothing is left, and the program is told once', async () => {
    const cards = await made();
    await cards.showWiring();
    cards.forget();
    cards.forget();
    expect([cards.out, cards.trials, cards.trial, away]).toEqual([false, [], '', ['secret']]);
    expect(told(cards)).not.toContain('pair');
  });
  test('a sheet that arrives after they were put away is not shown', async () => {
    const cards = await made();
    const slow = later<{ seal: string; cards: Card[] }>();
    program.allCards.mockImplementationOnce(() => slow.promise);
    const asked = cards.printCards();
    cards.forget();
    slow.give({ seal: 'ab', cards: [face('T001')] });
    await asked;
    expect([printed, cards.sheet]).toEqual([0, undefined]);
  });
  test('a wrong key leaves nothing behind but the sentence', async () => {
    program.cards.mockImplementationOnce(() => Promise.reject(new RequestError(422, 'this key does not open it')));
    const cards = new Cards(program, () => printed++);
    expect(await cards.take(proof, 'Tadhg')).toBe(false);
    expect([cards.out, cards.busy, cards.problem?.message]).toEqual([false, false, 'this key does not open it']);
    cards.forget();
    expect(away).toEqual([]);
  });
});

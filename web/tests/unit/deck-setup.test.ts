import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { RequestError } from '$lib/api/client';
import type { DeckProgram } from '$lib/api/deck';
import type { Deck } from '$lib/api/types';
import {
  draftOf,
  faultsOf,
  moved,
  numberOf,
  placeHere,
  specLines,
  specOf,
  wordOf,
  type SetupDraft,
} from '$lib/state/deck-setup';
import { DeckSetup } from '$lib/state/deck-setup.svelte';

const deck = JSON.parse(readFileSync(new URL('../fixtures/study-deck.json', import.meta.url), 'utf8')) as Deck;

describe('setup', () => {
  const draft = (): SetupDraft => draftOf(deck.spec);
  const with_ = (change: Partial<SetupDraft>) => faultsOf({ ...draft(), ...change });
  const response = (i: number, change: object) => ({
    responses: draft().responses.map((r, j) => (j === i ? { ...r, ...change } : r)),
  });
  test('what the program gave has no fault and is sent as it came', () => {
    expect([...faultsOf(draft())]).toEqual([]);
    expect(specOf(draft(), deck.spec.format)).toEqual(deck.spec);
  });
  test.each([
    ['responses/0/label', response(0, { label: ' ' })],
    ['responses/0/label', response(0, { label: 'x'.repeat(61) })],
    ['responses/1/label', response(1, { label: 'no turn' })],
    ['responses/3/word', response(3, { word: 'a, b' })],
    ['responses/4/word', response(4, { word: 'Avoidance' })],
    ['responses/3/word', response(3, { word: '' })],
    ['responses/0/turned', response(0, { bit: 'yes' })],
    ['responses/1/electrode', response(1, { electrode: true })],
    ['responses', { responses: [] }],
    ['heights/0/high', { heights: [{ key: 1, word: 'low', low: '5', high: '5' }] }],
    ['heights/0/low', { heights: [{ key: 1, word: 'low', low: 'none', high: '5' }] }],
    ['heights/0/low', { heights: [{ key: 1, word: 'low', low: '-1', high: '5' }] }],
    ['heights/0/word', { heights: [{ key: 1, word: '', low: '1', high: '5' }] }],
    ['checks/0/label', { checks: [{ key: 1, word: '', label: '' }] }],
    ['trialMin', { trialMin: '1441' }],
    ['washoutMin', { washoutMin: 'long' }],
  ] as [string, Partial<SetupDraft>][])('a fault stands at %s', (place, change) =>
    expect([...with_(change).keys()]).toContain(place),
  );
  test('numbers are read as people write them', () => {
    expect([numberOf(' 2,5 '), numberOf('−3'), numberOf('1e3'), numberOf('')]).toEqual([2.5, -3, NaN, NaN]);
  });
  test('a new check gets a word that a table can hold; an old one keeps its own', () => {
    expect(wordOf('  Leads, and "plugs" dry ')).toBe('leads and plugs dry');
    const checks = [
      { key: 1, word: 'sand', label: 'Something else now' },
      { key: 2, word: '', label: 'Plate level' },
    ];
    expect(specOf({ ...draft(), checks }, 1).checks.map((c) => c.word)).toEqual(['sand', 'plate level']);
  });
  test('rows move by one place and not beyond the ends', () => {
    expect(moved(['a', 'b', 'c'], 2, -1)).toEqual(['a', 'c', 'b']);
    expect(moved(['a', 'b'], 0, -1)).toEqual(['a', 'b']);
    expect(moved(['a', 'b'], 1, 1)).toEqual(['a', 'b']);
  });
  test('what the program refuses stands at its field', () => {
    expect(placeHere('deck//heights/2/low_cm')).toBe('heights/2/low');
    expect(placeHere('deck//checks/0/word')).toBe('checks/0/label');
    expect(placeHere('deck//trial_min')).toBe('trialMin');
    expect(placeHere('body.spec')).toBe('');
  });

  const program = (answers: { setup?: () => Promise<Deck>; view?: () => Promise<Deck> }) =>
    ({
      view: () => Promise.resolve(deck),
      setup: () => Promise.resolve(deck),
      ...answers,
    }) as unknown as DeckProgram;
  test('a second writer is shown what was saved, and nothing of the first is lost', async () => {
    const theirs: Deck = { ...deck, etag: '"new"', spec: { ...deck.spec, trial_min: 30 } };
    const sent: string[] = [];
    const page = new DeckSetup(
      program({
        setup: ((_: unknown, etag: string) => {
          sent.push(etag);
          return etag === '"new"'
            ? Promise.resolve({ ...theirs, etag: '"mine"', spec: { ...deck.spec, trial_min: 45 } })
            : Promise.reject(new RequestError(412, 'C. Lead changed it at 14:02'));
        }) as unknown as () => Promise<Deck>,
        view: () => Promise.resolve(theirs),
      }),
    );
    page.begin(deck);
    page.turn({ trialMin: '45' });
    expect(await page.save('N. Example')).toBe(false);
    expect([page.keeping, page.draft?.trialMin, page.theirs?.spec.trial_min]).toEqual(['changed', '45', 30]);
    expect(page.problem?.message).toContain('C. Lead');
    expect(await page.save('N. Example', true)).toBe(true);
    expect(sent).toEqual([deck.etag, '"new"']);
    expect([page.keeping, page.turned, page.base?.etag]).toEqual(['saved', false, '"mine"']);
  });
  test('theirs can be taken', async () => {
    const theirs: Deck = { ...deck, etag: '"new"', spec: { ...deck.spec, trial_min: 30 } };
    const page = new DeckSetup(
      program({ setup: () => Promise.reject(new RequestError(412, '')), view: () => Promise.resolve(theirs) }),
    );
    page.begin(deck);
    page.turn({ trialMin: '45' });
    await page.save('N. Example');
    page.take();
    expect([page.draft?.trialMin, page.turned, page.keeping]).toEqual(['30', false, 'idle']);
  });
  test('what is being changed is not overwritten by what comes in', () => {
    const page = new DeckSetup(program({}));
    page.begin(deck);
    const key = page.add('responses');
    page.turnRow('responses', deck.spec.responses.length, { label: 'Circles' });
    page.begin({ ...deck, etag: '"other"', spec: { ...deck.spec, responses: [] } });
    expect(page.draft?.responses.at(-1)).toMatchObject({ key, label: 'Circles' });
    page.leave();
    expect(page.draft?.responses).toHaveLength(deck.spec.responses.length);
  });
  test('a refusal is at its field until the next change', async () => {
    const detail = { location: 'deck//responses/1/label', message: 'it is there twice' };
    const page = new DeckSetup(program({ setup: () => Promise.reject(new RequestError(422, 'no', [detail])) }));
    page.begin(deck);
    page.turn({ trialMin: '44' });
    await page.save('N. Example');
    expect(page.faults.get('responses/1/label')).toBe('It is there twice.');
    page.turn({ trialMin: '43' });
    expect(page.faults.size).toBe(0);
  });
  test('four lines tell two specs apart', () => {
    const [a, b] = [specLines(deck.spec), specLines({ ...deck.spec, checks: [] })];
    expect(a.responses).toEqual(b.responses);
    expect([a.checks.length, b.checks]).toEqual([4, []]);
  });
});

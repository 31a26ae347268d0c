import { readFileSync } from 'node:fs';
import { beforeEach, describe, expect, test, vi } from 'vitest';
import { RequestError } from '$lib/api/client';
import type { ImportRequest, Plan } from '$lib/api/types';
import type { Folder } from '$lib/folder/folder';
import { FolderError } from '$lib/folder/folder';
import { ImportState, nameFault } from '$lib/state/import.svelte';
import { writer } from '$lib/state/writer.svelte';
import { choicesOf, everything, filterChanges } from '$lib/table/changes';
import { words } from '$lib/words';

const plans = JSON.parse(readFileSync(new URL('../fixtures/plans.json', import.meta.url), 'utf8')) as Record<
  'new' | 'changed' | 'same' | 'faulty',
  Plan
>;

const asked: { study: string }[] = [];
const carried: ImportRequest[] = [];
let answer: (study: string) => Plan | RequestError;

vi.mock('$lib/api/client', async (original) => ({
  ...(await original<object>()),
  planImport: async (request: Blob) => {
    const body = JSON.parse(await request.text()) as { study: string };
    asked.push(body);
    const plan = answer(body.study);
    if (plan instanceof RequestError) throw plan;
    return plan;
  },
  carryOut: async (request: ImportRequest) => {
    carried.push(request);
    if (request.study === 'a*b') throw new RequestError(422, 'this name cannot be used');
    return { study: request.study, entries: 7 };
  },
}));

const folder = (): Promise<Folder> =>
  Promise.resolve({ name: 'bay', files: [new File(['x'], 'study.toml')], leftOut: [] });

beforeEach(() => {
  asked.length = carried.length = 0;
  answer = (study) => (study ? plans.changed : plans.new);
  writer.set('');
});

describe('an import', () => {
  test('into a new study', async () => {
    writer.set('  Maeve   Kinsella ');
    const s = new ImportState();
    await s.take(folder(), '', false);
    expect(s.stage).toBe('planned');
    expect(s.name).toBe(plans.new.suggested);
    s.name = ' Bay ';
    s.blind = true;
    await s.carryOut();
    expect(carried).toEqual([
      { plan: plans.new.plan, study: 'Bay', blind: true, remove_missing: false, author: 'Maeve Kinsella' },
    ]);
    expect(s.stage).toBe('done');
  });
  test('into a study that is there: withdrawing is asked for, never assumed', async () => {
    const s = new ImportState();
    await s.take(folder(), 'tank-2', true);
    expect([s.missing, s.changing, s.worth]).toEqual([1, 6, true]);
    expect(s.changes.some((c) => c.act === 'remove')).toBe(false);
    s.removeMissing = true;
    expect(s.changes.some((c) => c.act === 'remove')).toBe(true);
    s.removeMissing = false;
    await s.carryOut();
    expect(carried[0]).toMatchObject({ study: 'tank-2', blind: true, remove_missing: false });
  });
  test('nothing different: nothing to import', async () => {
    answer = () => plans.same;
    const s = new ImportState();
    await s.take(folder(), 'tank-2', false);
    expect(s.worth).toBe(false);
    s.removeMissing = true;
    expect(s.worth).toBe(false);
  });
  test('a folder that tells no pairs has nothing to seal', async () => {
    answer = () => ({ ...plans.new, guarded: false });
    const s = new ImportState();
    await s.take(folder(), '', true);
    await s.carryOut();
    expect(carried[0]?.blind).toBe(false);
  });
  test('another study is another comparison of the same folder', async () => {
    const s = new ImportState();
    await s.take(folder(), '', false);
    s.removeMissing = true;
    await s.turnTo('tank-2', true);
    expect(asked.map((a) => a.study)).toEqual(['', 'tank-2']);
    expect([s.into, s.blind, s.removeMissing]).toEqual(['tank-2', true, false]);
  });
  test('faults leave nothing to carry out', async () => {
    answer = () => plans.faulty;
    const s = new ImportState();
    await s.take(folder(), '', false);
    await s.carryOut();
    expect(carried).toEqual([]);
    expect(s.stage).toBe('planned');
  });
  test('a refusal leaves the plan to be tried again', async () => {
    const s = new ImportState();
    await s.take(folder(), '', false);
    s.name = 'a*b';
    await s.carryOut();
    expect([s.stage, s.problem?.status]).toEqual(['planned', 422]);
    s.name = 'ab';
    await s.carryOut();
    expect([s.stage, s.problem, s.done?.entries]).toEqual(['done', undefined, 7]);
  });
  test('a program that does not answer can be asked again', async () => {
    answer = () => new RequestError(0, '');
    const s = new ImportState();
    await s.take(folder(), '', false);
    expect([s.stage, s.plan, s.problem?.status]).toEqual(['planned', undefined, 0]);
    answer = () => plans.new;
    await s.compare();
    expect([s.plan, s.problem]).toEqual([plans.new, undefined]);
  });
  test('a folder that cannot be read says why', async () => {
    const s = new ImportState();
    await s.take(Promise.reject(new FolderError('empty', 'holiday')), '', false);
    expect([s.stage, s.unread?.kind, s.unread?.about]).toEqual(['failed', 'empty', 'holiday']);
  });
  test('what was stopped does not come back', async () => {
    const s = new ImportState();
    const taking = s.take(folder(), '', false);
    s.forget();
    await taking;
    expect([s.stage, s.plan, asked.length]).toEqual(['idle', undefined, 0]);
  });
});

test.each([
  ['', 'missing'],
  ['  ', 'missing'],
  ['API', 'taken'],
  ['Tank-2 ', 'used'],
  ['tank-3', undefined],
])('the name %j', (name, expected) => expect(nameFault(name, ['tank-2'])).toBe(expected));

describe('the changes of a plan', () => {
  const changes = plans.changed.changes;
  test.each([
    ['everything', {}, changes.length],
    ['one table', { kind: 'pass' }, 4],
    ['what is withdrawn', { act: 'remove' }, 1],
    ['both', { kind: 'track', act: 'correct' }, 1],
    ['a value, whatever its case', { search: 'LEFT early' }, 1],
    ['a record', { search: 'P00012' }, 3],
    ['what is not there', { search: 'P9' }, 0],
  ])('%s', (_, filter, n) => expect(filterChanges(changes, { ...everything, ...filter })).toHaveLength(n));
  test('choices stand in the order of the plan', () => {
    expect(choicesOf(changes, 'kind')).toEqual(['site', 'trial', 'pass', 'track', 'individual']);
    expect(choicesOf(changes, 'act')).toEqual(['correct', 'record', 'remove']);
  });
  test('every kind and act has a word', () => {
    for (const c of changes) {
      expect(words.imports.kinds[c.kind]).toBeTruthy();
      expect(words.imports.act[c.act]).toBeTruthy();
    }
  });
});

import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import { RequestError } from '$lib/api/client';
import type { Results } from '$lib/api/types';
import { OpenStudy } from '$lib/state/study.svelte';
import { words } from '$lib/words';
import { curves, exposures, findings, season } from './fixtures';

const results = (more: Partial<Results>): Results => ({
  state: 'current',
  shown: 'f1',
  data: 'f1',
  computed: '2025-06-14T09:30:00+01:00',
  since: 0,
  faults: [],
  fault_rows: [],
  blind: false,
  ...more,
});
const running = (shown: string) => results({ state: 'running', shown, data: 'f2' });

/** What the program answers to "how do the results stand", one after the other; the last stays. */
let answers: (Results | RequestError)[] = [];
let asked = 0;
const read = vi.hoisted(() => ({ season: 0, findings: 0, exposures: 0, opened: [] as unknown[] }));
let refuseOpening: RequestError | undefined;

vi.mock('$lib/api/client', async (original) => ({
  ...(await original<object>()),
  fetchResults: () => {
    const next = answers[Math.min(asked, answers.length - 1)];
    asked++;
    return next instanceof RequestError ? Promise.reject(next) : Promise.resolve(next);
  },
  analyse: () => Promise.resolve(running('f1')),
  fetchSeason: () => (read.season++, Promise.resolve(season)),
  fetchFindings: () => (read.findings++, Promise.resolve(findings)),
  fetchCurves: () => Promise.resolve(curves),
  fetchExposures: () => (read.exposures++, Promise.resolve(exposures)),
  openActivePairs: (study: string, body: object) => {
    if (refuseOpening) return Promise.reject(refuseOpening);
    read.opened.push({ study, ...body });
    return Promise.resolve({ entries: [] });
  },
}));

beforeEach(() => {
  vi.useFakeTimers();
  asked = read.season = read.findings = read.exposures = 0;
  read.opened.length = 0;
  refuseOpening = undefined;
});
afterEach(() => vi.useRealTimers());

describe('results', () => {
  test('up to date: asked for once', async () => {
    answers = [results({})];
    const study = new OpenStudy('tank-2');
    await study.look();
    expect([asked, study.shown, study.season?.title]).toEqual([1, 'f1', season.title]);
  });
  test('while they are made again the old ones stay, and it is asked on until it is done', async () => {
    answers = [running('f1'), running('f1'), results({ shown: 'f2', data: 'f2' })];
    const study = new OpenStudy('tank-2');
    const looking = study.look();
    await vi.advanceTimersByTimeAsync(0);
    expect([study.running, study.shown]).toEqual([true, 'f1']);
    await vi.advanceTimersByTimeAsync(2000);
    await looking;
    expect([study.running, study.shown, asked]).toEqual([false, 'f2', 3]);
  });
  test('out of date, then worked out again', async () => {
    answers = [
      results({ state: 'out_of_date', data: 'f2', since: 12 }),
      running('f1'),
      results({ shown: 'f2', data: 'f2' }),
    ];
    const study = new OpenStudy('tank-2');
    await study.look();
    expect([study.results?.state, study.results?.since]).toEqual(['out_of_date', 12]);
    await study.workOut();
    expect(study.running).toBe(true);
    await vi.advanceTimersByTimeAsync(2000);
    expect([study.results?.state, study.shown]).toEqual(['current', 'f2']);
  });
  test('one question without an answer does not end the waiting; many do', async () => {
    const gone = new RequestError(0, '');
    answers = [running('f1'), gone, results({})];
    const study = new OpenStudy('tank-2');
    void study.look();
    await vi.advanceTimersByTimeAsync(2000);
    expect([study.results?.state, study.problem]).toEqual(['current', undefined]);

    asked = 0;
    answers = [running('f1'), gone];
    const lost = new OpenStudy('tank-2');
    void lost.look();
    await vi.advanceTimersByTimeAsync(10_000);
    expect(lost.problem?.status).toBe(0);
    const before = asked;
    await vi.advanceTimersByTimeAsync(10_000);
    expect(asked).toBe(before);
  });
  test('a study that is closed is not asked for any more', async () => {
    answers = [running('f1')];
    const study = new OpenStudy('tank-2');
    void study.look();
    await vi.advanceTimersByTimeAsync(1000);
    study.close();
    await vi.advanceTimersByTimeAsync(1000);
    const before = asked;
    await vi.advanceTimersByTimeAsync(5000);
    expect(asked).toBe(before);
  });
  test('the season is read again when its data changed, and only then', async () => {
    answers = [results({}), results({}), results({ data: 'f2' })];
    const study = new OpenStudy('tank-2');
    await study.look();
    await study.look();
    expect(read.season).toBe(1);
    await study.look();
    expect(read.season).toBe(2);
  });
  test('pages read results once each', async () => {
    const study = new OpenStudy('tank-2');
    for (const of of ['f1', 'f1', 'f2']) {
      await study.findings.turnTo(of);
      await study.exposures.turnTo(of);
    }
    expect([read.findings, read.exposures]).toEqual([2, 2]);
    expect(study.findings.document).toBe(findings);
  });
});

describe('opening the active pairs', () => {
  const said = {
    author: 'Maeve',
    reason: 'scored',
    trials: [],
    key: '',
    passphrase: '',
    lock: true,
    leave_unscored: false,
  };
  test('says who and why', async () => {
    answers = [results({ blind: true })];
    const study = new OpenStudy('tank-2');
    expect(await study.open(said)).toBe(true);
    expect(read.opened).toEqual([{ study: 'tank-2', ...said }]);
  });
  test('a refusal is kept for the dialog', async () => {
    refuseOpening = new RequestError(403, 'another window writes');
    const study = new OpenStudy('tank-2');
    expect(await study.open(said)).toBe(false);
    expect([study.refused?.message, study.busy]).toEqual(['another window writes', false]);
  });
});

test('what is said of the age of results', () => {
  const w = words.results;
  expect(w.outOfDate(12)).toBe('12 entries since these results were made.');
  expect(w.outOfDate(1)).toBe('1 entry since these results were made.');
  expect(w.outOfDate(0)).toMatch(/no longer as it was/);
  expect(w.made('2025-06-14T09:30:00+01:00')).toBe('They were made on 2025-06-14 at 09:30.');
});

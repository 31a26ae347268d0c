import { describe, expect, test, vi } from 'vitest';
import { RequestError } from '$lib/api/client';
import type { Clip, FixesRequest, FootageProgram, ListedPass, Located, MeasuredPass } from '$lib/api/footage';
import type { Pair, TrackPoint } from '$lib/api/types';
import type { KeptDraft } from '$lib/footage/draft';
import type { DraftStore } from '$lib/footage/draft-store';
import { besideOf, groupsOf, nextLeft, stateOf } from '$lib/footage/passes';
import { distanceCm, ellipseOf, frameNearest, trackAt } from '$lib/footage/reading';
import { MeasureState } from '$lib/state/footage-measure.svelte';

const heights = { how: 'class', class: 'low', low_cm: null, high_cm: null, length_cm: null, sd_cm: null } as const;
const listed = (pass: string, clip: string, start: number | null, end: number | null, fixes = 0): ListedPass => ({
  ...{ pass, clip, fixes, trial: 'T1', time: '', individual: '', species: 'S', pair: 'A', track: 0, turned: '' },
  ...{ start_frame: start, end_frame: end, onset_s: null, head_width_cm: null, total_length_cm: null },
});
const clips = [
  { clip: 'one', frame_rate_Hz: 25, passes: ['a', 'b', 'd'] },
  { clip: 'two', frame_rate_Hz: 50, passes: ['c'] },
] as unknown as Clip[];
const all = [
  listed('a', 'one', 0, 100, 9),
  listed('b', '', 90, null),
  listed('c', 'two', 0, 50, 1),
  listed('d', 'one', 700, 800),
  listed('e', 'gone', null, null),
];

describe('the passes of the clips', () => {
  test('are grouped, those without a clip last', () => {
    expect(groupsOf(all, clips).map((g) => [g.clip, g.passes.map((p) => p.pass).join('')])).toEqual([
      ['one', 'abd'],
      ['two', 'c'],
      ['', 'e'],
    ]);
  });

  test('which are in the picture at the same time', () => {
    const beside = (i: number) => besideOf(all[i]!, clips[0]!, all).map((p) => p.pass);
    expect([beside(0), beside(1), beside(3), beside(4)]).toEqual([['a', 'b'], ['a', 'b'], ['d'], ['e']]);
  });

  test('the next that is not measured, round, and none when all are', () => {
    const groups = groupsOf(all, clips);
    const next = (now: string, drafts: string[] = []) => nextLeft(groups, now, new Set(drafts));
    expect([next('a'), next('d'), next('c'), next('')]).toEqual(['b', 'c', 'b', 'b']);
    expect(nextLeft(groupsOf([all[0]!], clips), 'a', new Set())).toBeUndefined();
    expect(stateOf(all[0]!, new Set(['a']))).toBe('begun');
  });
});

describe('reading the answer', () => {
  const at = (t_s: number, x_cm: number, v: number | null): TrackPoint => ({
    ...{ t_s, x_cm, y_cm: 0, height_cm: 5, field_nV_per_cm: v, phantom_nV_per_cm: v, phantom_nV_per_cm_per_uA: null },
  });

  test('the track at a moment lies straight between its points, and nowhere outside', () => {
    const track = [at(0, 0, 10), at(1, 10, 20), at(3, 30, null)];
    expect(trackAt(track, 0.5)).toMatchObject({ x_cm: 5, field_nV_per_cm: 15, height_cm: 5 });
    expect(trackAt(track, 2)).toMatchObject({ x_cm: 20, field_nV_per_cm: null });
    expect(trackAt(track, 3)).toMatchObject({ x_cm: 30 });
    expect([trackAt(track, -0.1), trackAt(track, 3.1), trackAt([], 0)]).toEqual([undefined, undefined, undefined]);
  });

  // Closed form: 95 % of a plane normal distribution lie within -2 ln 0.05 = 5.991 variances.
  test('the ellipse of 95 % turns with its covariance', () => {
    const e = ellipseOf([
      [4, 0, 0],
      [0, 1, 0],
      [0, 0, 9],
    ])!;
    expect(e.longCm).toBeCloseTo(2 * Math.sqrt(5.991), 3);
    expect(e.shortCm).toBeCloseTo(Math.sqrt(5.991), 3);
    expect(e.angleRad).toBeCloseTo(0, 12);
    const turned = ellipseOf([
      [2.5, 1.5],
      [1.5, 2.5],
    ])!;
    expect([turned.longCm, turned.shortCm]).toEqual([
      expect.closeTo(2 * Math.sqrt(5.991), 3),
      expect.closeTo(Math.sqrt(5.991), 3),
    ]);
    expect(turned.angleRad).toBeCloseTo(Math.PI / 4, 12);
    expect([
      ellipseOf(null),
      ellipseOf([]),
      ellipseOf([
        [0, 0],
        [0, 0],
      ]),
    ]).toEqual([undefined, undefined, undefined]);
  });

  test('the distance to a pair is in three dimensions, and the nearest fix by place', () => {
    const pair = { x_cm: 0, y_cm: 0, height_cm: 0 } as Pair;
    expect(distanceCm({ x_cm: 3, y_cm: 4, height_cm: 12 }, pair)).toBe(13);
    expect(distanceCm({ x_cm: 3, y_cm: 4, height_cm: null }, pair)).toBeNull();
    const fixes = [
      { frame: 4, x_cm: 0, y_cm: 0 },
      { frame: 9, x_cm: 10, y_cm: 0 },
      { frame: 12, x_cm: null, y_cm: null },
    ] as Located[];
    expect([frameNearest(fixes, 8, 1, 5), frameNearest(fixes, 5, 30, 5)]).toEqual([9, undefined]);
  });
});

/** A program that answers with what it is sent, and a store in memory. */
function bench() {
  const kept = new Map<string, KeptDraft>();
  const store: DraftStore = {
    passes: () => Promise.resolve([...kept.keys()]),
    get: (pass) => Promise.resolve(kept.get(pass)),
    put: (d) => Promise.resolve(void kept.set(d.draft.pass, d)),
    drop: (pass) => Promise.resolve(void kept.delete(pass)),
  };
  let stored = {
    ...{ pass: 'P1', clip: 'c', etag: '1', start_frame: null, onset_frame: null, end_frame: null, heights },
    ...{ fixes: [], track: [], track_why: '', suggested_fix_sd_cm: null, notes: [], saved: true },
  } as unknown as MeasuredPass;
  const asked: FixesRequest[] = [];
  const program = {
    pass: () => Promise.resolve(stored),
    fixes: (body: FixesRequest) => {
      asked.push(body);
      if (body.save && body.etag !== stored.etag) return Promise.reject(new RequestError(412, 'changed'));
      const fixes = body.fixes.map((f) => (f.how === 'filled' ? { ...f, pixel: [77, 77] } : f));
      const answer = { ...stored, ...body, fixes, saved: body.save } as unknown as MeasuredPass;
      if (body.save) stored = { ...answer, etag: String(Number(stored.etag) + 1) };
      return Promise.resolve(body.save ? stored : answer);
    },
  } as unknown as FootageProgram;
  const elsewhere = () => {
    stored = { ...stored, etag: 'theirs', onset_frame: 99 };
  };
  return { kept, store, asked, program, elsewhere, state: () => new MeasureState(program, store, () => 'A. Person') };
}

describe('measuring a pass', () => {
  test('each change is tried, and the filled ones lie where the program says', async () => {
    vi.useFakeTimers();
    const { asked, state } = bench();
    const book = await state().open('P1', 'c');
    book.place('snout', 0, [0, 0]);
    book.place('snout', 4, [8, 8]);
    expect(book.fill('snout', 2)).toMatchObject({ added: 3, tooLong: undefined });
    expect(book.fixes[1]?.pixel).toEqual([2, 2]);
    await vi.advanceTimersByTimeAsync(149);
    expect(asked.length).toBe(0);
    await vi.advanceTimersByTimeAsync(2);
    // One question for all three changes.
    expect(asked.map((a) => [a.save, a.fixes.length, a.author])).toEqual([[false, 5, 'A. Person']]);
    expect(book.fixes.map((f) => f.pixel[0])).toEqual([0, 77, 77, 77, 8]);
    expect(book.counts).toEqual({ placed: 2, carried: 0, filled: 3 });
    vi.useRealTimers();
  });

  test('a draft outlives the page, and is gone when it was saved', async () => {
    const { kept, state } = bench();
    const book = await state().open('P1', 'c');
    book.place('snout', 3, [5, 6]);
    await book.settled();
    expect(kept.get('P1')?.draft.fixes.length).toBe(1);
    const after = state();
    await after.begin();
    expect([...after.drafts]).toEqual(['P1']);
    const again = await after.open('P1', 'c');
    expect(again.restored).toMatchObject({ stale: false });
    expect([again.draft?.fixes[0]?.pixel, again.dirty]).toEqual([[5, 6], true]);
    expect(await again.save()).toBe(true);
    await again.settled();
    expect([again.dirty, again.saved, again.restored, kept.size, after.drafts.size]).toEqual([
      false,
      true,
      undefined,
      0,
      0,
    ]);
  });

  test('undone to what is saved, nothing is kept', async () => {
    const { kept, state } = bench();
    const book = await state().open('P1', 'c');
    book.place('snout', 3, [5, 6]);
    expect(book.undo()).toBe(true);
    await book.settled();
    expect([book.dirty, kept.size, book.canRedo]).toEqual([false, 0, true]);
  });

  test('what somebody else saved is shown beside, and either can stand', async () => {
    for (const mine of [true, false]) {
      const { kept, state, elsewhere } = bench();
      const book = await state().open('P1', 'c');
      book.mark('onset', 7);
      elsewhere();
      expect(await book.save()).toBe(false);
      expect([book.theirs?.onset_frame, book.draft?.onset]).toEqual([99, 7]);
      await book.settled();
      expect(kept.size).toBe(1);
      if (mine) {
        expect(await book.keepMine()).toBe(true);
        expect([book.draft?.onset, book.dirty]).toEqual([7, false]);
      } else {
        book.takeTheirs();
        expect([book.draft?.onset, book.dirty]).toEqual([99, false]);
        book.undo();
        expect(book.draft?.onset).toBe(7);
      }
    }
  });

  test('a draft of before the change is told to be of before, and does not pass over it', async () => {
    const { state, elsewhere } = bench();
    const book = await state().open('P1', 'c');
    book.mark('onset', 7);
    await book.settled();
    elsewhere();
    const again = await state().open('P1', 'c');
    expect(again.restored?.stale).toBe(true);
    expect(await again.save()).toBe(false);
    expect(again.theirs?.onset_frame).toBe(99);
  });
});

test('a field that is not worked out yet is asked for again, with the same draft', async () => {
  vi.useFakeTimers();
  const { asked, state } = bench();
  const book = await state().open('P1', 'c');
  book.place('snout', 0, [0, 0]);
  await vi.advanceTimersByTimeAsync(200);
  book.askAgain();
  await vi.advanceTimersByTimeAsync(200);
  expect(asked.length).toBe(2);
  expect(asked[1]).toEqual(asked[0]);
  vi.useRealTimers();
});

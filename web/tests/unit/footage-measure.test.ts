import { describe, expect, test, vi } from 'vitest';
import { RequestError } from '$lib/api/client';
import type { Clip, FixesRequest, FootageProgram, ListedPass, Located, MeasuredPass } from '$lib/api/footage';
import type { Pair, TrackPoint } from '$lib/api/types';
import {
  anchors,
  around,
  counts,
  draftOf,
  fill,
  fixAt,
  longestFill,
  mark,
  put,
  remove,
  requestOf,
  same,
  setHeight,
  Steps,
  type Draft,
  type KeptDraft,
} from '$lib/footage/draft';
import type { DraftStore } from '$lib/footage/draft-store';
import { besideOf, groupsOf, nextLeft, stateOf } from '$lib/footage/passes';
import { distanceCm, ellipseOf, frameNearest, trackAt } from '$lib/footage/reading';
import { MeasureState } from '$lib/state/footage-measure.svelte';

const heights = { how: 'class', class: 'low', low_cm: null, high_cm: null, length_cm: null, sd_cm: null } as const;
const empty: Draft = { pass: 'P1', clip: 'c', start: null, onset: null, end: null, heights, fixes: [] };
const placed = (d: Draft, frame: number, x: number, y: number, point = 'snout') =>
  put(d, point, frame, [x, y], 'placed', 'A. Person');

describe('a draft', () => {
  test('keeps its fixes in order, one for each point and frame', () => {
    let d = placed(placed(placed(empty, 9, 1, 1), 3, 2, 2), 9, 5, 5, 'eye');
    d = placed(d, 3, 7, 7);
    expect(d.fixes.map((f) => [f.frame, f.point, f.pixel[0]])).toEqual([
      [3, 'snout', 7],
      [9, 'eye', 5],
      [9, 'snout', 1],
    ]);
    expect(empty.fixes).toEqual([]);
    expect(around(d.fixes, 'snout', 5)).toEqual({
      before: fixAt(d, 'snout', 3),
      after: fixAt(d, 'snout', 9),
    });
    expect(around(d.fixes, 'snout', 9).after).toBeUndefined();
  });

  test('a moved fix keeps the height that was stated for it', () => {
    const d = placed(setHeight(placed(empty, 3, 0, 0), 'snout', 3, 4, 8), 3, 9, 9);
    expect(fixAt(d, 'snout', 3)).toMatchObject({ lowCm: 4, highCm: 8, pixel: [9, 9] });
  });

  test('goes to the program and comes back as it was', () => {
    const d = mark(placed(empty, 4, 1.25, 2.5), 'onset', 4);
    const sent = requestOf(d, 'tag', 'B. Person', false);
    expect(sent).toMatchObject({ etag: 'tag', author: 'B. Person', onset_frame: 4, save: false });
    const answered = { ...sent, fixes: sent.fixes } as unknown as MeasuredPass;
    expect(draftOf(answered)).toEqual(d);
    expect(same(draftOf(answered), d)).toBe(true);
    expect(same(d, mark(d, 'end', 9))).toBe(false);
  });
});

describe('filling in', () => {
  const two = placed(placed(empty, 10, 0, 100), 14, 40, 80);

  test('lays a fix into every frame between, on the line', () => {
    const { draft, added, tooLong } = fill(two, 'snout', 12, 'A');
    expect([added, tooLong]).toEqual([3, []]);
    expect(counts(draft)).toEqual({ placed: 2, carried: 0, filled: 3 });
    expect(fixAt(draft, 'snout', 11)).toMatchObject({ how: 'filled', pixel: [10, 95] });
    expect(fill(draft, 'snout', 12, 'A').added).toBe(0);
  });

  test('only the stretch of the frame, or all', () => {
    const three = placed(two, 20, 100, 100);
    expect(fill(three, 'snout', 12, 'A').added).toBe(3);
    expect(fill(three, 'snout', 14, 'A').added).toBe(5);
    expect(fill(three, 'snout', 20, 'A').added).toBe(5);
    expect(fill(three, 'snout', null, 'A').added).toBe(8);
    expect(fill(three, 'snout', 30, 'A').added).toBe(0);
    expect(fill(three, 'eye', null, 'A').added).toBe(0);
  });

  test('follows its anchors, and goes where one of them goes', () => {
    const filled = fill(two, 'snout', null, 'A').draft;
    const moved = placed(filled, 14, 80, 100);
    expect(fixAt(moved, 'snout', 12)?.pixel).toEqual([40, 100]);
    const cut = remove(filled, 'snout', 14);
    expect(cut.fixes.map((f) => f.frame)).toEqual([10]);
    // One that is put by hand in between becomes an anchor itself.
    const by = placed(filled, 12, 0, 0);
    expect(anchors(by, 'snout').map((f) => f.frame)).toEqual([10, 12, 14]);
    expect(fixAt(by, 'snout', 13)?.pixel).toEqual([20, 40]);
  });

  test('not over a stretch in which the animal may have turned', () => {
    const far = placed(placed(empty, 0, 0, 0), longestFill + 1, 5, 5);
    expect(fill(far, 'snout', null, 'A')).toMatchObject({ added: 0, tooLong: [longestFill + 1] });
  });

  test('where the line runs is not what a draft states', () => {
    const a = fill(two, 'snout', null, 'A').draft;
    const b = { ...a, fixes: a.fixes.map((f) => (f.how === 'filled' ? { ...f, pixel: [1, 1] as const } : f)) };
    expect(same(a, b)).toBe(true);
  });
});

describe('undoing', () => {
  test('goes back and forth, and a row of moves is one step', () => {
    const steps = new Steps();
    let d = empty;
    const change = (to: Draft, name = '') => {
      steps.note(d, name);
      d = to;
    };
    change(placed(d, 1, 0, 0));
    for (const x of [1, 2, 3]) change(placed(d, 1, x, 0), 'move snout 1');
    steps.rest();
    change(placed(d, 1, 4, 0), 'move snout 1');
    expect(fixAt(d, 'snout', 1)?.pixel[0]).toBe(4);
    d = steps.undo(d)!;
    expect(fixAt(d, 'snout', 1)?.pixel[0]).toBe(3);
    d = steps.undo(d)!;
    expect(fixAt(d, 'snout', 1)?.pixel[0]).toBe(0);
    d = steps.redo(d)!;
    expect(fixAt(d, 'snout', 1)?.pixel[0]).toBe(3);
    d = steps.undo(steps.undo(d)!)!;
    expect(d).toEqual(empty);
    expect([steps.canUndo, steps.undo(d)]).toEqual([false, undefined]);
    change(placed(d, 2, 0, 0));
    expect([steps.canRedo, steps.redo(d)]).toEqual([false, undefined]);
  });
});

const listed = (pass: string, clip: string, start: number | null, end: number | null, fixes = 0): ListedPass => ({
  ...{ pass, clip, fixes, trial: 'T1', time: '', individual: '', species: 'S', pair: 'A', track: 0, turned: '' },
  ...{ start_frame: start, end_frame: end, onset_s: null },
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

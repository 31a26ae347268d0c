import { describe, expect, test } from 'vitest';
import type { MeasuredPass } from '$lib/api/footage';
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
} from '$lib/footage/draft';

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

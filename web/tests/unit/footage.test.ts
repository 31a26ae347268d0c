import { expect, test } from 'vitest';
import type { Footage, FootageProgram } from '$lib/api/footage';
import { PictureCache } from '$lib/footage/cache';
import { sheetOf } from '$lib/footage/strip';
import { ClipTimes } from '$lib/footage/times';
import { fitted, held, inside, viewOf, zoomed, type Pixel } from '$lib/footage/view';
import { FootageState } from '$lib/state/footage.svelte';

/** Two files: 25 per second with a frame lost in the middle, then one of its own time base that begins at 7. */
const chapters = [
  {
    time_base: [1, 1000],
    first: 80,
    runs: [
      [40, 3],
      [80, 1],
      [40, 2],
    ],
    keyframes: [0, 4],
    from_frame: 0,
    from_s: 0,
  },
  { time_base: [1, 90000], first: 7, runs: [[3000, 2]], keyframes: [0], from_frame: 7, from_s: 0.32 },
] as {
  time_base: [number, number];
  first: number;
  runs: [number, number][];
  keyframes: number[];
  from_frame: number;
  from_s: number;
}[];

test('every frame has its time, through chapters and gaps', () => {
  const times = new ClipTimes({ chapters });
  expect(times.count).toBe(10);
  const s = Array.from({ length: 10 }, (_, f) => Math.round(times.secondsOf(f) * 1e4) / 1e4);
  expect(s).toEqual([0, 0.04, 0.08, 0.12, 0.2, 0.24, 0.28, 0.32, 0.3533, 0.3867]);
  // The frame that is shown at a moment is the last that has begun; there and back is the same frame.
  for (let f = 0; f < 10; f++) expect(times.frameAt(times.secondsOf(f))).toBe(f);
  expect([0.199, 0.2, 0.319, -1, 9].map((t) => times.frameAt(t))).toEqual([3, 4, 6, 0, 9]);
  expect(times.chapterOf(6)).toEqual({ chapter: 0, frame: 6, ptsS: 0.36 });
  expect(times.chapterOf(8)).toEqual({ chapter: 1, frame: 1, ptsS: 3007 / 90000 });
  expect([0, 3, 4, 6, 7, 9].map((f) => times.keyBefore(f))).toEqual([0, 0, 4, 4, 7, 7]);
  expect(times.intervalOf(3)).toBeCloseTo(0.08, 9);
  expect(times.framesOf(1)).toEqual([7, 10]);
});

test('a clip without frames, and one of a single frame, answer', () => {
  const none = new ClipTimes({ chapters: [] });
  expect([none.count, none.secondsOf(3), none.frameAt(1), none.within(4), none.lastS]).toEqual([0, 0, 0, 0, 0]);
  const one = new ClipTimes({ chapters: [{ ...chapters[0]!, runs: [], keyframes: [0] }] });
  expect([one.count, one.secondsOf(3), one.frameAt(1), one.intervalOf(0)]).toEqual([1, 0, 0, 0.04]);
});

test('what is at a place of the screen stays there when the picture is zoomed', () => {
  const size: Pixel = [800, 450];
  const clip: Pixel = [1920, 1080];
  const at: Pixel = [300, 200];
  let pan = fitted(size, clip);
  expect(pan).toEqual({ scale: 800 / 1920, x: 0, y: 0 });
  const pixel = viewOf(pan, size, clip).toPixel(at);
  for (const factor of [2, 3, 0.7]) {
    pan = zoomed(pan, factor, at, size, clip);
    const back = viewOf(pan, size, clip).toPixel(at);
    expect(Math.hypot(back[0] - pixel[0], back[1] - pixel[1])).toBeLessThan(1e-9);
  }
  // All the way out is the fit again; pixel (0, 0) is the centre of the top left one.
  expect(zoomed(pan, 1e-6, at, size, clip)).toEqual(fitted(size, clip));
  expect(viewOf({ scale: 10, x: 0, y: 0 }, size, clip).toScreen([0, 0])).toEqual([5, 5]);
  expect(held({ scale: 1, x: 50, y: -9999 }, size, clip)).toEqual({ scale: 1, x: 0, y: 450 - 1080 });
  expect(inside([-3, 2000], clip)).toEqual([-0.5, 1079.5]);
});

test('pictures are closed when they make room, the least looked at first', () => {
  const closed: number[] = [];
  const made = (n: number) => ({ width: 100, height: 50, close: () => closed.push(n) }) as unknown as ImageBitmap;
  const cache = new PictureCache(100 * 50 * 4 * 3);
  for (const n of [1, 2, 3]) cache.put(n, made(n));
  cache.get(1);
  cache.put(4, made(4));
  expect(closed).toEqual([2]);
  cache.put(4, made(40));
  expect(closed).toEqual([2, 4]);
  expect([cache.bytes, cache.size]).toEqual([60000, 3]);
  cache.clear();
  expect([cache.bytes, closed.length]).toEqual([0, 5]);
});

test('five key presses reach any frame of a pass of ten minutes at 60 per second', () => {
  const keyBefore = (f: number): number => f - (f % 12);
  const [from, to] = [100_003, 136_002];
  // The leaves of the tree of sheets are all frames, each once.
  const seen = new Set<number>();
  let [most, wrong] = [0, 0];
  const open = (span: readonly [number, number], presses: number): void => {
    const pieces = sheetOf(span, { keyBefore });
    const whole = pieces[0]!.frame === span[0] && pieces.at(-1)!.last === span[1] && pieces.length <= 25;
    if (!whole || pieces.some((p, i) => i > 0 && p.frame !== pieces[i - 1]!.last + 1)) wrong++;
    for (const p of pieces)
      if (p.last > p.frame) open([p.frame, p.last], presses + 1);
      else seen.add(p.frame);
    most = Math.max(most, presses + 1);
  };
  open([from, to], 1); // S
  expect([most, wrong, seen.size]).toEqual([5, 0, 36_000]);
});

test('what was asked for before never replaces what came later', async () => {
  const answers: ((view: Footage) => void)[] = [];
  const view = (jobs: number): Footage =>
    ({ clips: [], tools: {}, jobs: Array.from({ length: jobs }, () => ({ state: 'running' })) }) as unknown as Footage;
  const program = { view: () => new Promise<Footage>((done) => answers.push(done)) } as unknown as FootageProgram;
  const page = new FootageState(program);
  const slow = page.load();
  await page.act(() => Promise.resolve(view(1)));
  answers[0]?.(view(0)); // read before the work was asked for
  await slow;
  expect(page.working).toBe(true);
  const [first, second] = [page.load(), page.load()];
  answers[2]?.(view(0));
  await second;
  answers[1]?.(view(1));
  await first;
  expect(page.working).toBe(false);
});

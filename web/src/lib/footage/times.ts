// The times of the frames of a clip. A clip is one recording in one or more
// files (chapters), in order; its frames are counted through from 0, and its
// seconds are counted from its first frame.
import type { ChapterFrames, Frames } from '$lib/api/footage';

/** Where a frame lies: in which file, which of its frames it is, and when the file itself says that it is shown. */
export interface FramePlace {
  chapter: number;
  frame: number;
  /** Seconds by the file's own clock. */
  ptsS: number;
}

interface ChapterTimes {
  fromFrame: number;
  fromS: number;
  /** Seconds per unit of the file. */
  unitS: number;
  pts: Float64Array;
  keyframes: number[];
}

/** unrolled writes the times of a file one by one; they are stored as runs of equal intervals. */
function unrolled(c: ChapterFrames): ChapterTimes {
  const count = 1 + c.runs.reduce((n, [, times = 0]) => n + times, 0);
  const pts = new Float64Array(count);
  pts[0] = c.first;
  let i = 0;
  for (const [interval = 0, times = 0] of c.runs) for (let n = 0; n < times; n++, i++) pts[i + 1] = pts[i]! + interval;
  const [num = 0, den = 1] = c.time_base;
  return { fromFrame: c.from_frame, fromS: c.from_s, unitS: num / den, pts, keyframes: c.keyframes };
}

/** last is the greatest index of a sorted row whose value is not above the limit; -1 where there is none. */
function last(length: number, at: (i: number) => number, limit: number): number {
  let [low, high] = [-1, length - 1];
  while (low < high) {
    const middle = Math.ceil((low + high) / 2);
    if (at(middle) <= limit) low = middle;
    else high = middle - 1;
  }
  return low;
}

/** A moment counts as reached when it is so near: times are sums of floating numbers. */
const nearS = 1e-7;

export class ClipTimes {
  readonly #chapters: ChapterTimes[];
  /** Frames of the whole clip. */
  readonly count: number;

  constructor(frames: Pick<Frames, 'chapters'>) {
    this.#chapters = frames.chapters.map(unrolled);
    this.count = this.#chapters.reduce((n, c) => n + c.pts.length, 0);
  }

  get chapters(): number {
    return this.#chapters.length;
  }

  /** Seconds of the clip at its last frame. */
  get lastS(): number {
    return this.count > 0 ? this.secondsOf(this.count - 1) : 0;
  }

  /** within is the nearest frame that there is. */
  within(frame: number): number {
    return Math.max(0, Math.min(this.count - 1, Math.round(frame)));
  }

  #chapter(frame: number): number {
    return Math.max(
      0,
      last(this.#chapters.length, (i) => this.#chapters[i]!.fromFrame, frame),
    );
  }

  /** secondsOf is when the frame is shown, seconds of the clip. */
  secondsOf(frame: number): number {
    if (this.count === 0) return 0;
    const f = this.within(frame);
    const c = this.#chapters[this.#chapter(f)]!;
    return c.fromS + (c.pts[f - c.fromFrame]! - c.pts[0]!) * c.unitS;
  }

  /** frameAt is the frame that is shown at that moment: the last that has begun. */
  frameAt(seconds: number): number {
    return Math.max(
      0,
      last(this.count, (f) => this.secondsOf(f), seconds + nearS),
    );
  }

  chapterOf(frame: number): FramePlace {
    if (this.count === 0) return { chapter: 0, frame: 0, ptsS: 0 };
    const f = this.within(frame);
    const chapter = this.#chapter(f);
    const c = this.#chapters[chapter]!;
    return { chapter, frame: f - c.fromFrame, ptsS: c.pts[f - c.fromFrame]! * c.unitS };
  }

  /** framesOf are the first frame of a chapter, counted through the clip, and the one after its last. */
  framesOf(chapter: number): [number, number] {
    const c = this.#chapters[chapter]!;
    return [c.fromFrame, c.fromFrame + c.pts.length];
  }

  /** keyBefore is the frame from which a decoder has to start to show this one, counted through the clip. */
  keyBefore(frame: number): number {
    const { chapter, frame: within } = this.chapterOf(frame);
    const c = this.#chapters[chapter];
    if (!c) return 0;
    const i = last(c.keyframes.length, (n) => c.keyframes[n]!, within);
    return c.fromFrame + (i < 0 ? 0 : c.keyframes[i]!);
  }

  /** How long the frame stands, seconds; the last of a file as long as the one before it. */
  intervalOf(frame: number): number {
    const { chapter, frame: within } = this.chapterOf(frame);
    const c = this.#chapters[chapter];
    if (!c || c.pts.length < 2) return 1 / 25;
    const i = Math.min(within, c.pts.length - 2);
    return (c.pts[i + 1]! - c.pts[i]!) * c.unitS;
  }
}

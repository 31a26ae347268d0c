// What is being measured of one pass, before it is saved: plain values, changed
// by making new ones, so that every change can be undone and kept.
import type { FixesRequest, Fix, Heights, MeasuredPass } from '$lib/api/footage';

export type Pixel = readonly [number, number];
export type How = Fix['how'];

/** MadeFix is a point of an animal in a frame; the pixel is that of the clip as it is shown. */
export interface MadeFix {
  readonly point: string;
  readonly frame: number;
  readonly pixel: Pixel;
  readonly how: How;
  readonly by: string;
  readonly lowCm: number | null;
  readonly highCm: number | null;
}

/** Draft is everything that is stated of a pass; fixes are in order of frame, then of point. */
export interface Draft {
  readonly pass: string;
  readonly clip: string;
  readonly start: number | null;
  readonly onset: number | null;
  readonly end: number | null;
  readonly heights: Heights;
  readonly fixes: readonly MadeFix[];
}

export type Moment = 'start' | 'onset' | 'end';

/** The longest stretch that is filled in: an animal may turn within longer ones. */
export const longestFill = 120;

export const draftOf = (view: MeasuredPass, clip = view.clip): Draft => ({
  pass: view.pass,
  clip,
  start: view.start_frame,
  onset: view.onset_frame,
  end: view.end_frame,
  heights: view.heights,
  fixes: sorted(
    view.fixes.map((f) => ({
      point: f.point,
      frame: f.frame,
      pixel: [f.pixel[0] ?? 0, f.pixel[1] ?? 0],
      how: f.how,
      by: f.by,
      lowCm: f.height_low_cm,
      highCm: f.height_high_cm,
    })),
  ),
});

/** requestOf is the draft as the program takes it. */
export const requestOf = (draft: Draft, etag: string, author: string, save: boolean): FixesRequest => ({
  author,
  pass: draft.pass,
  clip: draft.clip,
  etag,
  start_frame: draft.start,
  onset_frame: draft.onset,
  end_frame: draft.end,
  heights: draft.heights,
  fixes: draft.fixes.map((f) => ({
    point: f.point,
    frame: f.frame,
    pixel: [f.pixel[0], f.pixel[1]],
    how: f.how,
    by: f.by,
    height_low_cm: f.lowCm,
    height_high_cm: f.highCm,
  })),
  save,
});

/** same tells whether two drafts state the same; of filled fixes only that they are there counts. */
export function same(a: Draft, b: Draft): boolean {
  return a === b || plain(a) === plain(b);
}
const plain = (d: Draft): string =>
  JSON.stringify([
    [d.clip, d.start, d.onset, d.end],
    [d.heights.how, d.heights.class, d.heights.low_cm, d.heights.high_cm, d.heights.length_cm, d.heights.sd_cm],
    d.fixes.map((f) => [f.point, f.frame, f.how, f.how === 'filled' ? null : f.pixel, f.lowCm, f.highCm]),
  ]);

const sorted = (fixes: readonly MadeFix[]): MadeFix[] =>
  [...fixes].sort((a, b) => a.frame - b.frame || (a.point < b.point ? -1 : a.point > b.point ? 1 : 0));

export const fixAt = (d: Draft, point: string, frame: number): MadeFix | undefined =>
  d.fixes.find((f) => f.frame === frame && f.point === point);

export const ofPoint = (d: Draft, point: string): MadeFix[] => d.fixes.filter((f) => f.point === point);

/** anchors are the fixes of a point that were seen: what is filled in hangs between them. */
export const anchors = (d: Draft, point: string): MadeFix[] =>
  d.fixes.filter((f) => f.point === point && f.how !== 'filled');

/** around are the last fix of a point before a frame and the first after it. */
export function around(
  fixes: readonly MadeFix[],
  point: string,
  frame: number,
): { before: MadeFix | undefined; after: MadeFix | undefined } {
  let before: MadeFix | undefined;
  for (const f of fixes) {
    if (f.point !== point) continue;
    if (f.frame < frame) before = f;
    else if (f.frame > frame) return { before, after: f };
  }
  return { before, after: undefined };
}

/** put sets a fix, in the place of one of the same point and frame; a height stated for that one stays. */
export function put(d: Draft, point: string, frame: number, pixel: Pixel, how: How, by: string): Draft {
  const old = fixAt(d, point, frame);
  const made: MadeFix = { point, frame, pixel, how, by, lowCm: old?.lowCm ?? null, highCm: old?.highCm ?? null };
  return hung({ ...d, fixes: sorted([...d.fixes.filter((f) => f !== old), made]) }, point);
}

export function remove(d: Draft, point: string, frame: number): Draft {
  const old = fixAt(d, point, frame);
  return old ? hung({ ...d, fixes: d.fixes.filter((f) => f !== old) }, point) : d;
}

/** removePoint takes away every fix of a point. */
export const removePoint = (d: Draft, point: string): Draft => ({
  ...d,
  fixes: d.fixes.filter((f) => f.point !== point),
});

/** setHeight states the limits of one fix, or takes them back with nulls. */
export const setHeight = (
  d: Draft,
  point: string,
  frame: number,
  lowCm: number | null,
  highCm: number | null,
): Draft => ({
  ...d,
  fixes: d.fixes.map((f) => (f.point === point && f.frame === frame ? { ...f, lowCm, highCm } : f)),
});

/** mark sets or takes back a moment; the program judges whether the three fit each other. */
export const mark = (d: Draft, moment: Moment, frame: number | null): Draft => ({ ...d, [moment]: frame });

export interface Filling {
  draft: Draft;
  /** Fixes that were added. */
  added: number;
  /** Stretches that are too long to be filled, in frames. */
  tooLong: number[];
}

/**
 * fill puts a fix into every frame between two anchors of a point that has none:
 * between those round a frame, or (frame null) between all.
 */
export function fill(d: Draft, point: string, frame: number | null, by: string): Filling {
  const seen = anchors(d, point);
  const taken = new Set(ofPoint(d, point).map((f) => f.frame));
  const made: MadeFix[] = [];
  const tooLong: number[] = [];
  for (let i = 1; i < seen.length; i++) {
    const [a, b] = [seen[i - 1]!, seen[i]!];
    if (b.frame - a.frame < 2 || (frame !== null && (frame < a.frame || frame > b.frame))) continue;
    // On an anchor itself, the stretch after it is meant, or before it where it is the last.
    if (frame === b.frame && seen[i + 1]) continue;
    if (b.frame - a.frame > longestFill) {
      tooLong.push(b.frame - a.frame);
      continue;
    }
    for (let at = a.frame + 1; at < b.frame; at++) {
      if (taken.has(at)) continue;
      made.push({ point, frame: at, pixel: between(a, b, at), how: 'filled', by, lowCm: null, highCm: null });
    }
  }
  return { draft: { ...d, fixes: sorted([...d.fixes, ...made]) }, added: made.length, tooLong };
}

/** between is the straight line from fix to fix; the program answers with something better. */
function between(a: MadeFix, b: MadeFix, frame: number): Pixel {
  const s = (frame - a.frame) / (b.frame - a.frame);
  return [a.pixel[0] + s * (b.pixel[0] - a.pixel[0]), a.pixel[1] + s * (b.pixel[1] - a.pixel[1])];
}

/** hung lays the filled fixes of a point between their anchors anew; those without one on both sides go. */
function hung(d: Draft, point: string): Draft {
  const seen = anchors(d, point);
  let next = 0;
  const fixes: MadeFix[] = [];
  for (const f of d.fixes) {
    if (f.point !== point || f.how !== 'filled') {
      fixes.push(f);
      continue;
    }
    while (next < seen.length && seen[next]!.frame < f.frame) next++;
    const [a, b] = [seen[next - 1], seen[next]];
    if (a && b) fixes.push({ ...f, pixel: between(a, b, f.frame) });
  }
  return { ...d, fixes };
}

/** counts are the fixes by how they came about. */
export function counts(d: Draft): Record<How, number> {
  const n: Record<How, number> = { placed: 0, carried: 0, filled: 0 };
  for (const f of d.fixes) n[f.how]++;
  return n;
}

/** A draft of one study, kept while it is not saved. */
export interface KeptDraft {
  readonly draft: Draft;
  /** What stood in the study when it was begun. */
  readonly etag: string;
  readonly keptMs: number;
}

/** Past and future of a draft: what can be undone, and done again. */
export class Steps {
  #past: Draft[] = [];
  #future: Draft[] = [];
  /** The kind of the last change: many of the same kind in a row are one step. */
  #last = '';

  get canUndo(): boolean {
    return this.#past.length > 0;
  }
  get canRedo(): boolean {
    return this.#future.length > 0;
  }

  /** note keeps what was before a change; changes with the same name that is not empty, one after the other, are one step. */
  note(before: Draft, name = ''): void {
    if (!name || name !== this.#last) this.#past.push(before);
    if (this.#past.length > 500) this.#past.shift();
    this.#future = [];
    this.#last = name;
  }

  /** rest ends a row of changes. */
  rest(): void {
    this.#last = '';
  }

  undo(now: Draft): Draft | undefined {
    const before = this.#past.pop();
    if (before) this.#future.push(now);
    this.#last = '';
    return before;
  }

  redo(now: Draft): Draft | undefined {
    const after = this.#future.pop();
    if (after) this.#past.push(now);
    this.#last = '';
    return after;
  }
}

// The sheet of pictures: 25 across the span that is looked at, each with a letter.
// A letter chooses a picture; then 25 across what lies between it and the next, and
// so on until each picture is one frame. With the key that opens it, five key
// presses reach any frame of 390 625.
import type { ClipTimes } from './times';

export const sheetLetters = 'ABCDEFGHIJKLMNOPQRSTUVWXY';
const most = sheetLetters.length;
/** Pieces of so many frames begin at a frame that can be shown without those before it: the sheet is there sooner. */
const snapFrames = 24;

export interface Piece {
  letter: string;
  /** The frame that is pictured: the first of the piece. */
  frame: number;
  /** The last frame that belongs to it. */
  last: number;
}

/** sheetOf parts the span, both ends included, into pieces that leave no frame out. */
export function sheetOf([from, to]: readonly [number, number], times?: Pick<ClipTimes, 'keyBefore'>): Piece[] {
  const count = to - from + 1;
  const pieces = Math.min(most, count);
  const starts: number[] = [];
  for (let i = 0; i < pieces; i++) {
    const even = from + Math.floor((i * count) / pieces);
    const key = times && count / pieces >= snapFrames ? times.keyBefore(even) : even;
    const before = starts.at(-1);
    starts.push(before === undefined ? from : key > before && even - key < count / pieces / 2 ? key : even);
  }
  return starts.map((frame, i) => ({ letter: sheetLetters[i]!, frame, last: (starts[i + 1] ?? to + 1) - 1 }));
}

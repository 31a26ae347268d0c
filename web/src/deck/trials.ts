// Which trial runs, which is next, and how much time is left. Pure.
import type { DeckTrial } from '$lib/api/types';
import { readTime } from './times';

const aDayMs = 24 * 60 * 60_000;

/** running is the trial that was begun and not ended: the one chosen on this tablet, else the newest of the last day. */
export function running(
  trials: readonly DeckTrial[],
  zone: string,
  chosen: string,
  nowMs: number,
): DeckTrial | undefined {
  const open = trials.filter((t) => t.fields.start && !t.fields.end);
  const mine = open.find((t) => t.trial === chosen);
  if (mine) return mine;
  const at = (t: DeckTrial) => readTime(t.fields.start!, zone);
  return open.filter((t) => nowMs - at(t) < aDayMs).sort((a, b) => at(b) - at(a))[0];
}

/** upcoming are the trials that were not begun: planned ones in their order, spare draws last. */
export const upcoming = (trials: readonly DeckTrial[]): DeckTrial[] =>
  trials
    .filter((t) => t.planned && !t.fields.start && !t.fields.end && t.passes === 0)
    .sort((a, b) => Number(a.spare) - Number(b.spare));

/** beside is a name for a trial beside the schedule: one more than the highest number of the usual names. */
export function beside(trials: readonly DeckTrial[]): string {
  const named = trials.map((t) => /^(.*?)(\d+)$/.exec(t.trial)).filter((m) => m !== null);
  const stem = named.at(-1)?.[1] ?? 'T';
  const numbers = named.filter((m) => m[1] === stem).map((m) => m[2]!);
  const highest = Math.max(0, ...numbers.map(Number));
  const width = numbers.length > 0 ? Math.max(...numbers.map((n) => n.length)) : 3;
  return stem + String(highest + 1).padStart(width, '0');
}

export interface Timer {
  state: 'running' | 'over' | 'washout' | 'free';
  /** Until the trial or the washout is over; how long it has been over, where it is. */
  seconds: number;
  /** From 0 to 1: how much of it has gone. */
  share: number;
}

/** trialTimer counts a trial down. Without a length it counts up. A clock before the start shows the whole length. */
export function trialTimer(startMs: number, lengthMin: number, nowMs: number): Timer {
  const gone = Math.max(0, (nowMs - startMs) / 1000);
  if (lengthMin <= 0) return { state: 'running', seconds: gone, share: 0 };
  const length = lengthMin * 60;
  return gone < length
    ? { state: 'running', seconds: Math.ceil(length - gone), share: gone / length }
    : { state: 'over', seconds: gone - length, share: 1 };
}

/** washoutTimer counts from the end of the last trial until the next may begin. */
export function washoutTimer(trials: readonly DeckTrial[], zone: string, washoutMin: number, nowMs: number): Timer {
  const free: Timer = { state: 'free', seconds: 0, share: 1 };
  const ends = trials.map((t) => (t.fields.end ? readTime(t.fields.end, zone) : NaN)).filter((ms) => !Number.isNaN(ms));
  if (washoutMin <= 0 || ends.length === 0) return free;
  const length = washoutMin * 60;
  const since = (nowMs - Math.max(...ends)) / 1000;
  const gone = Math.max(0, since);
  // A clock that was set back by more than the washout tells nothing.
  return gone >= length || since < -length
    ? free
    : { state: 'washout', seconds: Math.ceil(length - gone), share: gone / length };
}

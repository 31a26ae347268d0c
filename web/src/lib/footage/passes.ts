// The passes of a study as they are measured: in which clip each is, how far it
// has come, and which are in the picture at the same time.
import type { Clip, ListedPass } from '$lib/api/footage';

export type PassState = 'none' | 'begun' | 'measured';

/** stateOf a pass: measured with two fixes or more that are saved, begun with fewer or with a draft. */
export function stateOf(pass: ListedPass, drafts: ReadonlySet<string>): PassState {
  if (drafts.has(pass.pass)) return 'begun';
  return pass.fixes > 1 ? 'measured' : pass.fixes > 0 ? 'begun' : 'none';
}

/** clipOf is the clip that a pass names, or the one into whose time it falls; "" where there is none. */
export const clipOf = (pass: ListedPass, clips: readonly Clip[]): string =>
  clips.some((c) => c.clip === pass.clip) ? pass.clip : (clips.find((c) => c.passes.includes(pass.pass))?.clip ?? '');

export interface PassGroup {
  clip: string;
  passes: ListedPass[];
}

/** groupsOf puts the passes under their clips, in the clips' order, then those without one. */
export function groupsOf(passes: readonly ListedPass[], clips: readonly Clip[]): PassGroup[] {
  const groups = new Map<string, ListedPass[]>(clips.map((c) => [c.clip, []]));
  const without: ListedPass[] = [];
  for (const pass of passes) (groups.get(clipOf(pass, clips)) ?? without).push(pass);
  return [...[...groups].map(([clip, of]) => ({ clip, passes: of })), { clip: '', passes: without }].filter(
    (g) => g.passes.length > 0,
  );
}

/** A pass whose end is not fixed is thought to last so long. */
const unknownLengthS = 20;

/** spanOf is from which to which frame a pass is watched, as far as is known. */
export function spanOf(pass: ListedPass, rateHz: number): [number, number] | undefined {
  if (pass.start_frame === null) return undefined;
  return [pass.start_frame, pass.end_frame ?? pass.start_frame + Math.round(unknownLengthS * rateHz)];
}

/** besideOf are the passes that are in the picture while this one is, this one among them, in the season's order. */
export function besideOf(pass: ListedPass, clip: Clip, all: readonly ListedPass[]): ListedPass[] {
  const rate = clip.frame_rate_Hz ?? 25;
  const own = spanOf(pass, rate);
  return all.filter((other) => {
    if (other.pass === pass.pass) return true;
    if (clipOf(other, [clip]) !== clip.clip || !own) return false;
    const span = spanOf(other, rate);
    return span !== undefined && span[0] <= own[1] && own[0] <= span[1];
  });
}

/** nextLeft is the next pass that is not measured, from the one after this on and round; undefined where all are. */
export function nextLeft(groups: readonly PassGroup[], now: string, drafts: ReadonlySet<string>): string | undefined {
  const all = groups.filter((g) => g.clip).flatMap((g) => g.passes);
  const here = all.findIndex((p) => p.pass === now);
  for (let i = 1; i <= all.length; i++) {
    const pass = all[(here + i + all.length) % all.length]!;
    if (pass.pass !== now && stateOf(pass, drafts) !== 'measured') return pass.pass;
  }
  return undefined;
}

// Poses of a clip as they are worked on: marks at known places, each clicked or not
// yet. Places are typed in centimetres.
import type { KnownMark, Pose, PoseMark, PoseSpec } from '$lib/api/footage';
import { readNumber } from '$lib/calibration/rows';

export type Pixel = [number, number];

export interface MarkDraft {
  key: number;
  name: string;
  /** As typed, cm. */
  at: [string, string, string];
  /** The study states this place. */
  known: boolean;
  /** Undefined: not clicked yet. */
  pixel?: Pixel | undefined;
  /** Where it was seen in the pose before. */
  before?: Pixel | undefined;
}

export interface PoseDraft {
  key: number;
  fromFrame: number;
  camera: string;
  /** As typed, px. */
  clickSd: string;
  note: string;
  marks: MarkDraft[];
}

/** A pose needs so many marks. */
export const leastMarks = 4;

let next = 1;
export const freshKey = (): number => next++;

const cm = (m: number): string => String(Number((m * 100).toPrecision(10)));
const textsOf = (at: readonly number[]): [string, string, string] => [cm(at[0] ?? 0), cm(at[1] ?? 0), cm(at[2] ?? 0)];

/** placeOf is a mark's place in metres; undefined where a number cannot be read. */
export function placeOf(m: Pick<MarkDraft, 'at'>): [number, number, number] | undefined {
  const at = m.at.map((t) => {
    const v = readNumber(t);
    return v === undefined ? undefined : Number((v / 100).toPrecision(12));
  });
  return at.every((v) => v !== undefined && Math.abs(v) < 1e6) ? (at as [number, number, number]) : undefined;
}

const samePlace = (a: readonly number[], b: readonly number[]): boolean =>
  [0, 1, 2].every((k) => Math.abs((a[k] ?? 0) - (b[k] ?? 0)) < 1e-6);

/** unclicked are the places that the study states. */
const unclicked = (known: readonly KnownMark[]): MarkDraft[] =>
  known.map((k) => ({ key: freshKey(), name: k.name, at: textsOf(k.at_m ?? []), known: true }));

/** draftOfPose shows a pose's marks, then those of the study that were not clicked. */
export function draftOfPose(spec: PoseSpec, known: readonly KnownMark[]): PoseDraft {
  const marks = (spec.marks ?? []).map((m: PoseMark): MarkDraft => {
    const stated = known.find((k) => k.name === m.name);
    return {
      key: freshKey(),
      name: m.name,
      at: textsOf(m.at_m ?? []),
      known: stated !== undefined && samePlace(stated.at_m ?? [], m.at_m ?? []),
      pixel: [m.pixel?.[0] ?? 0, m.pixel?.[1] ?? 0],
    };
  });
  const names = new Set(marks.map((m) => m.name));
  return {
    key: freshKey(),
    fromFrame: spec.from_frame,
    camera: spec.camera,
    clickSd: String(spec.click_sd_px),
    note: spec.note,
    marks: [...marks, ...unclicked(known.filter((k) => !names.has(k.name)))],
  };
}

export const emptyPose = (
  fromFrame: number,
  camera: string,
  clickSd: string,
  known: readonly KnownMark[],
): PoseDraft => ({
  key: freshKey(),
  fromFrame,
  camera,
  clickSd,
  note: '',
  marks: unclicked(known),
});

/** again is a pose with the same marks, to be clicked anew from another frame on. */
export const again = (pose: PoseDraft, fromFrame: number): PoseDraft => ({
  ...pose,
  key: freshKey(),
  fromFrame,
  note: '',
  marks: pose.marks.map((m) => ({ ...m, key: freshKey(), pixel: undefined, before: m.pixel ?? m.before })),
});

export const clicked = (pose: PoseDraft): MarkDraft[] => pose.marks.filter((m) => m.pixel !== undefined);

/** specOfPose is what the program takes: the marks that were clicked; undefined while something cannot be read. */
export function specOfPose(pose: PoseDraft): PoseSpec | undefined {
  const sd = readNumber(pose.clickSd);
  if (sd === undefined || !(sd > 0) || sd > 100 || pose.camera === '') return undefined;
  const marks: PoseMark[] = [];
  for (const m of clicked(pose)) {
    const at = placeOf(m);
    if (!at || m.name.trim() === '') return undefined;
    marks.push({ name: m.name.trim(), at_m: at, pixel: [...m.pixel!] });
  }
  return { from_frame: pose.fromFrame, camera: pose.camera, click_sd_px: sd, marks, note: pose.note.trim() };
}

/** textOfPoses compares what stands here with what is saved; marks that were not clicked do not count. */
export const textOfPoses = (poses: readonly PoseDraft[]): string =>
  JSON.stringify(
    poses.map((p) => [
      p.fromFrame,
      p.camera,
      p.clickSd.trim(),
      p.note.trim(),
      clicked(p).map((m) => [m.name.trim(), m.at.map((t) => t.trim()), m.pixel]),
    ]),
  );

/** holding is the pose that holds at a frame: the last that has begun, else the first. */
export function holding(poses: readonly Pick<PoseDraft, 'fromFrame'>[], frame: number): number {
  let at = -1;
  poses.forEach((p, i) => {
    if (p.fromFrame <= frame && (at < 0 || p.fromFrame >= poses[at]!.fromFrame)) at = i;
  });
  if (at >= 0 || poses.length === 0) return at;
  return poses.reduce((first, p, i) => (p.fromFrame < poses[first]!.fromFrame ? i : first), 0);
}

/** clickSdOf is what the residuals say of the clicks, px in one direction; undefined where there are too few marks. */
export function clickSdOf(pose: Pick<Pose, 'residual_px'>): number | undefined {
  const r = pose.residual_px ?? [];
  const free = 2 * r.length - 6; // a pose has six numbers
  if (free < 4) return undefined;
  const sum = r.reduce((s, d) => s + (d?.[0] ?? 0) ** 2 + (d?.[1] ?? 0) ** 2, 0);
  return Math.sqrt(sum / free);
}

/** badMarks lie farther from where the pose expects them than clicks explain. */
export const badMark = (residual: readonly number[] | undefined, clickSd: number): boolean =>
  residual !== undefined && Math.hypot(residual[0] ?? 0, residual[1] ?? 0) > Math.max(4 * clickSd, 3);

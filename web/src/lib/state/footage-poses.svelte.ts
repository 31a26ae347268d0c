// The part Camera: the poses of one clip as they are worked on, and what the
// program makes of the one that is looked at.
import { asProblem, type RequestError } from '$lib/api/client';
import type { Clip, FootageProgram, KnownMark, Pose, PoseSpec } from '$lib/api/footage';
import {
  again,
  badMark,
  clicked,
  clickSdOf,
  draftOfPose,
  emptyPose,
  freshKey,
  holding,
  leastMarks,
  placeOf,
  specOfPose,
  textOfPoses,
  type MarkDraft,
  type Pixel,
  type PoseDraft,
} from '$lib/footage/pose-draft';
import { readNumber } from '$lib/calibration/rows';
import { Answer } from './answer.svelte';

/** A click on so near an expected place is taken for that mark, screen pixels. */
const nearPx = 14;
const restMs = 120;
const mostUndone = 200;

export type Keeping = 'idle' | 'saving' | 'changed' | 'failed';

export class PoseDesk {
  clip = $state('');
  etag = '';
  known = $state.raw<readonly KnownMark[]>([]);
  poses = $state.raw<PoseDraft[]>([]);
  /** The pose that is worked on: the one that holds at the frame that is shown. */
  at = $state(-1);
  /** The mark that the next click is for, by its key. */
  chosen = $state(-1);
  keeping = $state<Keeping>('idle');
  problem = $state.raw<RequestError>();
  readonly answer = new Answer<Pose>(restMs);
  #base = $state.raw<Pose[]>([]);
  #baseText = $state('');
  #past: PoseDraft[][] = $state.raw([]);
  #future: PoseDraft[][] = $state.raw([]);

  readonly pose = $derived<PoseDraft | undefined>(this.poses[this.at]);
  readonly spec = $derived(this.pose && specOfPose(this.pose));
  readonly placed = $derived(this.pose ? clicked(this.pose).length : 0);
  readonly turned = $derived(textOfPoses(this.poses) !== this.#baseText);
  readonly canUndo = $derived(this.#past.length > 0);
  readonly canRedo = $derived(this.#future.length > 0);
  /** What the program says of the pose; undefined while there are too few marks. */
  readonly shown = $derived.by((): Pose | undefined => {
    const { pose } = this;
    if (!pose || this.placed < leastMarks) return undefined;
    if (this.answer.value && this.answeredFor === pose.key) return this.answer.value;
    return this.turned ? undefined : this.#base.find((b) => b.from_frame === pose.fromFrame);
  });
  readonly stale = $derived(this.answer.busy || this.answer.old);
  /** What the residuals say of the clicks, px. */
  readonly clickSd = $derived(this.shown && clickSdOf(this.shown));
  answeredFor = $state(-1);

  constructor(private readonly program: Pick<FootageProgram, 'poses'>) {}

  /** begin takes what the program says of a clip, unless something of that clip was changed here. */
  begin(clip: Clip, known: readonly KnownMark[], frame: number, usualSd = ''): void {
    if (this.keeping === 'saving') return;
    if (this.clip === clip.clip && this.turned) return;
    if (this.clip === clip.clip && this.etag === clip.etag && this.poses.length > 0) return;
    this.clip = clip.clip;
    this.etag = clip.etag;
    this.known = known;
    this.take(clip.poses, frame, usualSd);
  }

  take(poses: readonly Pose[], frame: number, usualSd = ''): void {
    this.#base = [...poses];
    this.poses = poses.map((p) => draftOfPose(p, this.known));
    this.#baseText = textOfPoses(this.poses);
    this.#past = this.#future = [];
    this.keeping = 'idle';
    this.problem = undefined;
    this.answer.stop();
    this.answeredFor = -1;
    this.usualSd = usualSd;
    this.look(frame);
  }
  usualSd = '';

  /** look works on the pose that holds at a frame. */
  look(frame: number): void {
    const at = holding(this.poses, frame);
    if (at === this.at && this.poses[at]?.marks.some((m) => m.key === this.chosen)) return;
    this.at = at;
    this.chosen = this.#nextUnplaced(-1);
  }

  #set(poses: PoseDraft[]): void {
    this.#past = [...this.#past.slice(-mostUndone), this.poses];
    this.#future = [];
    this.poses = poses;
    if (this.keeping === 'failed') this.keeping = 'idle';
  }

  undo(): void {
    const before = this.#past.at(-1);
    if (!before) return;
    this.#future = [...this.#future, this.poses];
    this.#past = this.#past.slice(0, -1);
    this.poses = before;
    this.at = Math.min(this.at, before.length - 1);
  }

  redo(): void {
    const after = this.#future.at(-1);
    if (!after) return;
    this.#past = [...this.#past, this.poses];
    this.#future = this.#future.slice(0, -1);
    this.poses = after;
    this.at = Math.max(0, Math.min(this.at, after.length - 1));
  }

  turn(change: Partial<PoseDraft>): void {
    this.#set(this.poses.map((p, i) => (i === this.at ? { ...p, ...change } : p)));
  }

  turnMark(key: number, change: Partial<MarkDraft>): void {
    const { pose } = this;
    if (pose) this.turn({ marks: pose.marks.map((m) => (m.key === key ? { ...m, ...change } : m)) });
  }

  /** first begins the poses of a clip that has none. */
  first(camera: string): void {
    this.#set([emptyPose(0, camera, this.usualSd, this.known)]);
    this.at = 0;
    this.chosen = this.#nextUnplaced(-1);
  }

  /** knocked begins a pose at a frame, with the marks to be clicked anew; false: one begins there already. */
  knocked(frame: number): boolean {
    const { pose } = this;
    if (!pose || this.poses.some((p) => p.fromFrame === frame)) return false;
    this.#insert(again(pose, frame));
    return true;
  }

  /** copy takes a pose of another clip for this one, from a frame on, in place of what begins there. */
  copy(spec: PoseSpec, frame: number): void {
    const copied = { ...draftOfPose(spec, this.known), fromFrame: frame };
    if (this.poses.some((p) => p.fromFrame === frame))
      this.#set(this.poses.map((p) => (p.fromFrame === frame ? copied : p)));
    else this.#insert(copied);
    this.at = this.poses.findIndex((p) => p.key === copied.key);
    this.chosen = this.#nextUnplaced(-1);
  }

  #insert(pose: PoseDraft): void {
    this.#set([...this.poses, pose].sort((a, b) => a.fromFrame - b.fromFrame));
    this.at = this.poses.findIndex((p) => p.key === pose.key);
    this.chosen = this.#nextUnplaced(-1);
  }

  removePose(at: number): void {
    this.#set(this.poses.filter((_, i) => i !== at));
    this.at = Math.min(this.at, this.poses.length - 1);
    this.chosen = this.#nextUnplaced(-1);
  }

  addMark(): number {
    const { pose } = this;
    if (!pose) return -1;
    const mark: MarkDraft = { key: freshKey(), name: '', at: ['', '', '0'], known: false };
    this.turn({ marks: [...pose.marks, mark] });
    this.chosen = mark.key;
    return mark.key;
  }

  removeMark(key: number): void {
    const { pose } = this;
    if (!pose) return;
    this.turn({ marks: pose.marks.filter((m) => m.key !== key) });
    if (this.chosen === key) this.chosen = this.#nextUnplaced(-1);
  }

  /** place puts the mark where it was clicked, and goes on to the next; the name of the mark that was placed. */
  place(pixel: Readonly<Pixel>, near?: (mark: Readonly<Pixel>) => number): string | undefined {
    const { pose } = this;
    if (!pose) return undefined;
    const mark = (near && this.#expectedNear(near)) ?? pose.marks.find((m) => m.key === this.chosen);
    if (!mark) return undefined;
    const rounded: Pixel = [Math.round(pixel[0] * 100) / 100, Math.round(pixel[1] * 100) / 100];
    this.turnMark(mark.key, { pixel: rounded, before: undefined });
    this.chosen = this.#nextUnplaced(mark.key);
    return mark.name;
  }

  /** expectedNear is the unclicked mark whose expected place was clicked on, if any; distances are of the screen. */
  #expectedNear(near: (mark: Readonly<Pixel>) => number): MarkDraft | undefined {
    const { pose } = this;
    let best: MarkDraft | undefined;
    let least = nearPx;
    for (const m of pose?.marks ?? []) {
      const at = m.pixel === undefined ? this.expected(m.name) : undefined;
      const far = at ? near(at) : Infinity;
      if (far < least) [best, least] = [m, far];
    }
    return best;
  }

  /** expected is where the pose expects a mark. */
  expected(name: string): Pixel | undefined {
    const e = this.shown?.expected.find((m) => m.name === name.trim())?.pixel;
    return e ? [e[0] ?? 0, e[1] ?? 0] : undefined;
  }

  /** residual is that of a mark that was clicked, seen minus expected. */
  residual(name: string): Pixel | undefined {
    const i = this.shown?.marks?.findIndex((m) => m.name === name.trim()) ?? -1;
    const r = i >= 0 ? this.shown?.residual_px[i] : undefined;
    return r ? [r[0] ?? 0, r[1] ?? 0] : undefined;
  }

  bad(name: string): boolean {
    return badMark(this.residual(name), readNumber(this.pose?.clickSd ?? '') ?? 1);
  }

  unplace(key = this.chosen): void {
    const mark = this.pose?.marks.find((m) => m.key === key);
    if (mark?.pixel) this.turnMark(key, { pixel: undefined });
    this.chosen = key;
  }

  /** choose goes to the next mark of the list, or the one before. */
  step(by: 1 | -1): void {
    const marks = this.pose?.marks ?? [];
    if (marks.length === 0) return;
    const i = marks.findIndex((m) => m.key === this.chosen);
    this.chosen = marks[(i + by + marks.length) % marks.length]!.key;
  }

  #nextUnplaced(after: number): number {
    const marks = this.pose?.marks ?? [];
    const i = marks.findIndex((m) => m.key === after);
    const order = [...marks.slice(i + 1), ...marks.slice(0, Math.max(0, i))];
    // Once the pose is known, places of the study outside the picture are not asked for.
    const told = Boolean(this.shown?.camera_centre_m);
    const wanted = (m: MarkDraft): boolean => !told || !m.known || this.expected(m.name) !== undefined;
    return order.find((m) => m.pixel === undefined && wanted(m))?.key ?? -1;
  }

  /** ask tries the pose as it stands. */
  ask(): void {
    const { pose, spec } = this;
    if (!pose || !spec || this.placed < leastMarks) {
      this.answer.stop();
      return;
    }
    // Own marks that are not clicked yet: where they should be seen is asked with it.
    const ghosts = pose.marks.flatMap((m) => {
      const at = m.pixel || m.known ? undefined : placeOf(m);
      return at && m.name.trim() ? [{ name: m.name.trim(), at_m: at }] : [];
    });
    const body = { author: '', clip: this.clip, etag: this.etag, poses: [spec], ghosts, save: false };
    this.answer.ask(`${this.clip} ${pose.key} ${JSON.stringify([spec, ghosts])}`, async () => {
      const { poses } = await this.program.poses(body);
      this.answeredFor = pose.key;
      return poses[0]!;
    });
  }

  /** unread says which poses cannot be saved as they stand: by number, from 1. */
  readonly unread = $derived(this.poses.flatMap((p, i) => (specOfPose(p) ? [] : [i + 1])));
  readonly unreadMarks = $derived(
    (this.pose?.marks ?? []).filter((m) => m.pixel && (!placeOf(m) || m.name.trim() === '')).map((m) => m.key),
  );

  /** save writes all poses of the clip; over: whatever somebody else saved meanwhile. */
  async save(author: string, over = ''): Promise<boolean> {
    if (this.keeping === 'saving' || this.unread.length > 0) return false;
    const poses = this.poses.map((p) => specOfPose(p)!);
    this.keeping = 'saving';
    this.problem = undefined;
    try {
      const done = await this.program.poses({ author, clip: this.clip, etag: over || this.etag, poses, save: true });
      this.etag = done.etag;
      this.#base = done.poses;
      this.#baseText = textOfPoses(this.poses);
      this.keeping = 'idle';
      return true;
    } catch (e) {
      this.problem = asProblem(e);
      this.keeping = [409, 412].includes(this.problem.status) ? 'changed' : 'failed';
      return false;
    }
  }

  /** leave gives up what was changed here. */
  leave(frame: number): void {
    this.take(this.#base, frame, this.usualSd);
  }
}

// The two sections of the page Stimulus: where they lie, and the pictures that
// the program gave. What needs no solving is shown at once; the plates and
// bodies follow when they are worked out.
import { asProblem, type RequestError } from '$lib/api/client';
import type { Asked, Form, Knobs, SectionPlane } from '$lib/api/stimulus';
import type { Section } from '$lib/draw/section';
import { bottomM } from '$lib/draw/solids';
import { Newest } from './newest';
import { roughReach } from './reach';
import { SectionStore } from './section-store';
import type { Stimulus } from './stimulus.svelte';

/** Shape of both pictures: across over tall. */
const shape = 4 / 3;
const fine = { columns: 160, rows: 120 };
const coarse = { columns: 80, rows: 60 };
/** The plates are worked out when the knobs have been still for so long. */
const restMs = 150;

export interface Shown extends Section {
  form: Form;
}

/** mustBeSolved tells whether the form takes longer than a turn of a knob. */
export const mustBeSolved = (knobs: Knobs, form: Form): boolean =>
  form === 'real' && (knobs.plates.length > 0 || knobs.bodies.length > 0);

/** quickForm is what stands in for the form until it is solved. */
export const quickForm = (knobs: Knobs, form: Form): Form =>
  !mustBeSolved(knobs, form) ? form : knobs.plates.length > 0 ? 'endless_plate' : 'no_plate';

/** solutionKey tells solutions apart: the field is in proportion to the current, so that is no part of it. */
export const solutionKey = (knobs: Knobs): string => JSON.stringify({ ...knobs, current_uA: 1, waveform: null });

interface Want {
  asked: Asked;
  planes: SectionPlane[];
  compare: boolean;
}

const isFine = (shown: Shown, form: Form): boolean => shown.form === form && shown.view.columns === fine.columns;

export class Sections {
  /** Direction of the vertical section, through the driven pair or shift metres to the left of it. */
  azimuthDeg = $state(0);
  shiftM = $state(0);
  /** Height of the horizontal section. */
  heightM = $state(0.05);
  /** Half the width of both pictures. */
  halfWidthM = $state(0.6);
  /** Textbook ÷ worked out, instead of the field. */
  compare = $state(false);

  vertical = $state.raw<Shown>();
  horizontal = $state.raw<Shown>();
  problem = $state.raw<RequestError>();
  /** Sentences of a refusal that belong to no knob. */
  sentences = $state.raw<string[]>([]);
  /** Seconds that the plates have been worked on; undefined while nothing is. */
  working = $state<number>();
  /** What the pictures show is not yet what was asked for. */
  readonly behind = $derived.by(() => this.working !== undefined || this.vertical?.form !== this.stimulus.form);

  /** Places that are not to be left out of a wide picture: how far the farthest pair is from (0, 0). */
  readonly #farthest = $derived.by(() =>
    Math.max(0, ...(this.stimulus.knobs?.pairs ?? []).map((p) => Math.hypot(p.centre_m[0] ?? 0, p.centre_m[1] ?? 0))),
  );
  /** Middle of the pictures: that of the season, or of the pair where they show less than all pairs. */
  readonly middle = $derived.by((): [number, number] => {
    const [x = 0, y = 0] = this.stimulus.pair?.centre_m ?? [];
    return this.halfWidthM > this.#farthest ? [0, 0] : [x, y];
  });
  readonly planes = $derived.by((): SectionPlane[] => {
    const [px = 0, py = 0] = this.stimulus.pair?.centre_m ?? [];
    const [x, y] = this.middle;
    const a = (this.azimuthDeg * Math.PI) / 180;
    const half = this.halfWidthM;
    const tall = (2 * half) / shape;
    const floor = this.stimulus.knobs ? Math.min(0, bottomM(this.stimulus.knobs)) : 0;
    const lowest = floor - tall * 0.14;
    const common = { half_width_m: half, ...fine };
    const vertical: SectionPlane = {
      plane: 'vertical',
      azimuth_deg: this.azimuthDeg,
      offset_m: py * Math.cos(a) - px * Math.sin(a) + this.shiftM,
      middle_m: x * Math.cos(a) + y * Math.sin(a),
      height_m: 0,
      lowest_m: lowest,
      highest_m: lowest + tall,
      ...common,
    };
    const horizontal: SectionPlane = {
      plane: 'horizontal',
      azimuth_deg: 0,
      offset_m: 0,
      middle_m: x,
      height_m: this.heightM,
      lowest_m: y - tall / 2,
      highest_m: y + tall / 2,
      ...common,
    };
    return [vertical, horizontal];
  });
  /** Changes when the pictures must be asked for again. */
  readonly key = $derived.by(() => JSON.stringify([this.stimulus.asked, this.planes, this.compare]));

  #store: SectionStore;
  #solved = '';
  #quick = new Newest<Want>((want, signal) => this.#first(want, signal));
  #slow: AbortController | undefined;
  #rest: ReturnType<typeof setTimeout> | undefined;
  #clock: ReturnType<typeof setInterval> | undefined;
  #newest: Want | undefined;

  constructor(readonly stimulus: Stimulus) {
    this.#store = new SectionStore(stimulus.program);
  }

  /** begin lays the sections through the driven pair, with room round the lowest threshold. */
  begin(): void {
    const { knobs, pair } = this.stimulus;
    if (!knobs) return;
    this.azimuthDeg = pair?.azimuth_deg ?? 0;
    const lowest = Math.min(...this.stimulus.thresholds);
    const wide = pair && Number.isFinite(lowest) ? 2 * roughReach(knobs, lowest) : this.#farthest + 0.35;
    this.halfWidthM = Math.ceil(Math.max(0.2, wide) * 20) / 20;
  }

  ask(): void {
    const { asked } = this.stimulus;
    if (!asked) return;
    this.#stopSlow();
    this.#newest = { asked, planes: this.planes, compare: this.compare };
    this.#quick.ask(this.#newest);
  }

  stop(): void {
    this.#quick.stop();
    this.#stopSlow();
  }

  #stopSlow(): void {
    clearTimeout(this.#rest);
    clearInterval(this.#clock);
    this.#slow?.abort();
    this.#slow = undefined;
    this.working = undefined;
  }

  /** first asks for what can be had at once; of a solved setting a coarse picture, where there is no fine one. */
  async #first(want: Want, signal: AbortSignal): Promise<void> {
    const { knobs, form } = want.asked;
    const solving = mustBeSolved(knobs, form);
    const solved = solving && this.#solved === solutionKey(want.asked.knobs);
    const rough = { ...want, asked: { ...want.asked, form: solved ? form : quickForm(knobs, form) } };
    const answered = await this.#take(rough, solved ? coarse : fine, signal);
    const settled = answered && (!solving || [this.vertical, this.horizontal].every((s) => s && isFine(s, form)));
    if (answered && !settled && this.#newest === want) this.#rest = setTimeout(() => void this.#second(want), restMs);
  }

  async #second(want: Want): Promise<void> {
    const began = performance.now();
    const running = new AbortController();
    this.#slow = running;
    this.working = 0;
    this.#clock = setInterval(() => (this.working = (performance.now() - began) / 1000), 100);
    const answered = await this.#take(want, fine, running.signal);
    if (running.signal.aborted) return;
    if (answered) this.#solved = solutionKey(want.asked.knobs);
    this.#stopSlow();
  }

  /** take asks for both pictures, on that grid or a finer one that is there; false where they did not come. */
  async #take({ asked, planes, compare }: Want, grid: typeof fine, signal: AbortSignal): Promise<boolean> {
    const one = async (plane: SectionPlane): Promise<Shown> => {
      const best = { ...plane, ...fine };
      const section = this.#store.has(asked, best) ? best : { ...plane, ...grid };
      const [view, textbook] = await Promise.all([
        this.#store.get(asked, section, signal),
        compare ? this.#store.get({ ...asked, form: 'textbook' }, section, signal) : undefined,
      ]);
      return { view, textbook, plane, middleM: plane.middle_m ?? 0, knobs: asked.knobs, form: asked.form };
    };
    try {
      const [vertical, horizontal] = await Promise.all(planes.map(one));
      if (signal.aborted) return false;
      this.vertical = vertical;
      this.horizontal = horizontal;
      this.problem = undefined;
      this.sentences = [];
      this.stimulus.accept();
      return true;
    } catch (e) {
      if (signal.aborted) return false;
      const problem = asProblem(e);
      this.sentences = this.stimulus.refuse(problem);
      this.problem = problem;
      return false;
    }
  }
}

// The page Footage: the clips of a study, its cameras and its passes, read again
// after every change, when the window comes to the front, and while work on the
// clips goes on.
import { asProblem, type RequestError } from '$lib/api/client';
import type { Clip, Footage, FootageProgram, Frames, ListedPass } from '$lib/api/footage';
import type { Entry } from '$lib/api/studies';
import { Player } from '$lib/footage/player.svelte';
import { openSource, PictureError } from '$lib/footage/source';
import { ClipTimes } from '$lib/footage/times';

const askAgainMs = 1000;

/** Records that the page is made of. */
const kinds = new Set([
  'clip',
  'camera',
  'footage',
  'fixes',
  'track',
  'pass',
  'trial',
  'study',
  'pair',
  'site',
  'lock',
]);

/** working tells whether something is being done in the background. */
const working = (view: Footage | undefined): boolean =>
  view?.jobs.some((j) => j.state !== 'failed') ||
  view?.clips.some((c) => c.chapters.some((h) => ['waiting', 'running'].includes(h.proxy.state))) ||
  false;

export class FootageState {
  view = $state.raw<Footage>();
  /** Why the page could not be read. */
  problem = $state.raw<RequestError>();
  /** Why the last thing that was asked for was not done. */
  refused = $state.raw<RequestError>();
  busy = $state(false);
  readonly readOnly = $derived(this.view?.read_only ?? true);
  readonly working = $derived(working(this.view));
  #turn = 0;
  #times: Record<string, Promise<ClipTimes>> = Object.create(null);

  constructor(
    readonly program: FootageProgram,
    /** Called when a change was written: tables and Home read again. */
    private readonly wrote: (entries: readonly Entry[]) => void = () => undefined,
  ) {}

  clip(name: string): Clip | undefined {
    return this.view?.clips.find((c) => c.clip === name);
  }

  pass(id: string): ListedPass | undefined {
    return this.view?.passes.find((p) => p.pass === id);
  }

  async load(): Promise<void> {
    const turn = ++this.#turn;
    try {
      const view = await this.program.view();
      if (turn !== this.#turn) return; // what was asked for later is newer
      this.view = view;
      this.problem = undefined;
    } catch (e) {
      if (turn === this.#turn) this.problem = asProblem(e);
    }
  }

  /** act does what changes the study, and reads the page again; true when it was done. */
  async act(change: () => Promise<Footage | unknown>): Promise<boolean> {
    if (this.busy) return false;
    this.busy = true;
    this.refused = undefined;
    try {
      const answer = await change();
      if (isView(answer)) {
        this.#turn++; // what is still on its way was asked for before
        this.view = answer;
      } else await this.load();
      this.wrote([]);
      return true;
    } catch (e) {
      this.refused = asProblem(e);
      return false;
    } finally {
      this.busy = false;
    }
  }

  /** times are those of all frames of a clip, asked for once. */
  times(clip: string): Promise<ClipTimes> {
    const files = this.clip(clip)?.chapters.map((c) => c.sha256) ?? [];
    const key = [clip, ...files].join(' ');
    const known = this.#times[key];
    if (known) return known;
    const asked = this.program.frames(clip).then((f: Frames) => new ClipTimes(f));
    this.#times[key] = asked;
    asked.catch(() => delete this.#times[key]); // the next may succeed
    return asked;
  }

  /** player opens a clip for looking at its frames; whoever asked closes it. */
  async player(name: string): Promise<Player> {
    const clip = this.clip(name);
    if (!clip) throw new PictureError('lost');
    const times = await this.times(name);
    return new Player(times, await openSource(this.program, clip, times));
  }

  /** watch reads again every second while work goes on and the page is looked at, until what it gives is called. */
  watch(): () => void {
    let asking = false;
    const timer = setInterval(() => {
      if (asking || this.busy || document.visibilityState !== 'visible' || !this.working) return;
      asking = true;
      void this.load().finally(() => (asking = false));
    }, askAgainMs);
    return () => clearInterval(timer);
  }

  /** take reads again where something of it was written elsewhere. */
  take(entries: readonly Entry[]): void {
    if (entries.some((e) => kinds.has(e.kind))) void this.load();
  }
}

const isView = (answer: unknown): answer is Footage =>
  typeof answer === 'object' && answer !== null && 'clips' in answer && 'tools' in answer;

// The page Dossier: what a dossier would hold as things stand, the one that is
// in the making, and those that were made.
import { asProblem, type RequestError } from '$lib/api/client';
import type { Dossier, DossierCheckView, DossierMade, DossierPreview, DossierProgram } from '$lib/api/dossier';
import type { Entry, StudyProgram } from '$lib/api/studies';
import { Answer } from './answer.svelte';
import { DossierCompare } from './dossier-compare.svelte';
import { DossierForm } from './dossier-form.svelte';

const askAgainMs = 700;

/** What looking at a package found, or why it could not be looked at. */
export interface Checked {
  busy: '' | 'check' | 'again';
  view?: DossierCheckView;
  problem?: RequestError;
}

export class DossierState {
  view = $state.raw<Dossier>();
  problem = $state.raw<RequestError>();
  /** Why what was asked last was not done. */
  refused = $state.raw<RequestError>();
  busy = $state(false);
  readonly preview = new Answer<DossierPreview>(0);
  /** Rises with everything that was written: figures are asked for again. */
  version = $state(1);
  /** By the name of a package, or its token. */
  checked = $state.raw<Readonly<Record<string, Checked>>>({});
  /** Name of the package that was finished while this page was looked at. */
  finished = $state('');
  readonly form: DossierForm;
  readonly compare: DossierCompare;
  #turn = 0;

  readonly readOnly = $derived(this.view?.read_only ?? true);
  /** One is in the making: it has not broken off. */
  readonly working = $derived(this.view?.job !== undefined && !this.view.job.error);
  readonly made = $derived<readonly DossierMade[]>(this.view?.made ?? []);

  constructor(
    readonly program: DossierProgram,
    study: Pick<StudyProgram, 'edit'>,
    wrote: (entries: readonly Entry[]) => void = () => undefined,
  ) {
    this.form = new DossierForm(study, program, wrote);
    this.compare = new DossierCompare(program);
  }

  async load(): Promise<void> {
    const turn = ++this.#turn;
    try {
      const view = await this.program.view();
      if (turn !== this.#turn) return; // what was asked for later is newer
      this.#become(view);
      this.problem = undefined;
    } catch (e) {
      if (turn === this.#turn) this.problem = asProblem(e);
    }
  }

  #become(view: Dossier): void {
    const before = this.view;
    if (before?.job && !view.job) {
      const fresh = view.made.find((m) => !before.made.some((b) => b.name === m.name));
      if (fresh) this.finished = fresh.name;
    }
    this.view = view;
    this.form.begin(view);
  }

  /** look asks for the report and the figures as things stand now. */
  look(): void {
    if (!this.view?.ready) return;
    this.preview.ask(String(this.version), (signal) => this.program.preview(signal));
  }

  /** make begins a dossier, once what is typed is saved. */
  async make(again: boolean): Promise<void> {
    if (this.busy || this.working) return;
    if (this.form.changed && !(await this.form.save())) return;
    this.finished = '';
    await this.#act(() => this.program.make(again));
  }

  stop = (): Promise<void> => this.#act(() => this.program.stop());

  async remove(pack: string): Promise<void> {
    await this.#act(() => this.program.remove(pack));
    if (this.refused) return;
    this.checked = Object.fromEntries(Object.entries(this.checked).filter(([name]) => name !== pack));
    if (this.finished === pack) this.finished = '';
    this.compare.forget(pack);
  }

  async #act(change: () => Promise<Dossier>): Promise<void> {
    if (this.busy) return;
    this.busy = true;
    this.refused = undefined;
    try {
      const view = await change();
      this.#turn++; // what is still on its way was asked for before
      this.#become(view);
    } catch (e) {
      this.refused = asProblem(e);
    } finally {
      this.busy = false;
    }
  }

  /** check looks at a package: its checksums, its seal, its tables; again also works it out once more. */
  async check(pack: string, again: boolean): Promise<void> {
    if (this.checked[pack]?.busy) return;
    this.#put(pack, { busy: again ? 'again' : 'check' });
    try {
      this.#put(pack, { busy: '', view: await this.program.check(pack, again) });
    } catch (e) {
      this.#put(pack, { busy: '', problem: asProblem(e) });
    }
  }

  #put(pack: string, checked: Checked): void {
    this.checked = { ...this.checked, [pack]: checked };
  }

  /** watch reads again while a dossier is in the making and the page is looked at, until what it gives is called. */
  watch(): () => void {
    let asking = false;
    const timer = setInterval(() => {
      if (asking || this.busy || !this.working || document.visibilityState !== 'visible') return;
      asking = true;
      void this.load().finally(() => (asking = false));
    }, askAgainMs);
    return () => clearInterval(timer);
  }

  /** take reads again where something was written: everything in a study is in its dossier. */
  take(entries: readonly Entry[]): void {
    if (entries.length === 0) return;
    this.version++;
    void this.load();
  }
}

// An import from the folder to the study: read, compared, looked at, carried out.
import { asProblem, carryOut, planImport, type RequestError } from '$lib/api/client';
import type { ImportDone, Plan } from '$lib/api/types';
import { FolderError, type Folder } from '$lib/folder/folder';
import { encode, planRequest } from '$lib/folder/upload';
import { nameTaken } from './address';
import { writer } from './writer.svelte';

export type Stage = 'idle' | 'reading' | 'comparing' | 'planned' | 'importing' | 'done' | 'failed';

export class ImportState {
  stage = $state<Stage>('idle');
  folder = $state.raw<Folder>();
  bytes = $state.raw({ done: 0, total: 0 });
  plan = $state.raw<Plan>();
  done = $state.raw<ImportDone>();
  /** Why the folder could not be read. */
  unread = $state.raw<FolderError>();
  /** Why the program refused the comparison or the import. */
  problem = $state.raw<RequestError>();
  /** The study to import into; "" for a new one. */
  into = $state('');
  /** Name of a new study's folder. */
  name = $state('');
  blind = $state(false);
  removeMissing = $state(false);
  readonly missing = $derived(this.plan?.tables.reduce((n, t) => n + t.missing, 0) ?? 0);
  readonly changing = $derived(this.plan?.tables.reduce((n, t) => n + t.added + t.changed, 0) ?? 0);
  /** There is something to write: of an existing study, something that differs. */
  readonly worth = $derived(this.into === '' || this.changing > 0 || (this.removeMissing && this.missing > 0));

  /** What would change value by value; what is missing is withdrawn only where that is asked for. */
  readonly changes = $derived((this.plan?.changes ?? []).filter((c) => c.act !== 'remove' || this.removeMissing));

  #files: Blob[] = [];
  #stop: AbortController | undefined;

  /** take reads a folder and compares it; blind is what the study is now. */
  async take(folder: Promise<Folder>, into: string, blind: boolean): Promise<void> {
    this.forget();
    const stop = (this.#stop = new AbortController());
    this.stage = 'reading';
    this.into = into;
    this.blind = blind;
    try {
      this.folder = await folder;
      this.#files = await encode(this.folder.files, (done, total) => (this.bytes = { done, total }), stop.signal);
    } catch (e) {
      if (stop.signal.aborted) return;
      this.unread = e instanceof FolderError ? e : new FolderError('unreadable', this.folder?.name ?? '');
      this.stage = 'failed';
      return;
    }
    await this.compare();
  }

  /** turnTo compares the same folder with another study. */
  async turnTo(into: string, blind: boolean): Promise<void> {
    this.into = into;
    this.blind = blind;
    this.removeMissing = false;
    await this.compare();
  }

  async compare(): Promise<void> {
    this.#stop?.abort();
    const stop = (this.#stop = new AbortController());
    this.problem = undefined;
    this.stage = 'comparing';
    try {
      const plan = await planImport(planRequest(this.into, this.#files), stop.signal);
      if (stop.signal.aborted) return;
      this.plan = plan;
      this.name ||= plan.suggested;
    } catch (e) {
      if (stop.signal.aborted) return;
      this.problem = asProblem(e);
    }
    this.stage = 'planned';
  }

  /** carryOut writes what the plan says, all or nothing. */
  async carryOut(): Promise<void> {
    if (!this.plan?.plan || this.stage !== 'planned') return;
    this.problem = undefined;
    this.stage = 'importing';
    try {
      this.done = await carryOut({
        plan: this.plan.plan,
        study: this.into || this.name.trim(),
        blind: this.plan.guarded && this.blind,
        remove_missing: this.removeMissing && this.missing > 0,
        author: writer.name,
      });
      this.stage = 'done';
      this.#files = [];
    } catch (e) {
      this.problem = asProblem(e);
      this.stage = 'planned';
    }
  }

  /** forget drops the folder and whatever was on the way. */
  forget(): void {
    this.#stop?.abort();
    this.#stop = undefined;
    this.#files = [];
    this.stage = 'idle';
    this.folder = this.plan = this.done = this.unread = this.problem = undefined;
    this.bytes = { done: 0, total: 0 };
    this.into = this.name = '';
    this.blind = this.removeMissing = false;
  }
}

/** What is wrong with the name of a new study; undefined when nothing is. */
export function nameFault(name: string, others: string[]): 'missing' | 'taken' | 'used' | undefined {
  const wanted = name.trim().toLowerCase();
  if (!wanted) return 'missing';
  if (nameTaken(wanted)) return 'taken';
  return others.some((o) => o.toLowerCase() === wanted) ? 'used' : undefined;
}

export const imports = new ImportState();

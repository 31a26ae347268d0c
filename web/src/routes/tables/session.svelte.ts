// What was changed in this window, to be taken back and brought back. Each step
// back is an entry of its own: nothing leaves the journal.
import { asProblem, RequestError } from '$lib/api/client';
import type { Entry, StudyProgram } from '$lib/api/studies';

export class Session {
  done = $state.raw<readonly (readonly Entry[])[]>([]);
  undone = $state.raw<readonly (readonly Entry[])[]>([]);
  busy = $state(false);
  problem = $state.raw<RequestError>();

  constructor(
    private readonly program: StudyProgram,
    /** Called with what was written, by whatever way. */
    private readonly wrote: (entries: readonly Entry[]) => void,
  ) {}

  /** record takes a change that was just saved; what had been taken back before can no longer be brought back. */
  record(entries: readonly Entry[]): void {
    if (entries.length === 0) return;
    this.done = [...this.done, entries];
    this.undone = [];
    this.problem = undefined;
    this.wrote(entries);
  }

  /** undo takes back the last change of this window. */
  async undo(): Promise<void> {
    const step = this.done.at(-1);
    if (!step || this.busy) return;
    const { written, left } = await this.#takeBack(step);
    this.done = left.length > 0 ? [...this.done.slice(0, -1), left] : this.done.slice(0, -1);
    if (written.length > 0) this.undone = [...this.undone, written];
  }

  /** redo brings back what was last taken back. */
  async redo(): Promise<void> {
    const step = this.undone.at(-1);
    if (!step || this.busy) return;
    const { written, left } = await this.#takeBack(step);
    this.undone = left.length > 0 ? [...this.undone.slice(0, -1), left] : this.undone.slice(0, -1);
    if (written.length > 0) this.done = [...this.done, written];
  }

  /** undoEntry takes back any entry of the journal, as a change of its own. */
  async undoEntry(entry: Entry): Promise<boolean> {
    if (this.busy) return false;
    const { written } = await this.#takeBack([entry]);
    if (written.length === 0) return false;
    const without = (steps: typeof this.done) => steps.filter((s) => !s.some((e) => e.entry === entry.entry));
    this.done = [...without(this.done), written];
    this.undone = without(this.undone);
    return true;
  }

  /** The last entry goes first: it may rest on those before it. */
  async #takeBack(step: readonly Entry[]): Promise<{ written: Entry[]; left: readonly Entry[] }> {
    this.busy = true;
    this.problem = undefined;
    const written: Entry[] = [];
    const left = [...step];
    try {
      for (let entry = left.at(-1); entry; entry = left.at(-1)) {
        written.push(...(await this.program.undo(entry.entry)).entries);
        left.pop();
      }
    } catch (e) {
      this.problem = asProblem(e);
    } finally {
      this.busy = false;
      if (written.length > 0) this.wrote(written);
    }
    return { written, left };
  }
}

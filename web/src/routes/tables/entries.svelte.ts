// The entries about one record, and the journal as a whole.
import { asProblem, RequestError } from '$lib/api/client';
import type { Entry, StudyProgram } from '$lib/api/studies';

/** A subject is a record, or one of its fields. */
export interface Subject {
  kind: string;
  id: string;
  field?: string;
}

export class HistoryState {
  subject = $state.raw<Subject>();
  /** Oldest first, about the whole record. */
  entries = $state.raw<readonly Entry[]>();
  problem = $state.raw<RequestError>();
  /** Newest first, about the field where one is asked for. */
  readonly shown = $derived.by(() => {
    const field = this.subject?.field;
    const about = (this.entries ?? []).filter(
      (e) => !field || e.act === 'remove' || e.values.some((v) => v.field === field),
    );
    return [...about].reverse();
  });

  constructor(private readonly program: StudyProgram) {}

  /** show asks only where the record is another one. */
  async show(subject: Subject | undefined): Promise<void> {
    const before = this.subject;
    this.subject = subject;
    if (subject && (before?.kind !== subject.kind || before.id !== subject.id)) {
      this.entries = undefined;
      await this.reload();
    }
  }

  async reload(): Promise<void> {
    const asked = this.subject;
    if (!asked) return;
    try {
      const { entries } = await this.program.history(asked.kind, asked.id);
      if (this.subject?.kind !== asked.kind || this.subject.id !== asked.id) return;
      this.entries = entries;
      this.problem = undefined;
    } catch (e) {
      this.problem = asProblem(e);
    }
  }

  /** take reads again where something was written about the record. */
  take(entries: readonly Entry[]): void {
    const s = this.subject;
    // Which pair was active in a trial is an entry of its own.
    const about = (e: Entry) => e.kind === s?.kind || (e.kind === 'assignment' && s?.kind === 'trial');
    if (s && entries.some((e) => about(e) && e.id === s.id)) void this.reload();
  }
}

const journalPage = 100;

export class JournalState {
  /** Newest first. */
  entries = $state.raw<readonly Entry[]>();
  more = $state(false);
  busy = $state(false);
  problem = $state.raw<RequestError>();
  #before = 0;

  constructor(private readonly program: StudyProgram) {}

  /** load begins with the newest entries, as many as were shown. */
  async load(): Promise<void> {
    await this.#ask(0, Math.min(1000, Math.max(journalPage, this.entries?.length ?? 0)));
  }

  async loadMore(): Promise<void> {
    if (this.more && !this.busy) await this.#ask(this.#before, journalPage);
  }

  async #ask(before: number, limit: number): Promise<void> {
    this.busy = true;
    try {
      const page = await this.program.journal(before, limit);
      this.entries = before === 0 ? page.entries : [...(this.entries ?? []), ...page.entries];
      this.#before = page.before;
      this.more = page.before > 0;
      this.problem = undefined;
    } catch (e) {
      this.problem = asProblem(e);
    } finally {
      this.busy = false;
    }
  }
}

// Keeps the second copy up to the database, from wherever it stands.
import { Copy } from './copy';
import type { BlobNote, Database, KeptEntry } from './database';
import { wordsOf } from './errors';
import type { KeptBlob } from './hash';
import { blobLine, entryLine } from './lines';

export interface CopyState {
  /** Entries that the second copy lacks. */
  behind: number;
  /** Why it lacks them, or why there is none. */
  why?: string;
}

export const noteOf = (b: KeptBlob): BlobNote => ({ ref: b.ref, kind: b.kind, bytes: b.data.length, safe: false });

export class Mirror {
  /** Undefined where the browser has no private file system, or does not let this page at it. */
  copy: Copy | undefined;
  #why: string | undefined;
  /** Up to which place in the log the copy has the entries. */
  #copied = 0;
  #count = 0;
  #queue: Promise<void> = Promise.resolve();

  static async open(name: string): Promise<Mirror> {
    const m = new Mirror();
    try {
      m.copy = await Copy.open(name);
    } catch (e) {
      m.#why = `There is no second copy: ${wordsOf(e)}`;
    }
    return m;
  }

  get state(): CopyState {
    const behind = this.#count - this.#copied;
    return this.#why === undefined ? { behind } : { behind, why: this.#why };
  }

  /** begin is called when the copy was brought up to so many entries, or could not be. */
  begin(count: number): void {
    this.#count = count;
    if (this.copy?.complete) this.#copied = count;
  }

  /** follow writes what was just appended, and whatever failed before. */
  follow(db: Database, entries: readonly KeptEntry[], blobs: readonly KeptBlob[], count: number): void {
    this.#count = count;
    this.#queue = this.#queue.then(async () => {
      const { copy } = this;
      if (!copy) return;
      try {
        if (copy.complete && this.#copied === count - entries.length)
          await copy.append([...blobs.map((b) => blobLine(noteOf(b))), ...entries.map(entryLine)], blobs);
        else await this.#catchUp(db, copy, count);
        copy.complete = true;
        this.#copied = count;
        this.#why = undefined;
      } catch (e) {
        copy.complete = false;
        this.#why = `The second copy could not be written: ${wordsOf(e)}`;
      }
    });
  }

  async #catchUp(db: Database, copy: Copy, count: number): Promise<void> {
    for (const note of await db.getAll('blobs')) {
      const data = copy.refs.has(note.ref) ? undefined : await db.get('data', note.ref);
      if (data) await copy.append([blobLine(note)], [{ kind: note.kind, ...data }]);
    }
    if (count > this.#copied)
      await copy.append((await db.getAll('entries', IDBKeyRange.bound(this.#copied + 1, count))).map(entryLine));
  }

  /** done is when the copy has been written as far as it can be. */
  async done(): Promise<CopyState> {
    await this.#queue;
    return this.state;
  }

  async close(): Promise<void> {
    await this.#queue;
    await this.copy?.close();
    this.copy = undefined;
  }
}

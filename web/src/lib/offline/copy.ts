// The page's side of the second copy: copy.worker.ts does the writing.
import { salted, saltBytes, type KeptBlob } from './hash';

export type CopyRequest =
  | { do: 'open'; dir: string }
  | { do: 'append'; text: string; blobs: { ref: string; bytes: Uint8Array }[] }
  | { do: 'rewrite'; text: string }
  | { do: 'read'; ref: string }
  | { do: 'close' };

export interface CopyAnswer {
  text?: string;
  refs?: string[];
  bytes?: Uint8Array;
}

/** How long another tab may take to let go of the file. */
const patienceMs = 3000;

export class Copy {
  #worker: Worker;
  #asked = new Map<number, { done: (a: CopyAnswer) => void; failed: (e: Error) => void }>();
  #id = 0;
  /** Lines that it held when it was opened. */
  lines: string[] = [];
  /** It held all that the database does when the log was opened. */
  complete = false;
  /** The blobs that it holds. */
  refs = new Set<string>();

  private constructor() {
    this.#worker = new Worker(new URL('./copy.worker.ts', import.meta.url), { type: 'module' });
    this.#worker.onmessage = (m: MessageEvent<{ id: number; result: CopyAnswer; failed?: Error }>) => {
      const { id, result, failed } = m.data;
      const asked = this.#asked.get(id);
      this.#asked.delete(id);
      if (failed) asked?.failed(new DOMException(failed.message, failed.name));
      else asked?.done(result);
    };
    this.#worker.onerror = () => {
      for (const { failed } of this.#asked.values()) failed(new Error('The writer of the second copy did not start.'));
      this.#asked.clear();
    };
  }

  /** open waits a while for a tab that had the log before. Errors: no private file system, or no access to it. */
  static async open(dir: string): Promise<Copy> {
    const copy = new Copy();
    const until = Date.now() + patienceMs;
    for (;;) {
      try {
        const { text = '', refs = [] } = await copy.#ask({ do: 'open', dir });
        copy.lines = text.split('\n').slice(0, -1);
        copy.refs = new Set(refs);
        return copy;
      } catch (e) {
        const taken = (e as Error).name === 'NoModificationAllowedError';
        if (!taken || Date.now() > until) {
          copy.#worker.terminate();
          throw e;
        }
        await new Promise((r) => setTimeout(r, 50));
      }
    }
  }

  #ask(request: CopyRequest): Promise<CopyAnswer> {
    return new Promise((done, failed) => {
      const id = ++this.#id;
      this.#asked.set(id, { done, failed });
      this.#worker.postMessage({ id, request });
    });
  }

  /** append is done when blobs and lines are flushed. Errors: QuotaExceededError; the lines are then not there. */
  async append(texts: readonly string[], blobs: readonly KeptBlob[] = []): Promise<void> {
    await this.#ask({
      do: 'append',
      text: texts.map((t) => t + '\n').join(''),
      blobs: blobs.map((b) => ({ ref: b.ref, bytes: salted(b.salt, b.data) })),
    });
    for (const b of blobs) this.refs.add(b.ref);
  }

  /** rewrite replaces all lines. */
  async rewrite(texts: readonly string[]): Promise<void> {
    await this.#ask({ do: 'rewrite', text: texts.map((t) => t + '\n').join('') });
  }

  /** blob reads salt and data; whether they are intact is the caller's to check. */
  async blob(ref: string): Promise<Pick<KeptBlob, 'salt' | 'data'>> {
    const bytes = (await this.#ask({ do: 'read', ref })).bytes!;
    return { salt: new Uint8Array(bytes.subarray(0, saltBytes)), data: new Uint8Array(bytes.subarray(saltBytes)) };
  }

  async close(): Promise<void> {
    await this.#ask({ do: 'close' });
    this.#worker.terminate();
  }
}

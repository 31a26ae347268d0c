// A clip that is being put together: files of this laptop by where they are, or
// files that were dropped here and are sent to the program, in their order.
import { asProblem, type RequestError } from '$lib/api/client';
import type { FootageProgram, ImportRequest } from '$lib/api/footage';
import { send } from '$lib/footage/send';

export interface ChosenFile {
  id: number;
  name: string;
  bytes: number;
  /** What the import takes: a path, or the name that an upload gave; "" while it is sent. */
  token: string;
  /** The browser's, where it is sent; undefined: the program reads it where it is. */
  file: File | undefined;
  /** 0 to 1 of what is sent. */
  share: number;
  problem: RequestError | undefined;
  stop: AbortController | undefined;
}

let newest = 0;

export class AddClip {
  files = $state<ChosenFile[]>([]);
  name = $state('');
  start = $state('');
  copy = $state(false);
  readonly ready = $derived(this.files.length > 0 && this.files.every((f) => f.token !== ''));
  readonly sending = $derived(this.files.some((f) => f.token === '' && !f.problem));
  readonly bytes = $derived(this.files.reduce((n, f) => n + f.bytes, 0));

  #before = $state.raw<Pick<AddClip, 'files' | 'name' | 'start' | 'copy'>>();

  constructor(private readonly program: FootageProgram) {}

  /** take adds files by where they are, in the order of their names: cameras count their chapters up. */
  take(list: readonly { name: string; path: string; bytes: number }[]): void {
    const fresh = list.filter((f) => !this.files.some((g) => g.token === f.path));
    for (const f of byName(fresh)) this.files.push({ ...this.#made(f.name, f.bytes), token: f.path });
  }

  drop(path: string): void {
    const at = this.files.findIndex((f) => f.token === path);
    if (at >= 0) this.remove(at);
  }

  has(path: string): boolean {
    return this.files.some((f) => f.token === path);
  }

  /** send takes files that the browser holds. */
  async send(list: readonly File[]): Promise<void> {
    const ids = byName(list).map((file) => {
      const made = { ...this.#made(file.name, file.size), file, stop: new AbortController() };
      this.files.push(made);
      return made.id;
    });
    await this.#deliver(ids);
  }

  /** deliver sends one after the other: the first can be looked into while the next are on their way. */
  async #deliver(ids: readonly number[]): Promise<void> {
    for (const id of ids) {
      const chosen = this.files.find((f) => f.id === id);
      if (!chosen?.file || !chosen.stop) continue; // taken out meanwhile
      const tell = (share: number): void => void (chosen.share = share);
      try {
        chosen.token = await send(this.program.upload(chosen.name), chosen.file, tell, chosen.stop.signal);
        chosen.share = 1;
      } catch (e) {
        if (!(e instanceof DOMException)) chosen.problem = asProblem(e);
      }
    }
  }

  move(at: number, by: -1 | 1): void {
    const to = at + by;
    const [moved] = to < 0 || to >= this.files.length ? [] : this.files.splice(at, 1);
    if (moved) this.files.splice(to, 0, moved);
  }

  remove(at: number): void {
    this.files[at]?.stop?.abort();
    this.files.splice(at, 1);
  }

  /** sent keeps what was asked for, should it fail, and begins anew. */
  sent(): void {
    this.#before = { files: this.files, name: this.name, start: this.start, copy: this.copy };
    this.files = [];
    this.clear();
  }

  /** canRepeat tells whether a failed job is the one that was asked for here. */
  canRepeat(file: string): boolean {
    return this.#before?.files[0]?.name === file;
  }

  /** repeat puts back what was asked for, to be corrected. */
  repeat(): void {
    if (!this.#before) return;
    const { files, name, start, copy } = this.#before;
    this.clear();
    [this.name, this.start, this.copy] = [name, start, copy];
    // What was sent went with the job that failed: it is sent again.
    this.files = files.map((f) => ({
      ...this.#made(f.name, f.bytes),
      ...(f.file ? { file: f.file, stop: new AbortController() } : { token: f.token }),
    }));
    void this.#deliver(this.files.map((f) => f.id));
  }

  clear(): void {
    for (const f of this.files) f.stop?.abort();
    this.files = [];
    [this.name, this.start] = ['', ''];
  }

  request(author: string): ImportRequest {
    return {
      author,
      clip: this.name.trim(),
      files: this.files.map((f) => f.token),
      copy: this.copy,
      start: this.start.trim(),
    };
  }

  #made(name: string, bytes: number): ChosenFile {
    return { id: ++newest, name, bytes, token: '', file: undefined, share: 0, problem: undefined, stop: undefined };
  }
}

const byName = <T extends { name: string }>(list: readonly T[]): T[] =>
  [...list].sort((a, b) => a.name.localeCompare(b.name, undefined, { numeric: true }));

// Two packages side by side, and packages that somebody sent.
import { asProblem, RequestError } from '$lib/api/client';
import type { DossierDifference, DossierMade, DossierProgram } from '$lib/api/dossier';
import { send } from '$lib/footage/send';
import { mostBytes } from './dossier-spec';

/** A file that was chosen or dropped, on its way to the program or there. */
export interface Sent {
  key: number;
  name: string;
  bytes: number;
  /** 0 to 1. */
  share: number;
  /** What check and compare call it; "" while it is on its way. */
  token: string;
  problem?: RequestError;
  stop: () => void;
}

/** One of the packages that can be chosen. */
export interface Choice {
  value: string;
  label: string;
}

export class DossierCompare {
  /** Never changed in place. */
  sent = $state.raw<readonly Sent[]>([]);
  #old = $state('');
  #fresh = $state('');
  busy = $state(false);
  problem = $state.raw<RequestError>();
  result = $state.raw<DossierDifference>();
  /** What the result is of: the names of two packages. */
  of = $state.raw<readonly [string, string]>(['', '']);
  #key = 0;
  #asking: AbortController | undefined;

  constructor(
    private readonly program: Pick<DossierProgram, 'compare' | 'upload'>,
    private readonly carry: typeof send = send,
  ) {}

  /** choices are the packages that can be looked at: those that were made, newest first, then those that were sent. */
  choices(made: readonly DossierMade[]): Choice[] {
    return [
      ...made.filter((m) => !m.why).map((m) => ({ value: m.name, label: m.name })),
      ...this.sent.filter((s) => s.token).map((s) => ({ value: s.token, label: s.name })),
    ];
  }

  /** sides are the two that are chosen; unless somebody chose, the two newest. */
  sides(made: readonly DossierMade[]): { old: string; fresh: string } {
    const all = this.choices(made);
    const known = (value: string): boolean => all.some((c) => c.value === value);
    const sent = all.findLast((c) => this.sent.some((s) => s.token === c.value));
    const fresh = known(this.#fresh) ? this.#fresh : (all[0]?.value ?? '');
    const other = all.find((c) => c.value !== fresh);
    const old = known(this.#old)
      ? this.#old
      : ((sent?.value !== fresh ? sent?.value : undefined) ?? other?.value ?? '');
    return { old, fresh };
  }

  choose(side: 'old' | 'fresh', value: string): void {
    if (side === 'old') this.#old = value;
    else this.#fresh = value;
  }

  async compare(old: string, fresh: string): Promise<void> {
    this.#asking?.abort();
    const asking = new AbortController();
    this.#asking = asking;
    this.busy = true;
    this.problem = undefined;
    this.result = undefined;
    try {
      const result = await this.program.compare(old, fresh, asking.signal);
      if (asking.signal.aborted) return;
      this.result = result;
      this.of = [old, fresh];
    } catch (e) {
      if (asking.signal.aborted) return;
      this.problem = asProblem(e);
    }
    this.busy = false;
  }

  /** stop takes back what was asked. */
  stop(): void {
    this.#asking?.abort();
    this.busy = false;
  }

  /** take sends files to the program; one that is too large is not sent. */
  async take(files: readonly File[]): Promise<void> {
    await Promise.all(files.map((file) => this.#take(file)));
  }

  async #take(file: File): Promise<void> {
    const sending = new AbortController();
    const key = ++this.#key;
    this.sent = [
      ...this.sent,
      { key, name: file.name, bytes: file.size, share: 0, token: '', stop: () => sending.abort() },
    ];
    if (file.size > mostBytes) {
      this.#put(key, { problem: new RequestError(413, '') });
      return;
    }
    try {
      const token = await this.carry(this.program.upload(), file, (share) => this.#put(key, { share }), sending.signal);
      this.#put(key, { token, share: 1 });
    } catch (e) {
      if (sending.signal.aborted) this.drop(key);
      else this.#put(key, { problem: asProblem(e) });
    }
  }

  #put(key: number, more: Partial<Sent>): void {
    this.sent = this.sent.map((s) => (s.key === key ? { ...s, ...more } : s));
  }

  /** drop takes one that was sent off the list. */
  drop(key: number): void {
    this.sent = this.sent.filter((s) => s.key !== key);
  }

  /** forget takes a package that was removed out of what is shown. */
  forget(pack: string): void {
    if (this.of.includes(pack)) this.result = undefined;
  }
}

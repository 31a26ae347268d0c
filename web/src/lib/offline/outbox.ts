// Brings to the laptop what it has not yet. What the laptop says that it has is
// safe and is never sent again; what it got without an answer coming back is
// sent twice, which is harmless: an entry that is there already is the same one.
import type { BlobNote, KeptEntry } from './database';
import { LogError, wordsOf } from './errors';
import { zeroHash, type KeptBlob } from './hash';
import type { DeckLog } from './store';

export const mostEntries = 500;
export const mostBytes = 1_000_000;

export interface Batch {
  /** Canonical texts; each device's in its order. */
  entries: string[];
  blobs: KeptBlob[];
}

/** Answer is what the laptop has on its disc after a batch. */
export interface Answer {
  /** Of each device of the batch, the number and hash of the last entry; a device that is not named has none. */
  heads: Record<string, { seq: number; hash: string }>;
  /** References of the blobs of this batch that it has. */
  blobs: string[];
  /** References of blobs that its entries name and that it lacks. */
  missing?: string[];
}

export type Send = (batch: Batch, signal: AbortSignal) => Promise<Answer>;

export interface Progress {
  state: 'done' | 'sending' | 'waiting' | 'stopped' | 'forked';
  entriesLeft: number;
  blobsLeft: number;
  /** Batches that were answered since the outbox was made. */
  sent: number;
  failures: number;
  /** Why the last try failed. */
  why?: string;
  /** How long it waits before the next try. */
  waitMs?: number;
}

export interface Waiting {
  firstMs: number;
  mostMs: number;
  /** From 0 to 1: spreads the tries of several tablets. */
  chance: () => number;
  sleep: (ms: number, signal: AbortSignal) => Promise<void>;
}

const patient: Waiting = {
  firstMs: 1000,
  mostMs: 60_000,
  chance: Math.random,
  sleep: (ms, signal) =>
    new Promise((done) => {
      const timer = setTimeout(done, ms);
      signal.addEventListener('abort', () => (clearTimeout(timer), done()), { once: true });
    }),
};

/** waitAfter is the time to wait after so many failures in a row: twice as long each time, up to a most, of which chance takes up to a quarter off. */
export function waitAfter(failures: number, w: Pick<Waiting, 'firstMs' | 'mostMs' | 'chance'>): number {
  const full = Math.min(w.mostMs, w.firstMs * 2 ** Math.min(failures - 1, 30));
  return Math.round(full * (1 - w.chance() / 4));
}

type Source = Pick<DeckLog, 'entries' | 'notes' | 'blob' | 'markSafe' | 'safe' | 'heads' | 'onChange'>;

const isSafe = (log: Source, e: KeptEntry): boolean => e.seq <= (log.safe.get(e.device) ?? 0);

const utf8Bytes = (text: string): number => new TextEncoder().encode(text).length;

export class Outbox {
  progress: Progress = { state: 'stopped', entriesLeft: 0, blobsLeft: 0, sent: 0, failures: 0 };
  #log: Source;
  #send: Send;
  #waiting: Waiting;
  #onProgress: (p: Progress) => void;
  #stop: AbortController | undefined;
  #nudge = new AbortController();
  #running: Promise<void> = Promise.resolve();
  #changed = false;
  /** All places below it are safe. */
  #from = 1;

  constructor(
    log: Source,
    send: Send,
    onProgress: (p: Progress) => void = () => undefined,
    waiting: Waiting = patient,
  ) {
    this.#log = log;
    this.#send = send;
    this.#onProgress = onProgress;
    this.#waiting = waiting;
  }

  /** start sends whatever is left, now and after each change of the log, until stop. */
  start(): void {
    if (this.#stop) return;
    const stop = new AbortController();
    this.#stop = stop;
    const end = this.#log.onChange(() => {
      this.#changed = true;
      if (this.progress.state === 'done') this.nudge();
    });
    this.#running = this.#run(stop.signal).finally(end);
  }

  /** nudge tries at once: the network is back, or the page is in front again. */
  nudge(): void {
    this.#nudge.abort();
  }

  /** stop ends a try that is under way; nothing is lost by it. */
  async stop(): Promise<void> {
    this.#stop?.abort();
    this.nudge();
    await this.#running;
    this.#stop = undefined;
  }

  #say(p: Partial<Progress>): void {
    this.progress = { ...this.progress, ...p };
    if (!p.why && p.state !== 'waiting' && p.state !== 'forked') delete this.progress.why;
    if (p.state !== 'waiting') delete this.progress.waitMs;
    this.#onProgress(this.progress);
  }

  async #run(stop: AbortSignal): Promise<void> {
    let failures = 0;
    while (!stop.aborted) {
      this.#nudge = new AbortController();
      this.#changed = false;
      try {
        const more = await this.step(stop);
        failures = 0;
        this.#say({ failures, state: more ? 'sending' : 'done' });
        if (more || this.#changed) continue;
        await this.#rest();
      } catch (e) {
        if (stop.aborted) break;
        failures++;
        // Waiting does not help where the laptop has other entries under these numbers: a person must look.
        const forked = e instanceof LogError && e.kind === 'forked';
        const waitMs = waitAfter(failures, this.#waiting);
        this.#say({ failures, state: forked ? 'forked' : 'waiting', why: wordsOf(e), ...(forked ? {} : { waitMs }) });
        if (forked) await this.#rest();
        else await this.#waiting.sleep(waitMs, this.#nudge.signal);
      }
    }
    this.#say({ state: 'stopped' });
  }

  /** rest waits for a nudge. */
  #rest(): Promise<void> {
    const { signal } = this.#nudge;
    return new Promise((done) => {
      if (signal.aborted) done();
      else signal.addEventListener('abort', () => done(), { once: true });
    });
  }

  /** step sends one batch and notes what is safe; false when nothing is left. Errors: those of send, 'forked'. */
  async step(signal: AbortSignal): Promise<boolean> {
    const { batch, entries } = await this.#next();
    if (batch.entries.length === 0 && batch.blobs.length === 0) return false;
    this.#say({ state: 'sending' });
    const answer = await this.#send(batch, signal);
    const upTo = await this.#compare(answer, entries);
    const asked = new Set(batch.blobs.map((b) => b.ref));
    const refs = answer.blobs.filter((r) => asked.has(r));
    const lacking = (answer.missing ?? []).filter((r) => !refs.includes(r));
    if (upTo.size === 0 && refs.length === 0)
      throw new LogError('storage', 'The laptop answered without keeping anything of what was sent.');
    await this.#log.markSafe(upTo, refs, lacking);
    this.#say({ sent: this.progress.sent + 1 });
    return true;
  }

  /** compare turns the laptop's heads into numbers that are safe, after a look whether it has the same entries. */
  async #compare(answer: Answer, sent: readonly KeptEntry[]): Promise<Map<string, number>> {
    const forked = (device: string, seq: number) =>
      new LogError(
        'forked',
        `The laptop has another entry ${seq} of device ${device} than this tablet: save this log as a file, and go on as a new device.`,
      );
    const upTo = new Map<string, number>();
    const heads = new Map(Object.entries(answer.heads));
    for (const device of new Set(sent.map((e) => e.device))) {
      const head = heads.get(device) ?? { seq: 0, hash: zeroHash };
      const ours = this.#log.heads.get(device)!;
      const safe = this.#log.safe.get(device) ?? 0;
      if (head.seq > ours.seq) throw forked(device, ours.seq + 1);
      if (head.seq === safe) continue;
      // It has less than it had: it was set up again from a backup.
      if (head.seq < safe) this.#from = 1;
      upTo.set(device, head.seq);
      const entry = (await this.#log.entries(this.#from)).find((e) => e.device === device && e.seq === head.seq);
      if (head.seq > 0 && entry?.hash !== head.hash) throw forked(device, head.seq);
    }
    return upTo;
  }

  /** next is what goes along now: entries first, in their order, then blobs, the small ones first. */
  async #next(): Promise<{ batch: Batch; entries: KeptEntry[] }> {
    const all = await this.#log.entries(this.#from);
    const firstLeft = all.find((e) => !isSafe(this.#log, e));
    this.#from = firstLeft?.n ?? this.#from + all.length;
    const left = all.filter((e) => !isSafe(this.#log, e));
    const notes = (await this.#log.notes()).filter((n) => !n.safe).sort(bySize);
    this.#say({ entriesLeft: left.length, blobsLeft: notes.length });
    const entries: KeptEntry[] = [];
    let bytes = 0;
    for (const e of left.slice(0, mostEntries)) {
      const size = utf8Bytes(e.text) + 1;
      // One that is larger than a batch may be goes alone.
      if (entries.length > 0 && bytes + size > mostBytes) break;
      entries.push(e);
      bytes += size;
    }
    const blobs = entries.length < left.length ? [] : await this.#blobs(notes, mostBytes - bytes, entries.length === 0);
    return { batch: { entries: entries.map((e) => e.text), blobs }, entries };
  }

  async #blobs(notes: readonly BlobNote[], room: number, alone: boolean): Promise<KeptBlob[]> {
    const blobs: KeptBlob[] = [];
    for (const n of notes) {
      if (n.bytes > room && !(alone && blobs.length === 0)) break;
      const blob = await this.#log.blob(n.ref);
      if (!blob) continue; // neither copy is intact: the report says so when the log is opened
      blobs.push(blob);
      room -= n.bytes;
      if (blobs.length >= mostEntries) break;
    }
    return blobs;
  }
}

const bySize = (a: BlobNote, b: BlobNote): number => a.bytes - b.bytes || (a.ref < b.ref ? -1 : 1);

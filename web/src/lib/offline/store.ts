// The log of a tablet: entries and blobs in IndexedDB, a second copy in the
// private file system. What append has acknowledged is on the tablet's disc.
import type { Line } from './chain';
import type { Clock } from './clock';
import { openDatabase, type BlobNote, type Database, type KeptEntry, type Persistence, type State } from './database';
import { noHead, seal, type Draft, type Head } from './entry';
import { LogError, storageError } from './errors';
import { intact, type KeptBlob } from './hash';
import { claim, whileWriting, type Claim } from './locks';
import { Mirror, type CopyState } from './mirror';
import { blobOfCopy, recover, type Report } from './recover';
import { changeState, checkBlobs, fitting, keptEntry, noteSafe, put } from './transactions';

/** Writing is a draft with what it refers to; a blob goes with the first entry that names it. */
export interface Writing {
  draft: Draft;
  blobs?: KeptBlob[];
}

export interface Options {
  /** Which log: a study's. */
  name: string;
  /** As which a new log writes. */
  device: string;
  clock: Clock;
  /** What the device is called after its log had to be put together again for the times-th time. */
  nextDevice?: (before: string, times: number) => string;
}

export class DeckLog {
  readonly name: string;
  /** How the log was found; undefined as long as another tab writes it. */
  report: Report | undefined;
  #db: Database;
  #mirror = new Mirror();
  #options: Options;
  #state: State;
  #claim: Claim | undefined;
  #waiting = new AbortController();
  #tail: Promise<unknown> = Promise.resolve();
  #closed = false;
  #heard = new Set<() => void>();
  #channel: BroadcastChannel;

  private constructor(options: Options, db: Database) {
    this.name = options.name;
    this.#options = options;
    this.#db = db;
    this.#state = { device: options.device, heads: new Map(), count: 0, safe: new Map() };
    this.#channel = new BroadcastChannel(fileName(options.name));
    this.#channel.onmessage = () => void this.#refresh();
  }

  /** open opens or begins a log, and puts it together again where one of its copies is harmed. */
  static async open(options: Options): Promise<DeckLog> {
    const opened: { log?: DeckLog } = {};
    const db = await openDatabase(fileName(options.name), () => void opened.log?.close()).catch((e: unknown) => {
      throw storageError(e, 'the log');
    });
    const log = new DeckLog(options, db);
    opened.log = log;
    const first = await claim(log.#lock, 'try');
    if (first) await log.#write(first);
    else {
      await log.#refresh();
      log.#wait();
    }
    return log;
  }

  get #lock(): string {
    return `${fileName(this.name)} writer`;
  }

  get role(): 'writer' | 'reader' {
    return this.#claim ? 'writer' : 'reader';
  }
  get device(): string {
    return this.#state.device;
  }
  get count(): number {
    return this.#state.count;
  }
  get heads(): ReadonlyMap<string, Head> {
    return this.#state.heads;
  }
  /** Up to which number of each device the laptop has the entries. */
  get safe(): ReadonlyMap<string, number> {
    return this.#state.safe;
  }
  get persistence(): Persistence | undefined {
    return this.#state.persistence;
  }
  get copyState(): CopyState {
    return this.#mirror.state;
  }

  /** onChange calls back after each change of this log, by any tab. Returns what ends that. */
  onChange(heard: () => void): () => void {
    this.#heard.add(heard);
    return () => this.#heard.delete(heard);
  }

  /** takeOver makes this tab the writer; the tab that was becomes a reader. */
  async takeOver(): Promise<void> {
    if (this.#claim) return;
    this.#waiting.abort();
    const taken = await claim(this.#lock, 'steal');
    if (taken) await this.#write(taken);
  }

  /** wait becomes the writer when the tab that writes is closed. */
  #wait(): void {
    this.#waiting = new AbortController();
    claim(this.#lock, 'wait', this.#waiting.signal).then(
      (c) => (c && !this.#closed ? this.#write(c).catch(() => c.release()) : c?.release()),
      () => undefined, // no longer wanted
    );
  }

  async #write(c: Claim): Promise<void> {
    const mirror = await Mirror.open(fileName(this.name));
    try {
      const { device, clock } = this.#options;
      const wishes = { device, nextDevice: this.#nextDevice, nowMs: clock.wallMs() };
      const found = await recover(this.#db, mirror.copy, wishes);
      this.#state = found.state;
      this.report = found.report;
    } catch (e) {
      c.release();
      await mirror.close();
      throw e;
    }
    mirror.begin(this.#state.count);
    this.#mirror = mirror;
    this.#claim = c;
    void c.lost.then(() => this.#lose());
    if (!this.#state.persistence?.granted) await this.#persist();
    this.#tell();
  }

  /** Another tab took over: what it needs is let go of. */
  async #lose(): Promise<void> {
    this.#claim = undefined;
    await this.#mirror.close();
    if (!this.#closed) this.#wait();
    this.#tell();
  }

  /** persist asks the browser not to clear this storage by itself, and keeps its answer. */
  async #persist(): Promise<void> {
    const granted = !!(await navigator.storage?.persist?.().catch(() => false));
    const persistence = { granted, askedMs: this.#options.clock.wallMs() };
    // On a full tablet the answer is asked for again at the next start.
    this.#state = await this.#inTurn(() => changeState(this.#db, this.#state, (s) => ({ ...s, persistence }))).catch(
      () => ({ ...this.#state, persistence }),
    );
  }

  async #refresh(): Promise<void> {
    const state = await this.#db.get('state', 'log').catch(() => undefined);
    if (state && !this.#claim) this.#state = state;
    for (const heard of this.#heard) heard();
  }

  #tell(): void {
    if (!this.#closed) this.#channel.postMessage('changed');
    for (const heard of this.#heard) heard();
  }

  /** inTurn runs one change after the other. */
  #inTurn<T>(act: () => Promise<T>): Promise<T> {
    const turn = this.#tail.then(() => {
      if (this.#closed) throw new LogError('closed', 'This log was closed.');
      if (!this.#claim)
        throw new LogError('other tab', 'Another tab writes this log: close it, or go on writing here.');
      return whileWriting(act);
    });
    this.#tail = turn.catch(() => undefined);
    return turn;
  }

  /**
   * append writes all of it down or nothing, and is done when the browser says
   * that the transaction is on the disc: then it is saved. Errors: a draft that
   * no journal can hold; 'full'; 'other tab'.
   */
  append(writings: readonly Writing[]): Promise<KeptEntry[]> {
    return this.#inTurn(async () => {
      const { clock } = this.#options;
      const blobs = writings.flatMap((w) => w.blobs ?? []);
      await checkBlobs(blobs);
      for (;;) {
        const { device, heads, count } = this.#state;
        let head = heads.get(device) ?? noHead;
        const entries: KeptEntry[] = [];
        for (const [i, w] of writings.entries()) {
          const stamp = {
            wallMs: clock.wallMs(),
            monotonicUS: clock.monotonicUS(),
            run: clock.run,
            random: clock.random(10),
          };
          const s = await seal(head, device, w.draft, stamp);
          head = s.head;
          entries.push(keptEntry(count + i + 1, s));
        }
        if (await this.#put(entries, blobs, new Map([...heads, [device, head]]))) return entries;
        if (!this.#claim) throw new LogError('other tab', 'Another tab took this log over.');
      }
    });
  }

  /** put is false where another tab wrote meanwhile. */
  async #put(entries: KeptEntry[], blobs: readonly KeptBlob[], heads: Map<string, Head>): Promise<boolean> {
    const { state, fresh, stale } = await put(this.#db, this.#state, entries, blobs, heads);
    this.#state = state;
    if (stale) return false;
    this.#mirror.follow(this.#db, entries, fresh, state.count);
    this.#tell();
    return true;
  }

  /** copied is done when the second copy has been written as far as it can be. */
  copied(): Promise<CopyState> {
    return this.#mirror.done();
  }

  /**
   * takeIn adds entries of other devices, or of this one from before, each of
   * which must go on from what is here. Those that are here already are passed
   * over. All of it is taken in or nothing. Errors: 'broken', 'forked', 'full'.
   */
  takeIn(lines: readonly Line[], blobs: readonly KeptBlob[] = []): Promise<{ added: number; there: number }> {
    return this.#inTurn(async () => {
      await checkBlobs(blobs);
      const { added, heads, there } = await fitting(await this.#db.getAll('entries'), this.#state, lines);
      // The tablet lost entries of its own, and perhaps more than it found: it goes on as a new device.
      if (added.some((e) => e.device === this.device)) await this.#renew(heads);
      if (!(await this.#put(added, blobs, heads)))
        throw new LogError('other tab', 'Another tab wrote to this log meanwhile: try again.');
      return { added: added.length, there };
    });
  }

  /** renew makes this tablet a device that nothing is known of. */
  async #renew(taken: ReadonlyMap<string, Head>): Promise<void> {
    const { device: base } = this.#options;
    let device = base;
    for (let times = 2; taken.has(device); times++) device = this.#nextDevice(base, times);
    this.#state = await changeState(this.#db, this.#state, (s) => ({ ...s, device }));
  }

  get #nextDevice(): (before: string, times: number) => string {
    return this.#options.nextDevice ?? ((before, times) => `${before}-${times}`);
  }

  /** goOnAsNewDevice is for a tablet whose numbers somebody else holds with other entries (kind 'forked'). */
  goOnAsNewDevice(): Promise<void> {
    return this.#inTurn(() => this.#renew(this.#state.heads));
  }

  /** entries are those from place n on, at most so many. */
  entries(from = 1, most?: number): Promise<KeptEntry[]> {
    return this.#db.getAll('entries', IDBKeyRange.lowerBound(from), most);
  }

  notes(): Promise<BlobNote[]> {
    return this.#db.getAll('blobs');
  }

  /** blob is what a reference stands for, from whichever copy is intact. */
  async blob(ref: string): Promise<KeptBlob | undefined> {
    const note = await this.#db.get('blobs', ref);
    if (!note) return undefined;
    const data = await this.#db.get('data', ref).catch(() => undefined);
    const blob = data && { kind: note.kind, ...data };
    return blob && (await intact(blob)) ? blob : blobOfCopy(this.#mirror.copy, note);
  }

  /**
   * markSafe notes what the laptop says that it has: of each device up to which
   * number, which blobs, and which it lacks. A laptop that was set up again
   * from a backup has less than before, and gets it again.
   */
  markSafe(upTo: ReadonlyMap<string, number>, refs: readonly string[], lacking: readonly string[] = []): Promise<void> {
    return this.#inTurn(async () => {
      this.#state = await noteSafe(this.#db, this.#state, upTo, refs, lacking);
      this.#tell();
    });
  }

  /** close waits for what is being written, and lets another tab write. */
  async close(): Promise<void> {
    if (this.#closed) return;
    await this.#tail;
    this.#closed = true;
    this.#waiting.abort();
    await this.#mirror.close();
    this.#channel.close();
    this.#db.close();
    this.#claim?.release();
    this.#claim = undefined;
  }
}

/** fileName is the name of the log where the browser keeps it. */
export const fileName = (log: string): string => `brinefield-deck-${encodeURIComponent(log)}`;

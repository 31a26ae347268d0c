// One study on this tablet: its log, what is so now, what goes to the laptop (acts of people: acts.ts).
import type { Deck, TabletSelf } from '$lib/api/types';
import { realClock, type Clock } from '$lib/offline/clock';
import { parse, type Draft } from '$lib/offline/entry';
import { LogError, wordsOf } from '$lib/offline/errors';
import { makeText, type KeptBlob } from '$lib/offline/hash';
import { Outbox, type Progress } from '$lib/offline/outbox';
import { DeckLog } from '$lib/offline/store';
import { tablet as words } from '$lib/words/en-tablet';
import { AskError, fetchView, send } from './ask';
import { Fold, type Own } from './fold';
import type { Choices, Keep } from './keep';
import {
  includedOf,
  noPeople,
  readPeople,
  renewPictures,
  safeCount,
  whenOnline,
  whileInFront,
  type People,
  type Unsaved,
} from './session-parts';
import { dayOf, readTime } from './times';
import { running, trialTimer, upcoming, washoutTimer, type Timer } from './trials';
import type { KeptView } from './view';

const renewMs = 5 * 60_000;

export class Session {
  readonly study: string;
  readonly keep: Keep;
  readonly clock: Clock;
  log = $state.raw<DeckLog>() as DeckLog;
  kept = $state.raw<KeptView>() as KeptView;
  choices = $state.raw<Choices>({});
  unsaved = $state.raw<Unsaved[]>([]);
  /** What was just written down, for those who cannot see it. */
  said = $state('');
  progress = $state.raw<Progress>({ state: 'stopped', entriesLeft: 0, blobsLeft: 0, sent: 0, failures: 0 });
  contactMs = $state(0);
  /** The laptop no longer lets this tablet in. */
  unpaired = $state(false);
  /** The laptop has another study under this name, and this one's log is not safe yet. */
  replaced = $state(false);
  nowMs = $state(Date.now());
  busy = $state(0);
  #tick = $state(0);
  #fold!: Fold;
  #folded = 0;
  #role = '';
  #outbox!: Outbox;
  #people: People = noPeople();
  #following: Promise<void> = Promise.resolve();
  #renewing = false;
  #renewedMs = -Infinity; // not since this page was opened
  #closers: (() => void)[] = [];

  readonly trials = $derived.by(() => (void this.#tick, this.#fold.trials));
  readonly individuals = $derived.by(() => (void this.#tick, this.#fold.individuals));
  readonly permits = $derived.by(() => (void this.#tick, this.#fold.permits));
  readonly last = $derived.by(() => (void this.#tick, this.#fold.last));
  readonly passes = $derived.by(() => (void this.#tick, this.#fold.own('pass')));
  readonly writes = $derived.by(() => (void this.#tick, this.log.role === 'writer'));
  readonly report = $derived.by(() => (void this.#tick, this.log.report));
  readonly device = $derived.by(() => (void this.#tick, this.log.device));
  readonly saved = $derived.by(() => (void this.#tick, this.log.count));
  readonly safe = $derived.by(() => (void this.#tick, safeCount(this.log)));
  readonly view: Deck = $derived(this.kept.view);
  readonly zone = $derived(this.view.zone);
  readonly today = $derived(dayOf(this.nowMs, this.zone));
  readonly current = $derived(running(this.trials, this.zone, this.choices.trial ?? '', this.nowMs));
  readonly coming = $derived(upcoming(this.trials));
  /** Of the trial that runs, else of the washout. */
  readonly timer: Timer = $derived.by(() => {
    const { trial_min, washout_min } = this.view.spec;
    const start = this.startMs;
    return start === undefined
      ? washoutTimer(this.trials, this.zone, washout_min, this.nowMs)
      : trialTimer(start, trial_min, this.nowMs);
  });
  readonly person = $derived(this.choices.person?.name ?? '');
  /** Who holds the tablet is asked once a day; not in the middle of a trial. */
  readonly asksPerson = $derived(
    !this.choices.person || (this.choices.person.day !== this.today && this.current === undefined),
  );

  private constructor(study: string, keep: Keep, clock: Clock) {
    this.study = study;
    this.keep = keep;
    this.clock = clock;
  }

  /** open needs the laptop only for a study that this tablet has not seen yet. Errors: AskError, LogError. */
  static async open(study: string, self: TabletSelf | undefined, keep: Keep, clock = realClock()): Promise<Session> {
    const s = new Session(study, keep, clock);
    const kept = await keep.view(study);
    s.kept = kept ?? { view: await fetchView(study), fetchedMs: clock.wallMs(), included: includedOf() };
    if (!kept) await s.#contact();
    const device = s.view.device || self?.device || '';
    if (!device || !s.view.identity) throw new AskError(-1, words.open.noDevice);
    s.choices = await keep.choices(study);
    s.contactMs = (await keep.contactMs()) || s.contactMs;
    s.log = await DeckLog.open({ name: s.view.identity, device, clock });
    await keep.addNames([device, s.log.device, ...s.log.heads.keys()]);
    if (!kept) await keep.setView(study, s.kept);
    await s.#rebuild();
    s.#closers.push(s.log.onChange(() => void s.follow()));
    s.#outbox = new Outbox(
      s.log,
      (b, signal) => s.#send(b, signal),
      (p) => s.#progressed(p),
    );
    s.#listen();
    return s;
  }

  get startMs(): number | undefined {
    const start = this.current?.fields.start;
    return start ? readTime(start, this.zone) || undefined : undefined;
  }

  async #rebuild(): Promise<void> {
    const entries = await this.log.entries();
    this.#fold = new Fold(
      this.view,
      this.kept.included,
      entries.map((e) => parse(e.text)),
    );
    this.#folded = entries.at(-1)?.n ?? 0;
    this.#role = this.log.role;
    await readPeople(this.log, this.#people);
    this.#tick++;
  }

  /** follow takes up what was written to the log, by this tab or another. */
  follow(): Promise<void> {
    this.#following = this.#following
      .then(async () => {
        if (this.#role !== this.log.role) {
          await this.#rebuild();
          if (this.log.role === 'writer') this.#outbox.nudge();
          return;
        }
        if (this.log.count > this.#folded)
          for (const e of await this.log.entries(this.#folded + 1)) {
            this.#fold.add(parse(e.text));
            this.#folded = e.n;
          }
        this.#tick++;
      })
      .catch(() => undefined); // the log was closed
    return this.#following;
  }

  /** own is what this tablet wrote of a kind and what still stands, oldest first. */
  own = (kind: string): Own[] => (void this.#tick, this.#fold.own(kind));
  ownOf = (kind: string, subject: string): Own | undefined => (void this.#tick, this.#fold.ownOf(kind, subject));

  /** next is the subject of a new record. */
  next = (kind: string): string => this.#fold.next(this.log.device, kind);

  /** mark stands for a person in entries; the blob with the name goes along until the laptop has given a mark. */
  async mark(name: string): Promise<{ mark: string; blobs: KeptBlob[] }> {
    const known = this.view.people.find((p) => p.name === name)?.mark;
    if (known) return { mark: known, blobs: [] };
    const blob = this.#people.get(name) ?? (await makeText('person', name, this.clock.random(32)));
    this.#people.set(name, blob);
    return { mark: `person:${blob.ref}`, blobs: [blob] };
  }

  /** put writes down or keeps what could not be written for another try. */
  async put(label: string, drafts: readonly Draft[], blobs: readonly KeptBlob[] = []): Promise<boolean> {
    const who = await this.mark(this.person);
    const writings = drafts.map((d, i) => ({
      draft: { ...d, author: who.mark },
      blobs: i === 0 ? [...who.blobs, ...blobs] : [],
    }));
    return this.#append({ label, writings, why: '' });
  }

  async #append(u: Unsaved): Promise<boolean> {
    this.busy++;
    try {
      await this.log.append(u.writings);
      await this.follow();
      this.said = u.label;
      return true;
    } catch (e) {
      this.unsaved = [...this.unsaved, { ...u, why: wordsOf(e) }];
      return false;
    } finally {
      this.busy--;
    }
  }

  /** tryAgain writes down what could not be written, in its order. */
  async tryAgain(): Promise<void> {
    const waiting = this.unsaved;
    this.unsaved = [];
    for (const [i, u] of waiting.entries()) {
      if (await this.#append(u)) continue;
      this.unsaved = [...this.unsaved, ...waiting.slice(i + 1)];
      return;
    }
  }

  choose(more: Choices): void {
    this.choices = { ...this.choices, ...more };
    void this.keep.setChoices(this.study, $state.snapshot(this.choices) as Choices).catch(() => undefined);
  }

  async #contact(): Promise<void> {
    this.contactMs = this.clock.wallMs();
    this.unpaired = false;
    await this.keep.setContactMs(this.contactMs).catch(() => undefined);
  }

  #failed(e: unknown): void {
    if (e instanceof AskError && e.status === 401) this.unpaired = true;
  }

  async #send(...[batch, signal]: Parameters<ConstructorParameters<typeof Outbox>[1]>) {
    try {
      const answer = await send(this.study, this.view.identity, batch, signal);
      await this.#contact();
      return answer;
    } catch (e) {
      this.#failed(e);
      throw e;
    }
  }

  #progressed(p: Progress): void {
    const finished = p.state === 'done' && this.progress.state === 'sending';
    this.progress = { ...p };
    this.#tick++;
    if (finished) void this.renew(30_000);
  }

  /** renew fetches what the laptop knows of the study, unless it was fetched so lately. */
  async renew(notWithinMs = 0): Promise<void> {
    if (this.#renewing || performance.now() - this.#renewedMs < notWithinMs) return;
    this.#renewing = true;
    try {
      const included = includedOf(this.log);
      const view = await fetchView(this.study);
      this.#renewedMs = performance.now();
      await this.#contact();
      if (view.identity !== this.view.identity) {
        this.replaced = true;
        return;
      }
      const kept = {
        view: { ...view, device: view.device || this.view.device },
        fetchedMs: this.clock.wallMs(),
        included,
      };
      await this.keep.setView(this.study, kept).catch(() => undefined);
      this.kept = kept;
      await (this.#following = this.#following.then(() => this.#rebuild()));
      await renewPictures(this.study, this.keep, this.log, this.individuals);
    } catch (e) {
      this.#failed(e);
    } finally {
      this.#renewing = false;
    }
  }

  /** picture is of an animal, from this tablet. */
  async picture(ref: string): Promise<Blob | undefined> {
    const own = await this.log.blob(ref).catch(() => undefined);
    return own ? new Blob([own.data]) : this.keep.picture(ref).catch(() => undefined);
  }

  #listen(): void {
    const inFront = () => {
      this.nowMs = this.clock.wallMs();
      this.sendNow(60_000);
    };
    this.#closers.push(
      whileInFront(inFront, () => void this.renew(renewMs / 2), renewMs),
      whenOnline(() => this.sendNow()),
    );
    this.#outbox.start();
  }

  /** sendNow tries at once. */
  sendNow(notWithinMs = 0): void {
    this.#outbox.nudge();
    void this.renew(notWithinMs);
  }

  async takeOver(): Promise<void> {
    await this.log.takeOver();
    await this.follow();
  }

  /** goOnAsNewDevice is for numbers that the laptop has with other entries. */
  async goOnAsNewDevice(): Promise<void> {
    try {
      await this.log.goOnAsNewDevice();
      await this.keep.addNames([this.log.device]);
      await this.#rebuild();
      this.#outbox.nudge();
    } catch (e) {
      if (!(e instanceof LogError)) throw e;
      this.said = e.message;
    }
  }

  async close(): Promise<void> {
    for (const end of this.#closers) end();
    await this.#outbox.stop();
    await this.log.close();
  }
}

// One question at a time, and always the newest: while one is answered, those
// that come after it replace each other. One that takes too long is taken back.

export class Newest<T> {
  #next: T | undefined;
  #running: AbortController | undefined;
  #began = 0;

  /** act must not throw; it is told by the signal when nobody waits for it any more. */
  constructor(
    private readonly act: (want: T, signal: AbortSignal) => Promise<void>,
    /** A question that has run so long gives way to a newer one. */
    private readonly patienceMs = 400,
    private readonly now: () => number = () => performance.now(),
  ) {}

  get busy(): boolean {
    return this.#running !== undefined;
  }

  ask(want: T): void {
    this.#next = want;
    if (!this.#running) void this.#run();
    else if (this.now() - this.#began > this.patienceMs) this.#running.abort();
  }

  stop(): void {
    this.#next = undefined;
    this.#running?.abort();
  }

  async #run(): Promise<void> {
    while (this.#next !== undefined) {
      const want = this.#next;
      this.#next = undefined;
      this.#running = new AbortController();
      this.#began = this.now();
      await this.act(want, this.#running.signal);
    }
    this.#running = undefined;
  }
}

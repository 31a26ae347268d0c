// One question that is asked again whenever what it depends on has changed:
// the last question counts, older ones are taken back, and the answer before
// stays on the screen until the next one is there.
import { asProblem, type RequestError } from '$lib/api/client';

/** Turning a knob asks many times a second; the program is asked when it rests. */
const restMs = 250;

/** Quality is what every answer about a field says of itself. */
export interface Quality {
  relative_error: number | null;
  method: string;
  reached: boolean;
  warnings: string[];
}

export class Answer<T> {
  value = $state.raw<T>();
  problem = $state.raw<RequestError>();
  busy = $state(false);
  /** Seconds since the question that is being worked out. */
  seconds = $state(0);
  /** What the value answers, and what was asked last. */
  #answered = $state('');
  #asked = $state('');
  /** Whether the value is of an older question. */
  readonly old = $derived(this.value !== undefined && this.#answered !== this.#asked);

  #running: AbortController | undefined;
  #timer: ReturnType<typeof setTimeout> | undefined;
  #clock: ReturnType<typeof setInterval> | undefined;

  constructor(private readonly rest = restMs) {}

  /** ask puts a question; key tells whether it is the one that is answered already. */
  ask(key: string, question: (signal: AbortSignal) => Promise<T>): void {
    if (key === this.#asked && (this.busy || (key === this.#answered && !this.problem))) return;
    this.stop();
    this.#asked = key;
    this.busy = true;
    const began = Date.now();
    this.seconds = 0;
    this.#clock = setInterval(() => (this.seconds = (Date.now() - began) / 1000), 200);
    const running = new AbortController();
    this.#running = running;
    this.#timer = setTimeout(() => void this.#run(key, question, running), this.rest);
  }

  /** differs tells that what is shown does not answer this question (any more). */
  differs(key: string): boolean {
    return this.value !== undefined && this.#answered !== key;
  }

  /** stop takes back the question that is being worked out. */
  stop(): void {
    this.#running?.abort();
    this.#end();
  }

  #end(): void {
    this.#running = undefined;
    clearTimeout(this.#timer);
    clearInterval(this.#clock);
    this.busy = false;
  }

  async #run(key: string, question: (signal: AbortSignal) => Promise<T>, running: AbortController): Promise<void> {
    try {
      const value = await question(running.signal);
      if (running.signal.aborted) return;
      this.value = value;
      this.#answered = key;
      this.problem = undefined;
    } catch (e) {
      if (running.signal.aborted) return;
      this.problem = asProblem(e);
    }
    this.#end();
  }
}

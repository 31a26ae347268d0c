// A wet finger bounces: two taps on one button within a moment are one.

export const bounceMs = 400;

export class Taps {
  #key = '';
  #at = -Infinity;
  #now: () => number;

  /** The clock counts from the start of the page: setting the tablet's clock does not touch it. */
  constructor(now: () => number = () => performance.now()) {
    this.#now = now;
  }

  /** take is false for a tap that belongs to the one before it on the same button. */
  take(key: string): boolean {
    const now = this.#now();
    const bounced = key === this.#key && now - this.#at < bounceMs;
    this.#key = key;
    // A row of bounces is measured from its last one.
    this.#at = now;
    return !bounced;
  }
}

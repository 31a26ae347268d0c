// The clocks of the tablet, and chance.
import { hex } from './hash';

export interface Clock {
  wallMs(): number;
  /** Microseconds since the run began. */
  monotonicUS(): number;
  random(bytes: number): Uint8Array;
  /** Names this run of the program. */
  run: string;
}

/** realClock is that of the tablet. */
export function realClock(): Clock {
  const random = (n: number) => crypto.getRandomValues(new Uint8Array(n));
  return {
    wallMs: () => Date.now(),
    monotonicUS: () => Math.floor(performance.now() * 1000),
    random,
    run: hex(random(8)),
  };
}

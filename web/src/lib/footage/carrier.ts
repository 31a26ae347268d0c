// Carrying a point through many pictures.
import { find, templateOf, type Carried, type CarryOptions, type Template, type Why } from './carry';
import type { Grey, Pixel } from './grey';

/**
 * Carrier carries one point through many pictures. It looks for the point as a
 * person placed it as long as that is still to be seen, so that errors do not add
 * up from frame to frame; where the animal has turned or come nearer it goes on
 * from the picture before. Where the point is expected follows from its last steps.
 */
export class Carrier {
  #anchor: Template | undefined;
  #last: Template | undefined;
  #at: [number, number];
  /** Pixels of the clip for each frame. */
  #speed: [number, number] = [0, 0];
  #steps = 0;
  /** How often the template was taken anew: each adds its own error. */
  renewed = 0;

  constructor(
    from: Grey,
    pixel: Pixel,
    private readonly options: CarryOptions = {},
  ) {
    this.#at = [pixel[0], pixel[1]];
    this.#anchor = templateOf(from, pixel, options.template);
    this.#last = this.#anchor;
  }

  get at(): Pixel {
    return this.#at;
  }

  /** Where the point is expected after so many frames: its cutting must reach around there. */
  expected(frames = 1): Pixel {
    return [this.#at[0] + this.#speed[0] * frames, this.#at[1] + this.#speed[1] * frames];
  }

  /** step looks for the point in the picture that lies so many frames on (or back, if negative). */
  step(to: Grey, frames = 1): Carried {
    const lost = (why: Why, of?: Carried): Carried => ({ score: 0, second: 0, ...of, pixel: [...this.#at], why });
    if (!this.#anchor || !this.#last) return lost('edge');
    const expected = this.expected(frames);
    const sure = Math.max(0.9, this.options.leastScore ?? 0);
    let found = find(this.#anchor, to, expected, this.options);
    let renew = false;
    if (found.why || found.score < sure) {
      const other = find(this.#last, to, expected, this.options);
      if (!other.why && (found.why || other.score > found.score + 0.02)) {
        found = other;
        renew = true;
      }
    }
    if (found.why) return lost(found.why, found);
    const here = templateOf(to, found.pixel, this.options.template);
    if (!here) return lost('edge', found);
    if (renew) {
      this.#anchor = this.#last;
      this.renewed++;
    }
    const n = Math.abs(frames) || 1;
    const sign = frames < 0 ? -1 : 1;
    // Half of the newest step, half of what was known: steady, and quick to turn.
    const share = this.#steps === 0 ? 1 : 0.5;
    for (const k of [0, 1] as const)
      this.#speed[k] += share * ((sign * (found.pixel[k] - this.#at[k])) / n - this.#speed[k]);
    this.#at = found.pixel;
    this.#last = here;
    this.#steps++;
    return found;
  }
}

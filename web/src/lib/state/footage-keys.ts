// The keys of the part Measure. They act while the focus is on its bench, and
// never while something is typed.
import { words } from '$lib/words';
import type { Bench } from './footage-bench.svelte';

export interface BenchWishes {
  points(): readonly string[];
  /** Fixes are shown, and not changed. */
  locked(): boolean;
  /** In the picture, in their order. */
  animals(): readonly { pass: string; name: string }[];
  choose(pass: string): void;
  next(): void;
  save(): void;
}

const on = (event: Event, selector: string): boolean =>
  event.target instanceof Element && event.target.matches(selector);

export class BenchKeys {
  readonly #plain: Record<string, () => void>;
  readonly #looking: Record<string, () => void>;

  constructor(
    private readonly bench: Bench,
    private readonly wishes: BenchWishes,
  ) {
    this.#looking = { q: () => bench.jump(-1), w: () => bench.jump(1), n: () => wishes.next() };
    this.#plain = {
      c: () => void bench.carry(),
      f: () => bench.fill(false),
      F: () => bench.fill(true),
      i: () => bench.mark('start'),
      o: () => bench.mark('onset'),
      e: () => bench.mark('end'),
      Backspace: () => bench.remove(),
      Delete: () => bench.remove(),
    };
  }

  /** key takes those that nothing within the bench has taken. */
  key = (event: KeyboardEvent): void => {
    // Letters choose pictures while the sheet of them is open.
    if (event.defaultPrevented || this.bench.player.sheet) return;
    if (on(event, 'input:not([type=radio]), select, textarea, dialog, dialog *')) return;
    const act = this.#actOf(event);
    if (!act) return;
    event.preventDefault();
    event.stopPropagation();
    act();
  };

  #actOf(event: KeyboardEvent): (() => void) | undefined {
    const locked = this.wishes.locked();
    const { bench } = this;
    if (event.altKey) return undefined;
    if (event.ctrlKey || event.metaKey) {
      const k = event.key.toLowerCase();
      if (locked) return undefined;
      if (k === 'z') return event.shiftKey ? () => bench.redo() : () => bench.undo();
      return k === 's' ? () => this.wishes.save() : undefined;
    }
    // By place, so that every keyboard has them.
    const digit = event.shiftKey ? undefined : /^(?:Digit|Numpad)([1-9])$/.exec(event.code)?.[1];
    const point = digit && this.wishes.points()[Number(digit) - 1];
    if (point) return () => bench.choose(point);
    if (event.key === 'Escape') return bench.carrying ? () => bench.halt() : undefined;
    return this.#looking[event.key] ?? (locked ? undefined : this.#plain[event.key]);
  }

  /** first takes keys in the picture before the viewer does. */
  first = (event: KeyboardEvent): void => {
    if (this.bench.player.sheet || !on(event, '[role=application]')) return;
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const done =
      event.key === 'Tab'
        ? this.#nextAnimal(event.shiftKey ? -1 : 1)
        : event.key === 'x' && !this.wishes.locked() && this.bench.aim();
    if (!done) return;
    event.preventDefault();
    event.stopPropagation();
  };

  /** To the next animal; from the last on to the buttons, so that nobody is held in the picture. */
  #nextAnimal(by: 1 | -1): boolean {
    const animals = this.wishes.animals();
    const to = animals[animals.findIndex((a) => a.pass === this.bench.state.pass) + by];
    if (!to) return false;
    this.wishes.choose(to.pass);
    this.bench.state.said = words.footageMeasure.said.animal(to.name);
    return true;
  }
}

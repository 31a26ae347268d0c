// Turns the pointers, wheel and pinches on a plan into moving, zooming and
// tapping. Knows nothing of what is drawn.
import type { ScreenPoint } from '$lib/draw/plan-view';

export interface Wishes {
  pan(dx: number, dy: number): void;
  zoom(at: ScreenPoint, factor: number): void;
  tap(at: ScreenPoint): void;
  hover(at: ScreenPoint | undefined): void;
}

/** A press that moves less than this is a tap. */
const stillPx = 5;

export class Hands {
  #down = new Map<number, ScreenPoint>();
  #start: ScreenPoint | undefined;
  #dragging = false;

  constructor(private readonly wishes: Wishes) {}

  down = (event: PointerEvent): void => {
    if (event.button !== 0) return;
    (event.currentTarget as HTMLElement).setPointerCapture(event.pointerId);
    this.#down.set(event.pointerId, at(event));
    this.#start = this.#down.size === 1 ? at(event) : undefined;
    this.#dragging = this.#down.size > 1;
  };

  move = (event: PointerEvent): void => {
    const before = this.#down.get(event.pointerId);
    const now = at(event);
    if (!before) {
      if (event.pointerType === 'mouse') this.wishes.hover(now);
      return;
    }
    if (this.#down.size === 2) {
      this.#pinch(event.pointerId, before, now);
    } else {
      const start = this.#start ?? now;
      if (!this.#dragging && distance(start, now) < stillPx) return;
      if (!this.#dragging) this.wishes.hover(undefined);
      this.#dragging = true;
      this.wishes.pan(now.x - before.x, now.y - before.y);
    }
    this.#down.set(event.pointerId, now);
  };

  up = (event: PointerEvent): void => {
    const known = this.#down.delete(event.pointerId);
    if (known && !this.#dragging && this.#start) this.wishes.tap(at(event));
    if (this.#down.size === 0) this.#dragging = false;
  };

  cancel = (event: PointerEvent): void => {
    this.#down.delete(event.pointerId);
    if (this.#down.size === 0) this.#dragging = false;
  };

  leave = (): void => this.wishes.hover(undefined);

  wheel = (event: WheelEvent): void => {
    event.preventDefault();
    // Lines and pages, which some mice report, become pixels.
    const px = event.deltaY * (event.deltaMode === 1 ? 16 : event.deltaMode === 2 ? 400 : 1);
    const strength = event.ctrlKey ? 0.01 : 0.0016;
    this.wishes.zoom(at(event), Math.exp(-Math.max(-600, Math.min(600, px)) * strength));
  };

  #pinch(id: number, before: ScreenPoint, now: ScreenPoint): void {
    const [other] = [...this.#down].filter(([k]) => k !== id).map(([, p]) => p);
    if (!other) return;
    const middle = { x: (now.x + other.x) / 2, y: (now.y + other.y) / 2 };
    this.wishes.pan((now.x - before.x) / 2, (now.y - before.y) / 2);
    this.wishes.zoom(middle, Math.max(distance(now, other), 10) / Math.max(distance(before, other), 10));
  }
}

const distance = (a: ScreenPoint, b: ScreenPoint): number => Math.hypot(a.x - b.x, a.y - b.y);

function at(event: MouseEvent): ScreenPoint {
  const box = (event.currentTarget as HTMLElement).getBoundingClientRect();
  return { x: event.clientX - box.left, y: event.clientY - box.top };
}

// Paints the dots of textbook against computed on a canvas, those of turns on top.
import { speciesStyle } from './picture';
import { dotRadius } from './plan';
import { stampHalf, stampOf, type Brush } from './paint-plan';
import { turnRadius } from './textbook-figure';

export interface Dots {
  x: Float64Array;
  y: Float64Array;
  /** 0: a plain dot; else one more than the place of the species' style. */
  style: Uint8Array;
}

export function paintDots(context: CanvasRenderingContext2D, { x, y, style }: Dots, brush: Brush): void {
  const { ratio } = brush;
  context.setTransform(1, 0, 0, 1, 0, 0);
  context.clearRect(0, 0, context.canvas.width, context.canvas.height);
  context.globalAlpha = 0.6;
  context.fillStyle = brush.colour('soft');
  const r = dotRadius * ratio;
  for (let i = 0; i < style.length; i++) {
    if (style[i] === 0) context.fillRect(x[i]! * ratio - r, y[i]! * ratio - r, 2 * r, 2 * r);
  }
  context.globalAlpha = 1;
  const stamps = [...new Set(style)].reduce<HTMLCanvasElement[]>((known, s) => {
    if (s > 0) known[s] = stampOf({ ...speciesStyle(s - 1), fill: 'full' }, brush, turnRadius);
    return known;
  }, []);
  const half = stampHalf * ratio;
  for (let i = 0; i < style.length; i++) {
    if (style[i]! > 0) context.drawImage(stamps[style[i]!]!, x[i]! * ratio - half, y[i]! * ratio - half);
  }
}

/** nearestDot is the place of the dot nearest to a point, within reach; −1: none. */
export function nearestDot({ x, y, style }: Dots, at: { x: number; y: number }, reach: number): number {
  let best = -1;
  let least = reach;
  for (let i = 0; i < style.length; i++) {
    // A turn wins over a plain dot that lies a little nearer: it is drawn on top.
    const distance = Math.hypot(x[i]! - at.x, y[i]! - at.y) + (style[i] === 0 ? 2 : 0);
    if (distance < least) [best, least] = [i, distance];
  }
  return best;
}

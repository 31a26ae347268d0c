// Paints the passes on a canvas. Each style of mark is drawn once and then
// stamped, so that many thousand marks follow the hand.
import { corners, type Paint } from './picture';
import { dotRadius, markRadius, type PassMark } from './plan';
import { dot, firstStyle, type PlanIndex } from './plan-index';
import type { PlanView } from './plan-view';

export interface Brush {
  colour: (paint: Paint) => string;
  /** How much thicker than usual lines are in this theme. */
  thick: number;
  /** Device pixels for one of the page. */
  ratio: number;
}

/** brushOf reads the tokens in force at an element, each once. */
export function brushOf(element: Element): Pick<Brush, 'colour' | 'thick'> {
  const style = getComputedStyle(element);
  const known = new Map<Paint, string>();
  const colour = (paint: Paint): string => {
    const value = known.get(paint) ?? style.getPropertyValue(`--${paint}`).trim();
    known.set(paint, value);
    return value;
  };
  return { colour, thick: Number(style.getPropertyValue('--thick')) || 1 };
}

/** Half the side of a stamp: the largest shape with its outline. */
export const stampHalf = 12;

export function paintPasses(
  context: CanvasRenderingContext2D,
  index: PlanIndex,
  v: PlanView,
  noTurns: boolean,
  brush: Brush,
): void {
  const { ratio } = brush;
  context.setTransform(1, 0, 0, 1, 0, 0);
  context.clearRect(0, 0, context.canvas.width, context.canvas.height);
  const { xCm, yCm, kind } = index;
  const scale = v.pxPerCm * ratio;
  const [x0, y0] = [(v.width / 2) * ratio - v.centre.xCm * scale, (v.height / 2) * ratio + v.centre.yCm * scale];
  const [right, bottom] = [(v.width + stampHalf) * ratio, (v.height + stampHalf) * ratio];
  const margin = -stampHalf * ratio;
  if (noTurns) {
    context.globalAlpha = 0.6;
    context.fillStyle = brush.colour('soft');
    const r = dotRadius * ratio;
    for (let i = 0; i < kind.length; i++) {
      if (kind[i] !== dot) continue;
      const [x, y] = [x0 + xCm[i]! * scale, y0 - yCm[i]! * scale];
      if (x > margin && y > margin && x < right && y < bottom) context.fillRect(x - r, y - r, 2 * r, 2 * r);
    }
    context.globalAlpha = 1;
  }
  const stamps = index.styles.map((style) => stampOf(style, brush));
  const half = stampHalf * ratio;
  for (let i = 0; i < kind.length; i++) {
    if (kind[i]! < firstStyle) continue;
    const [x, y] = [x0 + xCm[i]! * scale, y0 - yCm[i]! * scale];
    if (x > margin && y > margin && x < right && y < bottom) {
      context.drawImage(stamps[kind[i]! - firstStyle]!, x - half, y - half);
    }
  }
}

/** stampOf is a mark drawn once, in the middle of a canvas of twice stampHalf. */
export function stampOf({ paint, shape, fill }: PassMark, brush: Brush, radius = markRadius): HTMLCanvasElement {
  const canvas = document.createElement('canvas');
  canvas.width = canvas.height = Math.ceil(2 * stampHalf * brush.ratio);
  const context = canvas.getContext('2d');
  if (!context) return canvas;
  context.scale(brush.ratio, brush.ratio);
  context.translate(stampHalf, stampHalf);
  const full = fill === 'full';
  const r = radius * Math.sqrt(brush.thick);
  context.globalAlpha = fill === 'faint' ? 0.55 : 1;
  context.fillStyle = brush.colour(full ? paint : 'paper');
  context.strokeStyle = brush.colour(full ? 'paper' : paint);
  context.lineWidth = (full ? 1 : 2) * brush.thick;
  context.beginPath();
  const points = corners[shape];
  if (points) for (const [dx, dy] of points) context.lineTo(dx * r, dy * r);
  else context.arc(0, 0, r, 0, 2 * Math.PI);
  context.closePath();
  context.fill();
  context.stroke();
  return canvas;
}

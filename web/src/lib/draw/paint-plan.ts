// Paints the passes on a canvas: many thousand marks must follow the hand.
import type { ExposureRow } from '$lib/api/types';
import { corners, type Paint, type Shape } from './picture';
import { dotRadius, headOf, markRadius, passMark } from './plan';
import { toScreen, type PlanView } from './plan-view';

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

export function paintPasses(
  context: CanvasRenderingContext2D,
  rows: readonly ExposureRow[],
  species: readonly string[],
  v: PlanView,
  noTurns: boolean,
  brush: Brush,
): void {
  context.setTransform(brush.ratio, 0, 0, brush.ratio, 0, 0);
  context.clearRect(0, 0, v.width, v.height);
  const inside = (x: number, y: number) => x > -9 && y > -9 && x < v.width + 9 && y < v.height + 9;
  if (noTurns) {
    context.globalAlpha = 0.6;
    context.fillStyle = brush.colour('soft');
    const r = dotRadius * brush.thick;
    for (const row of rows) {
      const head = row.responded ? undefined : headOf(row);
      if (!head) continue;
      const { x, y } = toScreen(v, head);
      if (inside(x, y)) context.fillRect(x - r, y - r, 2 * r, 2 * r);
    }
  }
  for (const row of rows) {
    const head = row.responded ? headOf(row) : undefined;
    if (!head) continue;
    const { x, y } = toScreen(v, head);
    if (!inside(x, y)) continue;
    const { paint, shape, fill } = passMark(row, species);
    const full = fill === 'full';
    context.globalAlpha = fill === 'faint' ? 0.55 : 1;
    context.fillStyle = brush.colour(full ? paint : 'paper');
    context.strokeStyle = brush.colour(full ? 'paper' : paint);
    context.lineWidth = (full ? 1 : 2) * brush.thick;
    trace(context, shape, x, y, markRadius * Math.sqrt(brush.thick));
    context.fill();
    context.stroke();
  }
  context.globalAlpha = 1;
}

function trace(context: CanvasRenderingContext2D, shape: Shape, x: number, y: number, r: number): void {
  const points = corners[shape];
  context.beginPath();
  if (!points) {
    context.arc(x, y, r, 0, 2 * Math.PI);
    return;
  }
  for (const [dx, dy] of points) context.lineTo(x + dx * r, y + dy * r);
  context.closePath();
}

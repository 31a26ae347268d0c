// Wires and symbols of a circuit diagram.
import { box, circleAt, path, px, text, type Mark } from './picture';

export interface CircuitChoice {
  /** Labels of the chosen position and the driven pair. */
  position: string;
  pair: string;
}

/** Heights in the diagram, pixels. */
export const heights = { top: 118, rail: 252, busPlus: 300, busMinus: 320, foot: 600 } as const;

/** Pen draws wires and parts; what carries the chosen current is drawn heavier, so that it shows without colour as well. */
export class Pen {
  readonly wires: Mark[] = [];
  readonly parts: Mark[] = [];

  wire(live: boolean, ...points: (readonly [number, number])[]): void {
    const d = `M${points.map(([x, y]) => `${px(x)} ${px(y)}`).join('L')}`;
    this.wires.push(path(d, { stroke: live ? 'accent' : 'ink', width: live ? 3.5 : 1.5 }));
  }

  resistor(live: boolean, x: number, y: number, upright = false, title = ''): void {
    const [wide, tall] = upright ? [13, 30] : [38, 13];
    this.parts.push(
      box(x - wide / 2, y - tall / 2, wide, tall, {
        fill: 'surface',
        stroke: live ? 'accent' : 'ink',
        width: live ? 2.5 : 1.5,
        ...(title ? { title } : {}),
      }),
    );
  }

  dot(live: boolean, x: number, y: number): void {
    this.parts.push(path(circleAt(x, y, 3), { fill: live ? 'accent' : 'ink' }));
  }

  contact(live: boolean, x: number, y: number): void {
    this.parts.push(
      path(circleAt(x, y, 4), { fill: 'surface', stroke: live ? 'accent' : 'ink', width: live ? 2.5 : 1.5 }),
    );
  }

  say(x: number, y: number, words: string, more: Parameters<typeof text>[3] = {}): void {
    if (words) this.parts.push(text(x, y, words, { size: 13, ...more }));
  }

  frame(x: number, y: number, wide: number, tall: number): void {
    this.wires.push(box(x, y, wide, tall, { stroke: 'edge', width: 1.25, dash: [6, 4] }));
  }
}

/** fitting shortens a name to a width, at about so many pixels a letter. */
export function fitting(name: string, width: number, letter = 8): string {
  const most = Math.max(3, Math.floor(width / letter));
  return name.length <= most ? name : `${name.slice(0, most - 1).trimEnd()}…`;
}

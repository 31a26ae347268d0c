// Where the plan stands on the screen: centre and scale, and how the hands
// move them. Season points are in cm with y up, screen points in pixels with y
// down; the two are different types so that they cannot be mixed up.

export interface SeasonPoint {
  readonly xCm: number;
  readonly yCm: number;
}

export interface ScreenPoint {
  readonly x: number;
  readonly y: number;
}

export interface PlanView {
  readonly centre: SeasonPoint;
  readonly pxPerCm: number;
  readonly width: number;
  readonly height: number;
}

export interface Bounds {
  low: SeasonPoint;
  high: SeasonPoint;
}

/** From the whole of a large tank to a head's width filling the plan. */
const smallest = 0.02;
const largest = 120;

export const toScreen = (v: PlanView, p: SeasonPoint): ScreenPoint => ({
  x: v.width / 2 + (p.xCm - v.centre.xCm) * v.pxPerCm,
  y: v.height / 2 - (p.yCm - v.centre.yCm) * v.pxPerCm,
});

export const toSeason = (v: PlanView, p: ScreenPoint): SeasonPoint => ({
  xCm: v.centre.xCm + (p.x - v.width / 2) / v.pxPerCm,
  yCm: v.centre.yCm - (p.y - v.height / 2) / v.pxPerCm,
});

export function boundsOf(points: Iterable<SeasonPoint>): Bounds | undefined {
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const p of points) {
    x0 = Math.min(x0, p.xCm);
    y0 = Math.min(y0, p.yCm);
    x1 = Math.max(x1, p.xCm);
    y1 = Math.max(y1, p.yCm);
  }
  return x0 <= x1 ? { low: { xCm: x0, yCm: y0 }, high: { xCm: x1, yCm: y1 } } : undefined;
}

/** fit shows all of the bounds with a margin. */
export function fit(bounds: Bounds | undefined, width: number, height: number, margin = 28): PlanView {
  const b = bounds ?? { low: { xCm: -50, yCm: -50 }, high: { xCm: 50, yCm: 50 } };
  const room = (size: number) => Math.max(1, size - 2 * margin);
  const scale = Math.min(
    room(width) / Math.max(b.high.xCm - b.low.xCm, 1),
    room(height) / Math.max(b.high.yCm - b.low.yCm, 1),
  );
  return {
    centre: { xCm: (b.low.xCm + b.high.xCm) / 2, yCm: (b.low.yCm + b.high.yCm) / 2 },
    pxPerCm: held(scale),
    width,
    height,
  };
}

/** zoomAt keeps the season point under the screen point where it is. */
export function zoomAt(v: PlanView, at: ScreenPoint, factor: number): PlanView {
  const pxPerCm = held(v.pxPerCm * factor);
  const under = toSeason(v, at);
  return {
    ...v,
    pxPerCm,
    centre: {
      xCm: under.xCm - (at.x - v.width / 2) / pxPerCm,
      yCm: under.yCm + (at.y - v.height / 2) / pxPerCm,
    },
  };
}

export const panBy = (v: PlanView, dx: number, dy: number): PlanView => ({
  ...v,
  centre: { xCm: v.centre.xCm - dx / v.pxPerCm, yCm: v.centre.yCm + dy / v.pxPerCm },
});

/** shiftBetween moves and scales a picture painted in one view to where it lies in another. */
export function shiftBetween(from: PlanView, to: PlanView): { x: number; y: number; scale: number } {
  const origin = toScreen(to, toSeason(from, { x: 0, y: 0 }));
  return { x: origin.x, y: origin.y, scale: to.pxPerCm / from.pxPerCm };
}

const held = (scale: number): number => Math.min(largest, Math.max(smallest, scale));

/** scaleBar is the longest 1, 2 or 5 times a power of ten, in cm, that fits the room. */
export function scaleBar(v: PlanView, room: number): { cm: number; px: number } {
  const most = room / v.pxPerCm;
  const power = 10 ** Math.floor(Math.log10(most));
  const m = most / power;
  const cm = power * (m >= 5 ? 5 : m >= 2 ? 2 : 1);
  return { cm, px: cm * v.pxPerCm };
}

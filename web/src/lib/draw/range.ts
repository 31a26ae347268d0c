// How far the field reaches: by direction, seen from above, and by height.
import type { HeightRange, Knobs, PairKnobs, RangeView, ThresholdRange } from '$lib/api/stimulus';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { castStyle } from './cast';
import { circleAt, line, path, polyline, px, shapeAt, text, type Figure, type Mark } from './picture';
import { linearScale, niceStep } from './scale';

const w = words.range.polar;
const cm = (m: number) => m * 100;

/** thresholdStyle tells the i-th of n thresholds apart, from the lowest to the highest. */
export const thresholdStyle = castStyle;

/** atHeight finds the figures of one height; heights are asked and answered as the same numbers, to six digits. */
export function atHeight(threshold: ThresholdRange, height_m: number): HeightRange | undefined {
  return threshold.heights.find((h) => Math.abs(h.height_m - height_m) <= 1e-5 * Math.max(1, height_m));
}

interface Circle {
  x: number;
  y: number;
  r: number;
  /** Pixels a metre. */
  scale: number;
}

const panelLeast = 260;
const panelMost = 380;
const headRoom = 30;
const footRoom = 22;

/** polarFigure draws a panel for each threshold and a line in it for each height. */
export function polarFigure(
  view: RangeView,
  heights_m: readonly number[],
  knobs: Knobs,
  pair: PairKnobs | undefined,
  width: number,
): Figure {
  const panels = view.thresholds;
  const across = Math.max(1, Math.min(panels.length, Math.floor(width / panelLeast)));
  const side = Math.min(panelMost, width / across);
  const tall = side - 20 + headRoom + footRoom;
  const keyTop = Math.ceil(panels.length / across) * tall;
  const perRow = Math.max(1, Math.floor(width / 130));
  const farthest = Math.max(0.01, ...panels.flatMap((t) => heights_m.map((h) => atHeight(t, h)?.farthest_m ?? 0)));
  const step = niceStep(cm(farthest) / 4) / 100;
  const outer = Math.ceil(farthest / step - 1e-9) * step;
  const marks: Mark[] = [];
  panels.forEach((threshold, i) => {
    const radius = side / 2 - 34;
    const circle = {
      x: (i % across) * side + side / 2,
      y: Math.floor(i / across) * tall + headRoom + radius + 24,
      r: radius,
      scale: radius / outer,
    };
    marks.push(...rings(circle, step, outer), ...things(circle, knobs, pair), ...lines(circle, threshold, heights_m));
    marks.push(
      text(circle.x, circle.y - radius - 22, w.threshold(tickText(threshold.threshold_nV_per_cm)), {
        anchor: 'middle',
        bold: true,
      }),
    );
  });
  heights_m.forEach((h, i) => {
    const style = castStyle(i, heights_m.length);
    const [x, y] = [8 + (i % perRow) * 130, keyTop + 12 + Math.floor(i / perRow) * 22];
    marks.push(
      line(x, y, x + 34, y, { stroke: style.paint, width: 2.5, dash: style.dash }),
      text(x + 42, y + 5, w.height(tickText(cm(h)))),
    );
  });
  return {
    name: w.name,
    picture: {
      width,
      height: keyTop + 24 + (Math.ceil(heights_m.length / perRow) - 1) * 22,
      title: w.title,
      description: w.description(polarWords(view, heights_m)),
      marks,
    },
    ...rangeByDirection(view),
  };
}

function rings(circle: Circle, step: number, outer: number): Mark[] {
  const marks: Mark[] = [];
  for (let i = 1; i * step <= outer * (1 + 1e-9); i++) {
    const r = i * step * circle.scale;
    marks.push(path(circleAt(circle.x, circle.y, r), { stroke: 'grid', width: 1 }));
    marks.push(
      text(circle.x + 3, circle.y + r - 3, tickText(Number(cm(i * step).toPrecision(6))), {
        fill: 'soft',
        size: 12,
        halo: true,
      }),
    );
  }
  marks.push(
    line(circle.x - circle.r, circle.y, circle.x + circle.r, circle.y, { stroke: 'grid', width: 1 }),
    line(circle.x, circle.y - circle.r, circle.x, circle.y + circle.r, { stroke: 'grid', width: 1 }),
    text(circle.x + circle.r + 4, circle.y + 4, w.axis, { fill: 'soft', size: 12 }),
    text(circle.x, circle.y + circle.r + 16, 'cm', { fill: 'soft', size: 12, anchor: 'middle' }),
  );
  return marks;
}

/** things draws plates and the pair to scale, as far as they lie within the circle. */
function things(circle: Circle, knobs: Knobs, pair: PairKnobs | undefined): Mark[] {
  const [cx, cy] = [pair?.centre_m[0] ?? 0, pair?.centre_m[1] ?? 0];
  const marks: Mark[] = [];
  for (const plate of knobs.plates) {
    const outline = plateOutline(plate).map(([x, y]) => [(x - cx) * circle.scale, (y - cy) * circle.scale] as const);
    if (outline.some(([x, y]) => Math.hypot(x, y) > circle.r * 1.02)) continue;
    marks.push(
      path(`M${outline.map(([x, y]) => `${px(circle.x + x)} ${px(circle.y - y)}`).join('L')}z`, {
        stroke: 'edge',
        width: 1,
        title: w.plate,
      }),
    );
  }
  if (pair) {
    const half = Math.max(3, (pair.separation_m / 2) * circle.scale);
    const turn = (pair.azimuth_deg * Math.PI) / 180;
    const [dx, dy] = [half * Math.cos(turn), half * Math.sin(turn)];
    for (const s of [1, -1])
      marks.push(path(circleAt(circle.x + s * dx, circle.y - s * dy, 2.5), { fill: 'ink', title: pair.label }));
  }
  return marks;
}

/** plateOutline is the edge of a plate seen from above, season frame, metres. */
export function plateOutline(plate: Knobs['plates'][number]): [number, number][] {
  const [cx, cy] = [plate.centre_m[0] ?? 0, plate.centre_m[1] ?? 0];
  if (plate.shape === 'disc') {
    const r = (plate.diameter_m ?? 0) / 2;
    return Array.from({ length: 48 }, (_, i) => {
      const a = (2 * Math.PI * i) / 48;
      return [cx + r * Math.cos(a), cy + r * Math.sin(a)];
    });
  }
  const [a, b] = [(plate.size_m?.[0] ?? 0) / 2, (plate.size_m?.[1] ?? 0) / 2];
  const yaw = (plate.yaw_deg * Math.PI) / 180;
  const [c, s] = [Math.cos(yaw), Math.sin(yaw)];
  const corners: [number, number][] = [
    [a, b],
    [-a, b],
    [-a, -b],
    [a, -b],
  ];
  return corners.map(([x, y]) => [cx + c * x - s * y, cy + s * x + c * y]);
}

function lines(circle: Circle, threshold: ThresholdRange, heights_m: readonly number[]): Mark[] {
  return heights_m.flatMap((h, i) => {
    const found = atHeight(threshold, h);
    if (!found) return [];
    const n = found.by_direction_m.length;
    const style = castStyle(i, heights_m.length);
    const [xs, ys]: [number[], number[]] = [[], []];
    for (let d = 0; d <= n; d++) {
      const [r, a] = [found.by_direction_m[d % n] ?? NaN, (2 * Math.PI * d) / n];
      xs.push(circle.x + r * circle.scale * Math.cos(a));
      ys.push(circle.y - r * circle.scale * Math.sin(a));
    }
    const d = polyline(xs, ys);
    const said = found.farthest_m === null ? '' : w.height(tickText(cm(h)));
    return d ? [path(d, { stroke: style.paint, width: 2.5, dash: style.dash, title: said })] : [];
  });
}

function polarWords(view: RangeView, heights_m: readonly number[]): string {
  return view.thresholds
    .flatMap((t) =>
      heights_m.map((h) => {
        const found = atHeight(t, h);
        const [value, height] = [tickText(t.threshold_nV_per_cm), tickText(cm(h))];
        if (found?.farthest_m == null) return w.saidNone(value, height);
        return w.said(value, height, sig(cm(found.nearest_m ?? found.farthest_m)), sig(cm(found.farthest_m)));
      }),
    )
    .join(' ');
}

function rangeByDirection(view: RangeView): Pick<Figure, 'columns' | 'rows'> {
  return {
    columns: ['threshold_nV_per_cm', 'height_m', 'direction_deg', 'range_m'],
    rows: view.thresholds.flatMap((t) =>
      t.heights.flatMap((h) =>
        h.by_direction_m.map((r, d) => [t.threshold_nV_per_cm, h.height_m, (360 * d) / h.by_direction_m.length, r]),
      ),
    ),
  };
}

/** profileFigure draws the farthest range against the height, a line for each threshold. */
export function profileFigure(view: RangeView, width: number): Figure {
  const p = words.range.profile;
  const n = view.thresholds.length;
  const frame: Frame = { left: 48, right: width - 16, top: 36, bottom: 300 };
  const known = view.thresholds.map((t) => t.heights.filter((h) => h.farthest_m !== null));
  const far = Math.max(1, ...known.flat().map((h) => cm(h.farthest_m!)));
  const high = Math.max(
    1,
    ...view.thresholds.map((t) => cm(t.highest_m ?? 0)),
    ...known.flat().map((h) => cm(h.height_m)),
  );
  const x = linearScale([0, far * 1.06], [frame.left, frame.right]);
  const y = linearScale([0, high * 1.08], [frame.bottom, frame.top]);
  const marks: Mark[] = [
    ...xAxis(frame, x, { label: p.distance, write: tickText }),
    ...yAxis(frame, y, { label: p.height, write: tickText }),
  ];
  const perRow = Math.max(1, Math.floor(width / 140));
  view.thresholds.forEach((t, i) => {
    const style = thresholdStyle(i, n);
    const rows = known[i]!;
    const [xs, ys] = [rows.map((h) => x.at(cm(h.farthest_m!))), rows.map((h) => y.at(cm(h.height_m)))];
    if (t.highest_m !== null) {
      const top = y.at(cm(t.highest_m));
      marks.push(line(frame.left, top, frame.left + 14, top, { stroke: style.paint, width: 2.5 }));
    }
    if (rows.length > 0) marks.push(path(polyline(xs, ys), { stroke: style.paint, width: 2.5, dash: style.dash }));
    xs.forEach((at, j) =>
      marks.push(path(shapeAt(style.shape, at, ys[j]!, 4), { fill: style.paint, stroke: 'paper', width: 1 })),
    );
    const [kx, ky] = [frame.left + (i % perRow) * 140, frame.bottom + 62 + Math.floor(i / perRow) * 22];
    marks.push(
      line(kx, ky, kx + 34, ky, { stroke: style.paint, width: 2.5, dash: style.dash }),
      path(shapeAt(style.shape, kx + 17, ky, 4), { fill: style.paint, stroke: 'paper', width: 1 }),
      text(kx + 42, ky + 5, w.threshold(tickText(t.threshold_nV_per_cm))),
    );
  });
  return {
    name: p.name,
    picture: {
      width,
      height: frame.bottom + 52 + Math.max(1, Math.ceil(n / perRow)) * 22,
      title: p.title,
      description: p.description(profileWords(view)),
      marks,
    },
    columns: ['threshold_nV_per_cm', 'height_m', 'farthest_m', 'nearest_m', 'area_m2', 'area_unsure_m2'],
    rows: view.thresholds.flatMap((t) =>
      t.heights.map((h) => [t.threshold_nV_per_cm, h.height_m, h.farthest_m, h.nearest_m, h.area_m2, h.area_unsure_m2]),
    ),
  };
}

function profileWords(view: RangeView): string {
  const p = words.range.profile;
  return view.thresholds
    .map((t) => {
      const value = tickText(t.threshold_nV_per_cm);
      const far = Math.max(...t.heights.map((h) => h.farthest_m ?? -1));
      return far < 0 ? p.saidNone(value) : p.said(value, sig(cm(far)), sig(cm(t.highest_m ?? 0)));
    })
    .join(' ');
}

// Where a camera stood: from the side, in the plane in which it looks, and from
// above. To scale, centimetres of the season frame.
import type { Pose } from '$lib/api/footage';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { box, circleAt, line, path, px, text, type Cell, type Figure, type Mark } from './picture';
import { linearScale, type Scale } from './scale';

const w = words.footageCamera.figures;
const cm = (m: number | undefined): number => (m ?? 0) * 100;
type Point = [number, number];

interface Room {
  frame: Frame;
  x: Scale;
  y: Scale;
  height: number;
}

/** roomOf frames all points with equal scales on both axes, at most so tall for its width. */
function roomOf(points: readonly Point[], width: number, tallest: number): Room {
  const span = (k: 0 | 1): Point => [Math.min(...points.map((p) => p[k])), Math.max(...points.map((p) => p[k]))];
  const [[x0, x1], [y0, y1]] = [span(0), span(1)];
  const pad = 0.08 * Math.max(x1 - x0, y1 - y0, 20);
  const [wide, tall] = [x1 - x0 + 2 * pad, y1 - y0 + 2 * pad];
  const [left, right, top] = [52, width - 14, 34];
  const scale = Math.min((right - left) / wide, tallest / tall);
  const bottom = top + Math.max(90, tall * scale);
  const [mx, my] = [(x0 + x1) / 2, (y0 + y1) / 2];
  const [halfX, halfY] = [(right - left) / 2 / scale, (bottom - top) / 2 / scale];
  return {
    frame: { left, right, top, bottom },
    x: linearScale([mx - halfX, mx + halfX], [left, right]),
    y: linearScale([my - halfY, my + halfY], [bottom, top]),
    height: bottom + 52,
  };
}

const axesOf = ({ frame, x, y }: Room, across: string, up: string): Mark[] => [
  ...xAxis(frame, x, { label: across, write: tickText }),
  ...yAxis(frame, y, { label: up, write: tickText }),
  box(frame.left, frame.top, frame.right - frame.left, frame.bottom - frame.top, { stroke: 'edge', width: 1 }),
];

const outlineOf = (points: readonly Point[], { x, y }: Room): string =>
  `M${points.map(([a, b]) => `${px(x.at(a))} ${px(y.at(b))}`).join('L')}z`;

/** sdCross shows ± 2 standard deviations along both axes. */
const sdCross = ({ x, y }: Room, [a, b]: Point, [sa, sb]: Point): Mark[] => [
  line(x.at(a - 2 * sa), y.at(b), x.at(a + 2 * sa), y.at(b), { stroke: 'accent', width: 2 }),
  line(x.at(a), y.at(b - 2 * sb), x.at(a), y.at(b + 2 * sb), { stroke: 'accent', width: 2 }),
];

const markSquares = (points: readonly Point[], { x, y }: Room): Mark[] =>
  points.map(([a, b]) => box(x.at(a) - 3, y.at(b) - 3, 6, 6, { fill: 'paper', stroke: 'ink', width: 1.5 }));

/** lookOf is the level direction in which it looks; straight down there is none, and x stands for it. */
function lookOf(pose: Pose): Point {
  const [ax = 0, ay = 0] = pose.sight?.axis ?? [];
  const level = Math.hypot(ax, ay);
  return level > 0.02 ? [ax / level, ay / level] : [1, 0];
}

function rowsOf(pose: Pose): Cell[][] {
  const c = pose.camera_centre_m ?? [];
  const sd = pose.camera_centre_sd_m ?? [];
  const tidy = (v: number): number => Number(v.toPrecision(8));
  return [
    [
      'camera',
      pose.camera,
      ...[0, 1, 2].map((k) => tidy(cm(c[k]))),
      ...[0, 1, 2].map((k) => tidy(cm(sd[k]))),
      null,
      null,
    ],
    ...(pose.marks ?? []).map((m, i): Cell[] => [
      'mark',
      m.name,
      ...[0, 1, 2].map((k) => tidy(cm(m.at_m?.[k]))),
      null,
      null,
      null,
      ...[0, 1].map((k) => tidy(pose.residual_px[i]?.[k] ?? NaN)),
    ]),
    ...(pose.sight?.outline_m ?? []).map((p): Cell[] => [
      'outline',
      '',
      tidy(cm(p?.[0])),
      tidy(cm(p?.[1])),
      0,
      ...Array<null>(5).fill(null),
    ]),
  ];
}

const columns = ['what', 'name', 'x_cm', 'y_cm', 'z_cm', 'sd_x_cm', 'sd_y_cm', 'sd_z_cm', 'off_x_px', 'off_y_px'];

export function cameraSideFigure(pose: Pose, width: number): Figure {
  const [ux, uy] = lookOf(pose);
  const along = (p: readonly number[] | null | undefined): number => cm(p?.[0]) * ux + cm(p?.[1]) * uy;
  const c = pose.camera_centre_m ?? [0, 0, 0];
  const camera: Point = [along(c), cm(c[2])];
  const sd = pose.camera_centre_sd_m ?? [0, 0, 0];
  const sds: Point = [Math.hypot(cm(sd[0]) * ux, cm(sd[1]) * uy), cm(sd[2])];
  const marks = (pose.marks ?? []).map((m): Point => [along(m.at_m), cm(m.at_m?.[2])]);
  const outline = (pose.sight?.outline_m ?? []).map((p) => along(p));
  const ground: Point[] =
    outline.length > 0
      ? [
          [Math.min(...outline), 0],
          [Math.max(...outline), 0],
        ]
      : [];
  const room = roomOf([camera, ...marks, ...ground, [camera[0], 0]], width, 300);
  const { frame, x, y } = room;
  const drawn: Mark[] = [];
  if (ground.length === 2) drawn.push(path(outlineOf([camera, ...ground], room), { fill: 'wash', opacity: 0.7 }));
  drawn.push(...axesOf(room, w.side.across, w.side.up));
  drawn.push(line(frame.left, y.at(0), frame.right, y.at(0), { stroke: 'ink', width: 2 }));
  // The axis, from the camera to the plate or a little on.
  const [ax = 0, ay = 0, az = -1] = pose.sight?.axis ?? [0, 0, -1];
  const far = az < -0.05 ? Math.min(-camera[1] / az, 3 * Math.max(camera[1], 10)) : 60;
  const tip: Point = [camera[0] + (ax * ux + ay * uy) * far, camera[1] + az * far];
  drawn.push(
    line(x.at(camera[0]), y.at(camera[1]), x.at(tip[0]), y.at(tip[1]), { stroke: 'accent', width: 1.5, dash: [6, 4] }),
  );
  drawn.push(...markSquares(marks, room), ...sdCross(room, camera, sds));
  drawn.push(path(circleAt(x.at(camera[0]), y.at(camera[1]), 5), { fill: 'accent', stroke: 'paper', width: 1.5 }));
  drawn.push(text(x.at(camera[0]) + 10, y.at(camera[1]) + 4, w.side.camera, { halo: true, bold: true }));
  const said = w.side.description(`${sig(camera[1], 4)} cm`, `${sig(pose.tilt_deg ?? 0, 3)}°`);
  const picture = { width, height: room.height, title: w.side.title, description: said, marks: drawn };
  return { name: w.side.name, picture, columns, rows: rowsOf(pose) };
}

export function cameraPlanFigure(pose: Pose, width: number): Figure {
  const at = (p: readonly number[] | null | undefined): Point => [cm(p?.[0]), cm(p?.[1])];
  const camera = at(pose.camera_centre_m);
  const sd = pose.camera_centre_sd_m ?? [0, 0, 0];
  const marks = (pose.marks ?? []).map((m) => at(m.at_m));
  const outline = (pose.sight?.outline_m ?? []).map((p) => at(p));
  const room = roomOf([camera, ...marks, ...outline], width, 300);
  const { x, y } = room;
  const drawn: Mark[] = [];
  if (outline.length > 2) drawn.push(path(outlineOf(outline, room), { fill: 'wash', stroke: 'accent', width: 1.5 }));
  drawn.push(...axesOf(room, w.plan.x, w.plan.y));
  drawn.push(...markSquares(marks, room), ...sdCross(room, camera, [cm(sd[0]), cm(sd[1])]));
  const [ax = 0, ay = 0] = pose.sight?.axis ?? [];
  const level = Math.hypot(ax, ay);
  const [cx, cy] = [x.at(camera[0]), y.at(camera[1])];
  if (level > 0.02)
    drawn.push(line(cx, cy, cx + (ax / level) * 26, cy - (ay / level) * 26, { stroke: 'accent', width: 2.5 }));
  drawn.push(path(circleAt(cx, cy, 5), { fill: 'accent', stroke: 'paper', width: 1.5 }));
  drawn.push(text(cx + 9, cy - 8, w.side.camera, { halo: true, bold: true }));
  const picture = {
    width,
    height: room.height,
    title: w.plan.title,
    description: w.plan.description(marks.length),
    marks: drawn,
  };
  return { name: w.plan.name, picture, columns, rows: rowsOf(pose) };
}

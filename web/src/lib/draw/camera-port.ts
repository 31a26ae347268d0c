// A camera behind a flat port: rays through air, glass and water by Snell's law,
// or straight ones where there is no port. The port is drawn larger than it is.
import type { CameraSpec } from '$lib/api/footage';
import { words } from '$lib/words';
import { sig } from '$lib/words/numbers';
import { box, circleAt, line, path, polyline, text, type Cell, type Figure, type Mark } from './picture';

const w = words.footageCamera.figures.port;

/** Usual numbers, for the drawing only: a wide lens behind acrylic in sea water. */
const usual = { halfAir: 0.7, glassIndex: 1.49, waterIndex: 1.34 };

/** anglesOf are those to the axis in glass and water of a ray at an angle in air. */
export const anglesOf = (air: number, glassIndex: number, waterIndex: number): { glass: number; water: number } => ({
  glass: Math.asin(Math.sin(air) / glassIndex),
  water: Math.asin(Math.sin(air) / waterIndex),
});

const degrees = (a: number): number => (a * 180) / Math.PI;

/** cameraPortFigure draws the typed camera; without one, what a port does at all. */
export function cameraPortFigure(spec: CameraSpec | undefined, port: boolean, width: number): Figure {
  const half = spec ? Math.min(1.2, Math.atan(spec.width_px / 2 / spec.fx_px)) : usual.halfAir;
  const index = {
    glass: spec?.port?.glass_index ?? usual.glassIndex,
    water: spec?.port?.water_index ?? usual.waterIndex,
  };
  const height = 230;
  const [x0, middle] = [46, height / 2 + 6];
  // Air, glass and water along the axis, px.
  const face = x0 + Math.max(60, width * 0.16);
  const back = face + 22;
  const right = width - 14;
  const marks: Mark[] = [];
  if (port) {
    marks.push(box(face, 34, back - face, height - 60, { fill: 'sunk', stroke: 'edge', width: 1.5 }));
    marks.push(box(back, 34, right - back, height - 60, { fill: 'wash' }));
    marks.push(text((x0 + face) / 2, 26, w.air, { anchor: 'middle', fill: 'soft' }));
    marks.push(text((face + back) / 2, 26, w.glass, { anchor: 'middle', fill: 'soft' }));
    marks.push(text((back + right) / 2, 26, w.water, { anchor: 'middle', fill: 'soft' }));
  }
  marks.push(line(x0, middle, right, middle, { stroke: 'edge', width: 1, dash: [8, 4, 2, 4] }));
  const rows: Cell[][] = [];
  // Rays that stay in the drawing: of the outermost, the half that fits.
  for (const share of [-1, -0.5, 0.5, 1]) {
    const air = half * share;
    const { glass, water } = anglesOf(air, index.glass, index.water);
    const limit = (height - 60) / 2 - 4;
    const [xs, ys] = [[x0], [middle]];
    const go = (to: number, angle: number): void => {
      const [x, y] = [xs.at(-1)!, ys.at(-1)!];
      const slope = Math.tan(angle);
      const room = slope === 0 ? Infinity : (Math.sign(slope) * limit - (y - middle)) / slope;
      const end = Math.min(to, x + Math.max(0, room));
      xs.push(end);
      ys.push(y + (end - x) * slope);
    };
    if (port) {
      go(face, air);
      go(back, glass);
      go(right, water);
    } else go(right, air);
    marks.push(path(polyline(xs, ys), { stroke: 'accent', width: 2 }));
    if (share > 0) rows.push([degrees(air), port ? degrees(glass) : null, port ? degrees(water) : null].map(tidy));
    // As it would go on in air: the difference is what the port does.
    if (port && Math.abs(share) === 1)
      marks.push(
        path(
          polyline(
            [face, Math.min(right, face + limit / Math.tan(Math.abs(air)))],
            [ys[1]!, ys[1]! + Math.sign(share) * Math.max(0, limit - Math.abs(ys[1]! - middle))],
          ),
          {
            stroke: 'soft',
            width: 1,
            dash: [3, 4],
          },
        ),
      );
  }
  // The body of the camera, and its pinhole.
  marks.push(box(8, middle - 24, x0 - 14, 48, { fill: 'surface', stroke: 'ink', width: 2 }));
  marks.push(path(circleAt(x0, middle, 4), { fill: 'ink' }));
  marks.push(text(x0 - 4, middle + 42, w.pinhole, { anchor: 'middle', fill: 'soft', size: 12 }));
  const { water } = anglesOf(half, index.glass, index.water);
  const angle = (a: number): string => `${sig(degrees(2 * a), 3)}°`;
  const seen = port ? w.sees(angle(half), angle(water)) : w.seesStraight(angle(half));
  marks.push(text(8, height - 4, spec ? seen : w.drawn, { fill: 'soft', size: 13, italic: !spec }));
  if (port && spec) marks.push(text(8, height + 14, w.notToScale, { fill: 'soft', size: 12, italic: true }));
  const picture = {
    width,
    height: height + 20,
    title: port ? w.title : w.titleNone,
    description: `${port ? w.description : w.descriptionNone} ${spec ? seen : w.drawn}`,
    marks,
  };
  return { name: w.name, picture, columns: ['angle_in_air_deg', 'angle_in_glass_deg', 'angle_in_water_deg'], rows };
}

const tidy = (v: number | null): number | null => (v === null ? null : Number(v.toPrecision(8)));

// How well the events of a clip agree: seen minus the line through all of them,
// over the time of the clip.
import type { Clip } from '$lib/api/footage';
import { words } from '$lib/words';
import { sig, tickText } from '$lib/words/numbers';
import { xAxis, yAxis, type Frame } from './axes';
import { line, path, shapeAt, type Cell, type Figure, type Mark } from './picture';
import { linearScale } from './scale';

const w = words.footageClips.clock.figure;

/** Of a whole clip, seconds: the axis is in minutes beyond this. */
const minutesFrom = 300;

export function clockFigure(clip: Pick<Clip, 'clip' | 'sync' | 'duration_s'>, width: number): Figure {
  const events = clip.sync.filter((e) => e.residual_s !== null);
  const frame: Frame = { left: 58, right: width - 16, top: 34, bottom: 190 };
  const per = clip.duration_s > minutesFrom ? 60 : 1;
  const far = Math.max(0.02, ...events.map((e) => Math.abs(e.residual_s ?? 0))) * 1.25;
  const x = linearScale([0, Math.max(1, clip.duration_s) / per], [frame.left, frame.right]);
  const y = linearScale([-far, far], [frame.bottom, frame.top]);
  const marks: Mark[] = [
    ...xAxis(frame, x, { label: per === 60 ? w.minutes : w.seconds, write: tickText }),
    ...yAxis(frame, y, { label: w.residual, write: tickText }),
    line(frame.left, y.at(0), frame.right, y.at(0), { stroke: 'ink', width: 1.5 }),
  ];
  const rows: Cell[][] = [];
  for (const e of events) {
    const at = [x.at(e.clip_s / per), y.at(e.residual_s ?? 0)] as const;
    rows.push([e.frame, e.clip_s, e.clock, e.what, e.residual_s]);
    marks.push(
      line(at[0], y.at(0), at[0], at[1], { stroke: 'accent', width: 1.5 }),
      path(shapeAt('circle', ...at, 5), {
        fill: 'accent',
        stroke: 'paper',
        width: 1,
        title: w.event(e.what, sig(e.residual_s ?? 0, 2)),
      }),
    );
  }
  const worst = Math.max(0, ...events.map((e) => Math.abs(e.residual_s ?? 0)));
  return {
    name: w.name,
    picture: {
      width,
      height: 240,
      title: w.title(clip.clip),
      description: w.description(events.length, sig(worst, 2)),
      marks,
    },
    columns: [...w.columns],
    rows,
  };
}

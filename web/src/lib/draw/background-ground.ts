// What the background's plan says of itself: the arrow to north and the scale.
import type { BackgroundSpec } from '$lib/api/background';
import { words } from '$lib/words';
import { tickText } from '$lib/words/numbers';
import type { Frame } from './axes';
import { roundUp, type Ground } from './background-scene';
import { line, path, px, text, type Mark } from './picture';

const w = words.background.plan;

/** northMarks is an arrow to true north; +x points to the right. */
export function northMarks(spec: BackgroundSpec, frame: Frame): Mark[] {
  const bearing = spec.site.x_axis_bearing_deg;
  const [cx, cy, r] = [frame.right - 32, frame.top + 34, 17];
  if (bearing === null || bearing === undefined || !Number.isFinite(bearing)) return [];
  const a = (bearing * Math.PI) / 180;
  const [dx, dy] = [Math.cos(a), -Math.sin(a)];
  const [tx, ty] = [cx + dx * r, cy + dy * r];
  const wing = (s: number) => `${px(tx - dx * 8 - dy * 4 * s)} ${px(ty - dy * 8 + dx * 4 * s)}`;
  return [
    line(cx - dx * r, cy - dy * r, tx, ty, { stroke: 'ink', width: 1.5 }),
    path(`M${px(tx)} ${px(ty)}L${wing(1)}L${wing(-1)}z`, { fill: 'ink' }),
    text(cx + dx * (r + 9), cy + dy * (r + 9) + 4.5, w.north, {
      anchor: 'middle',
      size: 13,
      bold: true,
      halo: true,
    }),
  ];
}

/** scaleMarks says the scale: a bar where it is true, a sentence where it is not. */
export function scaleMarks(g: Ground): Mark[] {
  const { left, right, bottom } = g.frame;
  if (g.scale === 'log')
    return [
      text(left + 10, bottom - 10, (right - left < 560 ? w.logShort : w.logNote)(tickText(g.reachM)), {
        fill: 'soft',
        size: 12,
        halo: true,
      }),
    ];
  const perM = (right - left) / 2 / g.reachM;
  const bar = roundUp(g.reachM / 5);
  const [x, y] = [left + 12, bottom - 26];
  return [
    line(x, y, x + bar * perM, y, { stroke: 'ink', width: 3 }),
    text(x, bottom - 9, w.fittedNote(tickText(bar)), { fill: 'soft', size: 12, halo: true }),
  ];
}

/** axisMarks says which way +x and +y of the season frame run. */
export function axisMarks({ right, bottom }: Frame): Mark[] {
  const [x, y, r] = [right - 44, bottom - 16, 24];
  const style = { stroke: 'soft' as const, width: 1.5 };
  return [
    path(`M${px(x)} ${px(y - r)}V${px(y)}H${px(x + r)}`, style),
    path(`M${px(x - 3.5)} ${px(y - r + 6)}L${px(x)} ${px(y - r)}L${px(x + 3.5)} ${px(y - r + 6)}`, style),
    path(`M${px(x + r - 6)} ${px(y - 3.5)}L${px(x + r)} ${px(y)}L${px(x + r - 6)} ${px(y + 3.5)}`, style),
    text(x + r + 4, y - 6, w.x, { fill: 'soft', size: 12, italic: true, halo: true }),
    text(x + 7, y - r + 2, w.y, { fill: 'soft', size: 12, italic: true, halo: true }),
  ];
}

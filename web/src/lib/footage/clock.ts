// The clock of a clip: what the trial's clock showed at a frame, and times as
// people type them. Times are kept as they stand on that clock, with the offset
// from universal time that the clip's own start names.
import type { Clip } from '$lib/api/footage';

/** A moment on a clock: milliseconds as if it stood at universal time, and what is written behind it (+01:00, Z, or nothing). */
export interface Moment {
  wallMs: number;
  zone: string;
}

const shape = /^(\d{4})-(\d{2})-(\d{2})[T ](\d{1,2}):(\d{2})(?::(\d{2}(?:[.,]\d+)?))?\s*(Z|[+-]\d{2}:\d{2})?$/i;
const hours = /^(\d{1,2}):(\d{2})(?::(\d{2}(?:[.,]\d+)?))?$/;

function wall(y: number, mo: number, d: number, h: number, mi: number, s: number): number | undefined {
  const day = Date.UTC(y, mo - 1, d);
  const real = new Date(day).getUTCMonth() === mo - 1 && new Date(day).getUTCDate() === d;
  if (!real || h > 23 || mi > 59 || s >= 60) return undefined;
  return day + (h * 60 + mi) * 60_000 + Math.round(s * 1000);
}

const seconds = (text: string | undefined): number => Number((text ?? '0').replace(',', '.'));

/** readMoment understands a whole date and time, or a time of the day that is near. */
export function readMoment(text: string, near?: Moment): Moment | undefined {
  const whole = shape.exec(text.trim());
  if (whole) {
    const [, y, mo, d, h, mi, s, zone] = whole;
    const wallMs = wall(Number(y), Number(mo), Number(d), Number(h), Number(mi), seconds(s));
    return wallMs === undefined ? undefined : { wallMs, zone: zone?.toUpperCase() ?? near?.zone ?? '' };
  }
  const short = hours.exec(text.trim());
  if (!short || !near) return undefined;
  const day = new Date(near.wallMs);
  const [, h, mi, s] = short;
  const at = wall(day.getUTCFullYear(), day.getUTCMonth() + 1, day.getUTCDate(), Number(h), Number(mi), seconds(s));
  if (at === undefined) return undefined;
  // A clip may run past midnight: the nearest such time is meant.
  const days = Math.round((near.wallMs - at) / 86_400_000);
  return { wallMs: at + days * 86_400_000, zone: near.zone };
}

/** zoneNear is the zone that the nearest of the known times names: that of the season's clock on those days. */
export function zoneNear(wallMs: number, known: readonly string[]): string {
  const zoned = known.flatMap((text) => readMoment(text) ?? []).filter((m) => m.zone !== '');
  const apart = (m: Moment): number => Math.abs(m.wallMs - wallMs);
  return zoned.sort((a, b) => apart(a) - apart(b))[0]?.zone ?? '';
}

/** writeMoment is how the program takes it. */
export const writeMoment = ({ wallMs, zone }: Moment): string =>
  new Date(wallMs)
    .toISOString()
    .replace('Z', '')
    .replace(/\.000$/, '') + zone;

/** momentAt is what the trial's clock showed at that second of the clip; undefined where the clip's start is not stated. */
export function momentAt(
  clip: Pick<Clip, 'start' | 'clock_offset_s' | 'drift_ppm'>,
  clipS: number,
): Moment | undefined {
  const start = readMoment(clip.start);
  if (!start) return undefined;
  const s = clipS * (1 + (clip.drift_ppm ?? 0) * 1e-6) + (clip.clock_offset_s ?? 0);
  return { wallMs: start.wallMs + s * 1000, zone: start.zone };
}

/** timeOfDay is 14:02:10.48. */
export const timeOfDay = ({ wallMs }: Moment, decimals = 2): string =>
  new Date(Math.round(wallMs)).toISOString().slice(11, decimals > 0 ? 20 + decimals : 19);

export const dayOf = ({ wallMs }: Moment): string => new Date(wallMs).toISOString().slice(0, 10);

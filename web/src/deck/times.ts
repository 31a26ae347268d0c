// Times as they are written down on deck: RFC 3339 with the offset that the
// site's zone has at that moment. The tablet may be set to another zone.

const formats = new Map<string, Intl.DateTimeFormat>();

function format(zone: string): Intl.DateTimeFormat {
  let f = formats.get(zone);
  if (!f) {
    const options: Intl.DateTimeFormatOptions = {
      year: 'numeric',
      month: '2-digit',
      day: '2-digit',
      hour: '2-digit',
      minute: '2-digit',
      second: '2-digit',
      hourCycle: 'h23',
      calendar: 'iso8601',
      numberingSystem: 'latn',
    };
    try {
      f = new Intl.DateTimeFormat('en-GB', { ...options, timeZone: zone });
    } catch {
      // A zone that this browser does not know: UTC says so by its offset.
      f = new Intl.DateTimeFormat('en-GB', { ...options, timeZone: 'UTC' });
    }
    formats.set(zone, f);
  }
  return f;
}

const two = (n: number): string => String(n).padStart(2, '0');

/** wallMs is what a clock on the wall of the site shows, as if it were UTC, to the second. */
function wallMs(ms: number, zone: string): number {
  const at = { year: 0, month: 1, day: 1, hour: 0, minute: 0, second: 0 } as Record<string, number>;
  for (const p of format(zone).formatToParts(ms)) if (p.type in at) at[p.type] = Number(p.value);
  return Date.UTC(at.year!, at.month! - 1, at.day!, at.hour!, at.minute!, at.second!);
}

/** offsetMin is how far the site's clock is ahead of UTC at that moment, in whole minutes. */
export function offsetMin(ms: number, zone: string): number {
  const second = Math.floor(ms / 1000) * 1000;
  return Math.round((wallMs(second, zone) - second) / 60_000);
}

/** rfc3339 is a moment (Unix milliseconds) to the second, such as 2031-06-14T11:30:02+01:00. */
export function rfc3339(ms: number, zone: string): string {
  const offset = offsetMin(ms, zone);
  const text = new Date(Math.floor(ms / 1000) * 1000 + offset * 60_000).toISOString().slice(0, 19);
  const far = Math.abs(offset);
  return `${text}${offset < 0 ? '-' : '+'}${two(Math.floor(far / 60))}:${two(far % 60)}`;
}

/** readTime is the moment of a recorded time; without an offset it is in the site's zone. NaN where it is none. */
export function readTime(text: string, zone: string): number {
  if (/(Z|[+-]\d\d:?\d\d)$/.test(text)) return Date.parse(text);
  const wall = Date.parse(`${text}Z`);
  if (Number.isNaN(wall)) return NaN;
  const guess = wall - offsetMin(wall, zone) * 60_000;
  return wall - offsetMin(guess, zone) * 60_000;
}

/** dayOf is the day at the site, such as 2031-06-14. */
export const dayOf = (ms: number, zone: string): string => rfc3339(ms, zone).slice(0, 10);

/** clockOf is the time of day at the site, such as 11:30. */
export const clockOf = (ms: number, zone: string): string => rfc3339(ms, zone).slice(11, 16);

/** minutes writes a length of time in seconds as 4:09, or 1:04:09. */
export function minutes(seconds: number): string {
  const s = Math.max(0, Math.floor(seconds));
  const h = Math.floor(s / 3600);
  const m = Math.floor((s % 3600) / 60);
  return h > 0 ? `${h}:${two(m)}:${two(s % 60)}` : `${m}:${two(s % 60)}`;
}

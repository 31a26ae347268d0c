// Scales and their ticks. A scale maps data to pixels and back.

export interface Scale {
  readonly kind: 'log' | 'linear';
  readonly domain: readonly [number, number];
  readonly range: readonly [number, number];
  at(v: number): number;
  back(px: number): number;
}

export interface Tick {
  value: number;
  major: boolean;
}

export function linearScale(domain: [number, number], range: [number, number]): Scale {
  const [d0, d1] = domain;
  const [r0, r1] = range;
  const slope = (r1 - r0) / (d1 - d0 || 1);
  return { kind: 'linear', domain, range, at: (v) => r0 + (v - d0) * slope, back: (px) => d0 + (px - r0) / slope };
}

/** logScale holds values at or below 0 at the low end: 0 has no place on a log axis. */
export function logScale(domain: [number, number], range: [number, number]): Scale {
  const [l0, l1] = [Math.log(domain[0]), Math.log(domain[1])];
  const [r0, r1] = range;
  const slope = (r1 - r0) / (l1 - l0 || 1);
  return {
    kind: 'log',
    domain,
    range,
    at: (v) => (v > 0 ? r0 + (Math.log(v) - l0) * slope : r0),
    back: (px) => Math.exp(l0 + (px - r0) / slope),
  };
}

/**
 * logTicks are 1, 2, 5 of each decade within the domain as major ticks (only
 * 1 where the axis is long, everything where it is very short) and the other
 * multiples as minor ones.
 */
export function logTicks(domain: readonly [number, number]): Tick[] {
  const [low, high] = domain;
  if (!(low > 0) || !(high > low)) return [];
  const decades = Math.log10(high / low);
  const labelled = decades > 3 ? [1] : decades > 0.7 ? [1, 2, 5] : [1, 1.5, 2, 3, 4, 5, 6, 7, 8, 9];
  const steps = decades > 0.7 ? [1, 2, 3, 4, 5, 6, 7, 8, 9] : labelled;
  const ticks: Tick[] = [];
  const slack = 1e-9;
  for (let e = Math.floor(Math.log10(low)); e <= Math.ceil(Math.log10(high)); e++) {
    for (const m of steps) {
      const value = Number((m * 10 ** e).toPrecision(6));
      if (value < low * (1 - slack) || value > high * (1 + slack)) continue;
      ticks.push({ value, major: labelled.includes(m) });
    }
  }
  return ticks;
}

/** linearTicks are multiples of 1, 2 or 5 times a power of ten, about count of them. */
export function linearTicks(domain: readonly [number, number], count = 5): Tick[] {
  const [low, high] = domain;
  if (!(high > low)) return [];
  const step = niceStep((high - low) / count);
  const ticks: Tick[] = [];
  for (let i = Math.ceil(low / step - 1e-9); i * step <= high + step * 1e-9; i++) {
    ticks.push({ value: Number((i * step).toPrecision(12)), major: true });
  }
  return ticks;
}

/** niceStep is the 1, 2 or 5 times a power of ten at or above v. */
export function niceStep(v: number): number {
  const power = 10 ** Math.floor(Math.log10(v));
  const m = v / power;
  return power * (m <= 1 ? 1 : m <= 2 ? 2 : m <= 5 ? 5 : 10);
}

/** logDomain spans the positive finite values with some room, at least a factor of four. */
export function logDomain(values: Iterable<number | null | undefined>, room = 1.25): [number, number] {
  let [low, high] = [Infinity, 0];
  for (const v of values) {
    if (v === null || v === undefined || !(v > 0) || !Number.isFinite(v)) continue;
    low = Math.min(low, v);
    high = Math.max(high, v);
  }
  if (!(high > 0)) return [1, 100];
  const widen = Math.max(room, Math.sqrt(Math.max(1, 4 / (high / low))));
  return [low / widen, high * widen];
}

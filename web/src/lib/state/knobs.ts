// Knobs are turned by their path, as the program names their faults:
// "water/salinity", "plates/0/size_m/1".
import type { Detail } from '$lib/api/client';
import type { Knobs } from '$lib/api/stimulus';

type Tree = Record<string, unknown>;

/** knobAt is the value under a path; undefined where there is none. */
export function knobAt(knobs: object, path: string): unknown {
  let here: unknown = knobs;
  for (const key of path.split('/')) {
    if (typeof here !== 'object' || here === null) return undefined;
    here = (here as Tree)[key];
  }
  return here;
}

/** withKnob is a copy with one value changed; what is not on the path is shared. A path that leads nowhere changes nothing. */
export function withKnob<K extends object>(knobs: K, path: string, value: unknown): K {
  const change = (here: unknown, [key, ...rest]: string[]): unknown => {
    if (key === undefined) return value;
    if (typeof here !== 'object' || here === null) return here;
    const copy = (Array.isArray(here) ? [...(here as unknown[])] : { ...here }) as Tree;
    copy[key] = change(copy[key], rest);
    return copy;
  };
  return change(knobs, path.split('/')) as K;
}

/** sameKnob tells whether a knob, or a whole part, stands as in the other. */
export const sameKnob = (a: object, b: object, path: string): boolean =>
  JSON.stringify(knobAt(a, path) ?? null) === JSON.stringify(knobAt(b, path) ?? null);

/** leadingPair is the driven pair of the largest share; −1 where none is driven. */
export function leadingPair(knobs: Knobs): number {
  let best = -1;
  knobs.pairs.forEach((p, i) => {
    if (p.share !== 0 && (best < 0 || Math.abs(p.share) > Math.abs(knobs.pairs[best]!.share))) best = i;
  });
  return best;
}

/** Sentences about knobs, by the path of the knob. */
export type Faults = ReadonlyMap<string, string>;
export const noFaults: Faults = new Map();

/** faultsOf parts the sentences of a refusal: those about a knob, and the rest. */
export function faultsOf(details: readonly Detail[]): { faults: Faults; rest: string[] } {
  const faults = new Map<string, string>();
  const rest: string[] = [];
  for (const { location, message } of details) {
    const path = /^(?:body[./])?knobs[./](.+)$/.exec(location)?.[1]?.replaceAll('.', '/');
    if (path) faults.set(path, message);
    else rest.push(message);
  }
  return { faults, rest };
}

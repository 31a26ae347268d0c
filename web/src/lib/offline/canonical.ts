// JSON in the one form of RFC 8785 (JCS): what is hashed has one spelling.
// ECMAScript's own JSON.stringify spells numbers and texts as the RFC wants;
// what it lets through and the RFC refuses is refused here.
import { LogError } from './errors';

export type Json = null | boolean | number | string | Json[] | { [key: string]: Json };

const deepest = 64;

/** wellFormed reports whether a text is UTF-16 without half surrogate pairs, so that it has a form in UTF-8. */
export const wellFormed = (text: string): boolean => !/\p{Surrogate}/u.test(text);

/** canonical is the value in the form of RFC 8785. Errors: a number that JSON has no form for, half a surrogate pair, something that is not JSON. */
export function canonical(value: Json, depth = 0): string {
  if (depth > deepest) throw new LogError('draft', `This is nested more than ${deepest} deep.`);
  switch (typeof value) {
    case 'boolean':
      return String(value);
    case 'number':
      if (!Number.isFinite(value)) throw new LogError('draft', `${value} is no number of JSON.`);
      return JSON.stringify(value);
    case 'string':
      if (!wellFormed(value)) throw new LogError('draft', `${JSON.stringify(value)} holds half a character.`);
      return JSON.stringify(value);
    case 'object':
      if (value === null) return 'null';
      if (Array.isArray(value)) return `[${value.map((v) => canonical(v, depth + 1)).join(',')}]`;
      // The default order of sort is by UTF-16 code units, as the RFC wants.
      return `{${Object.keys(value)
        .sort()
        .map((key) => `${canonical(key)}:${canonical(value[key] as Json, depth + 1)}`)
        .join(',')}}`;
    default:
      throw new LogError('draft', `A value of type ${typeof value} has no form in JSON.`);
  }
}

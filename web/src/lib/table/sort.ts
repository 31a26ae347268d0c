// Sorting that stays quick with many rows: the key of a row is read once and
// becomes a number; ties keep the order of the season, and what is missing
// comes last either way.

export type Direction = 'ascending' | 'descending';

export function sortRows<T>(
  rows: readonly T[],
  key: (row: T) => number | string | null,
  direction: Direction,
): readonly T[] {
  const ranks = ranksOf(rows.map(key));
  if (direction === 'descending') for (let i = 0; i < ranks.length; i++) ranks[i] = -ranks[i]!;
  const order = new Uint32Array(rows.length);
  for (let i = 0; i < order.length; i++) order[i] = i;
  order.sort((a, b) => {
    const [ka, kb] = [ranks[a]!, ranks[b]!];
    if (ka < kb) return -1;
    if (ka > kb) return 1;
    // Equal, or one of them at least is missing, which is written as NaN.
    return Number(Number.isNaN(ka)) - Number(Number.isNaN(kb)) || a - b;
  });
  return Array.from(order, (i) => rows[i]!);
}

/** ranksOf turns keys into numbers of the same order; words by their place among all words. */
function ranksOf(keys: readonly (number | string | null)[]): Float64Array {
  const ranks = new Float64Array(keys.length);
  const words = keys.filter((k) => typeof k === 'string');
  const places = new Map([...new Set(words)].sort().map((word, i) => [word, i]));
  keys.forEach((k, i) => {
    ranks[i] = k === null ? NaN : typeof k === 'string' ? places.get(k)! : k;
  });
  return ranks;
}

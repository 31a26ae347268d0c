// Numbers drawn from a seed, so that a failure comes again. mulberry32, in the public domain.
export function random(seed: number) {
  let a = seed >>> 0;
  const next = (): number => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  const integer = (below: number): number => Math.floor(next() * below);
  return {
    next,
    integer,
    pick: <T>(from: readonly T[]): T => from[integer(from.length)]!,
    bytes: (n: number) => Uint8Array.from({ length: n }, () => integer(256)),
  };
}

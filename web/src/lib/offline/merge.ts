// Puts the two copies of a log together: each entry is taken from whichever copy
// holds one that fits its chain.
import { headOf, linkFault, readLine, type Line, type Linked } from './chain';
import { noHead, type Head } from './entry';
import { wordsOf } from './errors';

export interface Merged {
  entries: Linked[];
  heads: Map<string, Head>;
  /** Which copy had what the other lacked. */
  better: 'same' | 'database' | 'copy';
  /** Entries that only the copy had whole. */
  fromCopy: number;
  /** Entries that only the database had whole. */
  fromDatabase: number;
  /** Lines that fit no chain, and why. */
  unfit: { where: 'database' | 'copy'; text: string; why: string }[];
}

type Candidate = Linked & { database: boolean; copy: boolean };

/**
 * merge never drops an entry that fits its chain. Two different entries under
 * one number that both fit mean that the log was written in two places: the
 * database's is kept, and the other one is told as unfit.
 */
export async function merge(database: readonly Line[], copy: readonly Line[]): Promise<Merged> {
  const out: Merged = { entries: [], heads: new Map(), better: 'same', fromCopy: 0, fromDatabase: 0, unfit: [] };
  const devices = new Map<string, Map<number, Candidate[]>>();
  const known = new Map<string, Candidate>();
  const gather = async (lines: readonly Line[], where: 'database' | 'copy') => {
    const fresh = await Promise.all(
      lines.map((line) =>
        // A text that the database gave already is not hashed again.
        known.get(line.text)?.hash === line.hash
          ? known.get(line.text)!
          : readLine(line).catch((e: unknown) => wordsOf(e)),
      ),
    );
    for (const [i, l] of fresh.entries()) {
      const { text } = lines[i]!;
      if (typeof l === 'string') {
        out.unfit.push({ where, text, why: l });
        continue;
      }
      const seen = known.get(text);
      if (seen) {
        seen[where] = true;
        continue;
      }
      const candidate: Candidate = { ...l, database: where === 'database', copy: where === 'copy' };
      known.set(text, candidate);
      const { device, seq } = l.entry;
      const chain = devices.get(device) ?? new Map<number, Candidate[]>();
      devices.set(device, chain);
      chain.set(seq, [...(chain.get(seq) ?? []), candidate]);
    }
  };
  await gather(database, 'database');
  await gather(copy, 'copy');

  const taken = new Set<Candidate>();
  for (const [device, chain] of devices) {
    let head = noHead;
    for (;;) {
      const next = chain.get(head.seq + 1)?.find((c) => !linkFault(head, c.entry));
      if (!next) break;
      head = headOf(next);
      taken.add(next);
    }
    if (head.seq > 0) out.heads.set(device, head);
  }
  for (const c of known.values()) {
    if (taken.has(c)) {
      out.entries.push({ entry: c.entry, text: c.text, hash: c.hash });
      if (!c.copy) out.fromDatabase++;
      if (!c.database) out.fromCopy++;
    } else {
      const why = `entry ${c.entry.seq} of device ${c.entry.device} does not follow the entries before it`;
      out.unfit.push({ where: c.database ? 'database' : 'copy', text: c.text, why });
    }
  }
  // IDs of a device rise with its numbers, so this order keeps every chain in order.
  out.entries.sort((a, b) => (a.entry.id < b.entry.id ? -1 : a.entry.id > b.entry.id ? 1 : 0));
  if (out.fromCopy > 0) out.better = 'copy';
  else if (out.fromDatabase > 0) out.better = 'database';
  return out;
}

// Checks the chains of a log: each device's entries are numbered without gaps
// and each names the hash of the one before (core/journal/chain.go).
import { parse, noHead, type Entry, type Head } from './entry';
import { LogError, wordsOf } from './errors';
import { hashOf } from './hash';

/** A clock that ran backwards by more than this between two entries shows. */
const setBackMs = 60_000;

export interface Line {
  text: string;
  /** What was kept beside the text; undefined where nothing was. */
  hash?: string;
}

export interface Linked {
  entry: Entry;
  text: string;
  hash: string;
}

export interface Fault {
  /** Which line, from 1. */
  line: number;
  device: string;
  seq: number;
  wrong: string;
}

export interface Checked {
  /** The lines that belong to whole chains, in their order. */
  whole: Linked[];
  heads: Map<string, Head>;
  /** What is wrong; a device's lines after its first fault are not in whole. */
  faults: Fault[];
  setBack: { device: string; seq: number; beforeMs: number; afterMs: number }[];
}

/** linkFault says why an entry cannot stand at the end of a chain, or nothing. */
export function linkFault(head: Head, e: Entry): string | undefined {
  const expected = head.seq + 1;
  if (e.seq > expected) {
    const n = e.seq - expected;
    return `entry ${e.seq} stands in its place: ${n === 1 ? '1 entry is' : `${n} entries are`} missing or out of order`;
  }
  if (e.seq < expected) return `entry ${e.seq} stands in its place: it is doubled or out of order`;
  if (e.previous !== head.hash) return 'the entry before it is not the one that it was written after';
  if (e.id <= head.id) return `its ID ${e.id} does not come after ${head.id}, the ID of the entry before`;
  return undefined;
}

export const headOf = (l: Linked): Head => ({ seq: l.entry.seq, hash: l.hash, id: l.entry.id, wallMs: l.entry.wallMs });

/** readLine parses a line and compares its hash with the one that was kept. Errors: kind 'broken'. */
export async function readLine(line: Line): Promise<Linked> {
  const hash = await hashOf(line.text);
  if (line.hash !== undefined && hash !== line.hash)
    throw new LogError('broken', 'its text was changed (its hash is not the one that was stored)');
  return { entry: parse(line.text), text: line.text, hash };
}

/** checkLog checks lines of any devices, each device's in its order, after the given ends. */
export async function checkLog(
  lines: readonly Line[],
  after: ReadonlyMap<string, Head> = new Map<string, Head>(),
): Promise<Checked> {
  const out: Checked = { whole: [], heads: new Map(after), faults: [], setBack: [] };
  const broken = new Set<string>();
  const read = await Promise.all(lines.map((l) => readLine(l).catch((e: unknown) => wordsOf(e))));
  let last = '';
  for (const [i, l] of read.entries()) {
    if (typeof l === 'string') {
      // Nothing tells for certain whose it was: most likely of the device that wrote the line before.
      const device = deviceIn(lines[i]!.text) ?? last;
      if (!broken.has(device))
        out.faults.push({ line: i + 1, device, seq: (out.heads.get(device)?.seq ?? 0) + 1, wrong: l });
      broken.add(device);
      continue;
    }
    const { device, seq, wallMs } = l.entry;
    last = device;
    if (broken.has(device)) continue;
    const head = out.heads.get(device) ?? noHead;
    const wrong = linkFault(head, l.entry);
    if (wrong) {
      out.faults.push({ line: i + 1, device, seq: head.seq + 1, wrong });
      broken.add(device);
      continue;
    }
    if (wallMs < head.wallMs - setBackMs) out.setBack.push({ device, seq, beforeMs: head.wallMs, afterMs: wallMs });
    out.heads.set(device, headOf(l));
    out.whole.push(l);
  }
  return out;
}

function deviceIn(text: string): string | undefined {
  try {
    const device = (JSON.parse(text) as { device?: unknown } | null)?.device;
    return typeof device === 'string' ? device : undefined;
  } catch {
    return undefined;
  }
}

/** describe says where a chain breaks and how. */
export const describe = (f: Fault): string =>
  `line ${f.line}: the journal of device ${f.device || '(unknown)'} breaks at entry ${f.seq}: ${f.wrong}`;

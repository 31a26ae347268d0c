// An invented log without a browser, for the unit tests.
import type { KeptEntry } from '$lib/offline/database';
import type { BlobNote } from '$lib/offline/database';
import { noHead, seal, type Draft, type Head } from '$lib/offline/entry';
import type { KeptBlob } from '$lib/offline/hash';
import { random } from './offline-random';

const { bytes } = random(5);

export const draft = (i: number, note = ''): Draft => ({
  kind: 'pass',
  subject: `P${i}`,
  act: 'record',
  body: { fields: { turned: 'no', bit: 'no', ...(note ? { note } : {}) } },
});

/** sealed are n invented entries of a device, after an end. */
export async function sealed(device: string, n: number, head: Head = noHead, note = ''): Promise<KeptEntry[]> {
  const out: KeptEntry[] = [];
  for (let i = 0; i < n; i++) {
    const stamp = { wallMs: 1939204800000 + head.seq * 1000, monotonicUS: i, run: 'run', random: bytes(10) };
    const s = await seal(head, device, draft(i, note), stamp);
    head = s.head;
    out.push({ n: i + 1, device, seq: head.seq, id: head.id, text: s.text, hash: s.hash });
  }
  return out;
}

export const headAt = (e: KeptEntry): Head => ({ seq: e.seq, hash: e.hash, id: e.id, wallMs: 0 });

/** FakeLog has of a log what an outbox and a file need. */
export class FakeLog {
  name = 'Kilbrack Bay (invented)';
  device = 'deck-1';
  safe = new Map<string, number>();
  heads = new Map<string, Head>();
  blobs = new Map<string, KeptBlob & { safe: boolean }>();
  all: KeptEntry[] = [];
  #heard = new Set<() => void>();

  add(entries: KeptEntry[], blobs: KeptBlob[] = []): void {
    for (const e of entries) {
      this.all.push({ ...e, n: this.all.length + 1 });
      this.heads.set(e.device, headAt(e));
    }
    for (const b of blobs) this.blobs.set(b.ref, { ...b, safe: false });
    for (const h of this.#heard) h();
  }
  get count(): number {
    return this.all.length;
  }
  entries = (from = 1): Promise<KeptEntry[]> => Promise.resolve(this.all.filter((e) => e.n >= from));
  notes = (): Promise<BlobNote[]> =>
    Promise.resolve(
      [...this.blobs.values()].map((b) => ({ ref: b.ref, kind: b.kind, bytes: b.data.length, safe: b.safe })),
    );
  blob = (ref: string): Promise<KeptBlob | undefined> => Promise.resolve(this.blobs.get(ref));
  markSafe = (
    upTo: ReadonlyMap<string, number>,
    refs: readonly string[],
    lacking: readonly string[] = [],
  ): Promise<void> => {
    for (const [d, seq] of upTo) this.safe.set(d, seq);
    for (const r of refs) this.blobs.get(r)!.safe = true;
    for (const r of lacking) if (this.blobs.has(r)) this.blobs.get(r)!.safe = false;
    for (const h of this.#heard) h();
    return Promise.resolve();
  };
  onChange = (h: () => void): (() => void) => {
    this.#heard.add(h);
    return () => this.#heard.delete(h);
  };
}

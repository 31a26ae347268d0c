import { describe, expect, test } from 'vitest';
import { makeBlob } from '$lib/offline/hash';
import { mostBytes, mostEntries, Outbox, waitAfter, type Answer, type Batch, type Progress } from '$lib/offline/outbox';
import { parse } from '$lib/offline/entry';
import { hashOf } from '$lib/offline/hash';
import { FakeLog, headAt, sealed } from './offline-log';
import { random } from './offline-random';

/** FakeLaptop takes entries in as journal.Chain does: each device's in its order, the same twice is one. */
class FakeLaptop {
  chains = new Map<string, { seq: number; hash: string }[]>();
  blobs = new Set<string>();
  batches: Batch[] = [];
  sent = 0;
  /** What goes wrong with the next batch: before or after it was kept. */
  fails: ('before' | 'half' | 'after' | undefined)[] = [];

  send = async (batch: Batch): Promise<Answer> => {
    const fails = this.fails.shift();
    if (fails === 'before') throw new Error('no network');
    this.batches.push(batch);
    const entries = fails === 'half' ? batch.entries.slice(0, batch.entries.length / 2) : batch.entries;
    for (const text of entries) {
      this.sent++;
      const { device, seq } = parse(text);
      const chain = this.chains.get(device) ?? [];
      this.chains.set(device, chain);
      const hash = await hashOf(text);
      if (seq <= chain.length) expect(chain[seq - 1]!.hash).toBe(hash);
      else {
        expect(seq).toBe(chain.length + 1);
        chain.push({ seq, hash });
      }
    }
    if (fails !== 'half') for (const b of batch.blobs) this.blobs.add(b.ref);
    if (fails) throw new Error('the connection was cut');
    return {
      heads: Object.fromEntries([...this.chains].map(([d, c]) => [d, c.at(-1)!])),
      blobs: batch.blobs.map((b) => b.ref),
    };
  };
}

const quick = { firstMs: 100, mostMs: 1000, chance: () => 0 };
const none = new AbortController().signal;

async function untilDone(o: Outbox): Promise<void> {
  while (await o.step(none));
}

describe('batches', () => {
  test('hold at most 500 entries and 1 MB, in order; what is safe is not sent again', async () => {
    const log = new FakeLog();
    const laptop = new FakeLaptop();
    log.add(await sealed('deck-1', 1201));
    const outbox = new Outbox(log, laptop.send);
    await untilDone(outbox);
    expect(laptop.batches.map((b) => b.entries.length)).toEqual([500, 500, 201]);
    expect(mostEntries).toBe(500);
    log.add(await sealed('deck-1', 2, log.heads.get('deck-1')));
    await untilDone(outbox);
    // Another outbox, after the page was opened again, does not send it again either.
    await untilDone(new Outbox(log, laptop.send));
    expect(laptop.sent).toBe(1203);
    expect(outbox.progress).toMatchObject({ entriesLeft: 0, blobsLeft: 0, sent: 4 });
  });

  test('are cut by bytes; what is larger than a batch goes alone; blobs come after all entries', async () => {
    const log = new FakeLog();
    const laptop = new FakeLaptop();
    const { bytes } = random(4);
    const photos = [
      await makeBlob('photo', bytes(2_500_000), bytes(32)),
      await makeBlob('voice', bytes(400_000), bytes(32)),
    ];
    const names = await Promise.all(Array.from({ length: 3 }, () => makeBlob('person', bytes(20), bytes(32))));
    const long = await sealed('deck-1', 3, undefined, 'x'.repeat(400_000));
    const longest = await sealed('deck-1', 1, headAt(long[2]!), 'é'.repeat(800_000));
    log.add([...long, ...longest, ...(await sealed('deck-1', 1, headAt(longest[0]!)))], [...photos, ...names]);
    await untilDone(new Outbox(log, laptop.send));
    expect(laptop.batches.map((b) => [b.entries.length, b.blobs.length])).toEqual([
      [2, 0],
      [1, 0],
      [1, 0],
      [1, 4],
      [0, 1],
    ]);
    for (const b of laptop.batches) {
      const size = Buffer.byteLength(b.entries.join('')) + b.blobs.reduce((n, x) => n + x.data.length, 0);
      if (b.entries.length + b.blobs.length > 1) expect(size).toBeLessThanOrEqual(mostBytes);
    }
    expect(laptop.blobs.size).toBe(5);
  });
});

describe('a bad connection', () => {
  test('everything arrives once, whatever is cut', async () => {
    const most = await sealed('deck-1', 1100);
    const few = await sealed('deck-2', 30);
    for (let seed = 1; seed <= 4; seed++) {
      const { integer, pick, bytes } = random(seed);
      const log = new FakeLog();
      const laptop = new FakeLaptop();
      laptop.fails = Array.from({ length: 12 }, () => pick(['before', 'half', 'after', undefined] as const));
      const blobs = await Promise.all(Array.from({ length: 4 }, () => makeBlob('photo', bytes(100), bytes(32))));
      log.add(most.slice(0, 600 + integer(500)), blobs);
      log.add(few.slice(0, integer(30) + 1));
      const waits: number[] = [];
      const sleep = (ms: number) => (waits.push(ms), Promise.resolve());
      const seen: Progress[] = [];
      const outbox = new Outbox(log, laptop.send, (p) => seen.push(p), { ...quick, sleep });
      outbox.start();
      while (outbox.progress.state !== 'done') await new Promise((r) => setTimeout(r, 1));
      await outbox.stop();
      for (const [d, head] of log.heads) expect(laptop.chains.get(d)).toHaveLength(head.seq);
      expect(laptop.blobs.size).toBe(4);
      expect(seen.some((p) => p.state === 'waiting' && p.why && p.waitMs! > 0)).toBe(waits.length > 0);
      expect(outbox.progress).toMatchObject({ state: 'stopped', entriesLeft: 0, blobsLeft: 0, failures: 0 });
      expect(outbox.progress.why).toBeUndefined();
    }
  }, 30_000);

  test('it waits twice as long each time, up to a most, and less by chance', () => {
    expect([1, 2, 3, 4, 5, 100].map((n) => waitAfter(n, quick))).toEqual([100, 200, 400, 800, 1000, 1000]);
    expect(waitAfter(4, { ...quick, chance: () => 1 })).toBe(600);
  });

  test('stop ends a try that is under way', async () => {
    const log = new FakeLog();
    log.add(await sealed('deck-1', 1));
    const outbox = new Outbox(
      log,
      (_b, signal) => new Promise((_, failed) => signal.addEventListener('abort', () => failed(new Error('stopped')))),
    );
    outbox.start();
    await new Promise((r) => setTimeout(r, 10));
    expect(outbox.progress.state).toBe('sending');
    await outbox.stop();
    expect(outbox.progress.state).toBe('stopped');
    expect(log.safe.size).toBe(0);
  });

  test('what is written while it rests is sent', async () => {
    const log = new FakeLog();
    const laptop = new FakeLaptop();
    const outbox = new Outbox(log, laptop.send);
    outbox.start();
    while (outbox.progress.state !== 'done') await new Promise((r) => setTimeout(r, 1));
    log.add(await sealed('deck-1', 3));
    while (laptop.sent < 3) await new Promise((r) => setTimeout(r, 1));
    await outbox.stop();
    expect(laptop.chains.get('deck-1')).toHaveLength(3);
  });
});

describe('the laptop', () => {
  test('was set up again from a backup: it gets again what it lacks', async () => {
    const log = new FakeLog();
    const laptop = new FakeLaptop();
    const { bytes } = random(6);
    const photo = await makeBlob('photo', bytes(50), bytes(32));
    log.add(await sealed('deck-1', 20), [photo]);
    const outbox = new Outbox(log, laptop.send);
    await untilDone(outbox);
    laptop.chains.set('deck-1', laptop.chains.get('deck-1')!.slice(0, 8));
    laptop.blobs.clear();
    log.add(await sealed('deck-1', 1, log.heads.get('deck-1')));
    // The real laptop refuses what does not go on from what it has, and tells what it has.
    const send = laptop.send;
    const gap = new Outbox(log, async (batch) => {
      const first = batch.entries[0] && parse(batch.entries[0]);
      const chain = laptop.chains.get('deck-1')!;
      if (first && first.seq > chain.length + 1)
        return { heads: { 'deck-1': chain.at(-1)! }, blobs: [], missing: [photo.ref] };
      return send(batch);
    });
    await untilDone(gap);
    expect(laptop.chains.get('deck-1')).toHaveLength(21);
    expect([...laptop.blobs]).toEqual([photo.ref]);
  });

  test('has other entries under the same numbers: it stops and says so', async () => {
    const log = new FakeLog();
    log.add(await sealed('deck-1', 5));
    const other = await sealed('deck-1', 9, undefined, 'other');
    for (const seq of [3, 5, 9]) {
      const head = { seq, hash: other[seq - 1]!.hash };
      const outbox = new Outbox(log, () => Promise.resolve({ heads: { 'deck-1': head }, blobs: [] }));
      await expect(outbox.step(none)).rejects.toMatchObject({ kind: 'forked' });
      outbox.start();
      while (outbox.progress.state !== 'forked') await new Promise((r) => setTimeout(r, 1));
      expect(outbox.progress.why).toMatch(/deck-1/);
      await outbox.stop();
    }
    expect(log.safe.size).toBe(0);
  });

  test('that keeps nothing does not make it run in circles', async () => {
    const log = new FakeLog();
    log.add(await sealed('deck-1', 5));
    const outbox = new Outbox(log, () => Promise.resolve({ heads: {}, blobs: [] }));
    await expect(outbox.step(none)).rejects.toThrow(/without keeping anything/);
  });
});

// The browser is killed in the middle of 200 appends: every acknowledged entry is
// there afterwards. BRINEFIELD_SOAK=1 kills it 40 times. A kill shows what the
// program does; what the disc does at a loss of power it does not show.
import { afterAll, beforeAll, expect, test } from 'vitest';
import { random } from '../../unit/offline-random';
import { Laptop, Tablet } from './tablet';

const soak = process.env.BRINEFIELD_SOAK === '1';
const kills = soak ? 40 : 2;
const seed = soak ? Date.now() % 1_000_000 : 2031;
const each = 200;

let laptop: Laptop;
let tablet: Tablet | undefined;
beforeAll(async () => {
  laptop = await Laptop.start();
});
afterAll(async () => {
  await tablet?.remove();
  laptop?.stop();
});

test(
  `${kills} kills, seed ${seed}`,
  async () => {
    const { integer } = random(seed);
    let profile: string | undefined;
    let behind = 0;
    for (let k = 0; k <= kills; k++) {
      tablet = await Tablet.start(profile);
      profile = tablet.profile;
      const page = await tablet.page(laptop);
      const found = await page.evaluate(() => window.deck.open('killed'));
      expect(found, `kill ${k}`).toMatchObject({ role: 'writer', device: 'deck-1' });
      expect(found.report).toMatchObject({ fromCopy: 0, newDevice: false, blobsMissing: [] });
      behind += found.report!.fromDatabase;
      const { faults, hashes } = await page.evaluate(() => window.deck.whole());
      expect(faults).toEqual([]);
      for (const [seq, hash] of laptop.acknowledged) expect(hashes[seq - 1], `entry ${seq} after kill ${k}`).toBe(hash);
      if (k === kills) break;
      const at = hashes.length + 1 + integer(each - 1);
      const later = integer(8);
      const reached = new Promise<void>((done) => {
        laptop.onAck = (seq) => {
          if (seq >= at) done();
        };
      });
      void page
        .evaluate(
          async ([each, withPhoto]) => {
            const { deck } = window;
            for (let i = 0; i < each; i++) {
              const blobs = i % 10 === withPhoto ? [await deck.photo(30_000)] : [];
              const [e] = await deck.log.append([{ ...deck.pass(i), blobs }]);
              void fetch('/api/ack', { method: 'POST', body: `${e!.seq} ${e!.hash}`, keepalive: true });
            }
          },
          [each, integer(10)] as const,
        )
        .catch(() => undefined); // it was killed
      await reached;
      await new Promise((r) => setTimeout(r, later));
      await tablet.kill();
    }
    expect(laptop.acknowledged.size).toBeGreaterThan(kills);
    console.log(
      `${kills} kills, seed ${seed}: ${laptop.acknowledged.size} acknowledged entries, all there; the second copy lacked ${behind}`,
    );
  },
  60_000 + kills * 10_000,
);

// A kill seldom falls between the last write of a transaction and its end: that
// append waits for the end, and asks for the disc, is looked at directly.
test('nothing is acknowledged before its transaction is complete, and each is strict', async () => {
  const page = await tablet!.page(laptop);
  const seen = await page.evaluate(async () => {
    const seen = { begun: 0, complete: 0, relaxed: 0, early: 0 };
    const { transaction } = IDBDatabase.prototype;
    IDBDatabase.prototype.transaction = function (...how) {
      const t = transaction.apply(this, how);
      if (t.mode === 'readwrite') {
        seen.begun++;
        if (t.durability !== 'strict') seen.relaxed++;
        t.addEventListener('complete', () => seen.complete++);
      }
      return t;
    };
    await window.deck.open('strict');
    for (let i = 0; i < 20; i++) {
      await window.deck.log.append([{ ...window.deck.pass(i), blobs: [await window.deck.photo(1000)] }]);
      if (seen.complete < seen.begun) seen.early++;
    }
    await window.deck.log.markSafe(new Map([['deck-1', 20]]), []);
    if (seen.complete < seen.begun) seen.early++;
    return seen;
  });
  expect(seen).toMatchObject({ relaxed: 0, early: 0 });
  expect(seen.begun).toBeGreaterThanOrEqual(22);
});

// A tablet's log in a real browser: what was acknowledged is there, whatever happens.
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { Page } from 'playwright-core';
import { Laptop, Tablet } from './tablet';

let laptop: Laptop;
let tablet: Tablet;
let page: Page;
let name: string;
let n = 0;

beforeAll(async () => {
  laptop = await Laptop.start();
  tablet = await Tablet.start();
});
afterAll(async () => {
  await tablet?.remove();
  laptop?.stop();
});
beforeEach(async () => {
  name = `study ${++n}`;
  for (const p of page ? page.context().pages() : []) await p.close();
  page = await tablet.page(laptop);
});

const open = (p = page) => p.evaluate((name) => window.deck.open(name), name);
const write = (from: number, to: number, p = page) =>
  p.evaluate(([from, to]) => window.deck.write(from, to), [from, to] as const);
const whole = (p = page) => p.evaluate(() => window.deck.whole());
const close = (p = page) => p.evaluate(() => window.deck.log.close());
const blobs = () => page.evaluate(() => window.deck.blobs());
const sizes = (refs: string[]) =>
  page.evaluate(async (refs) => Promise.all(refs.map(async (r) => (await window.deck.log.blob(r))?.data.length)), refs);

describe('two copies', () => {
  test('a new log, closed and opened again', async () => {
    expect(await open()).toMatchObject({ role: 'writer', count: 0, report: { better: 'same', newDevice: false } });
    expect(await write(1, 20)).toBe(0);
    const refs = await blobs();
    const before = await whole();
    await page.reload();
    const again = await open();
    expect(again).toMatchObject({
      count: 23,
      device: 'deck-1',
      report: { better: 'same', damaged: 0, blobsMissing: [] },
    });
    expect(typeof again.persistence?.granted).toBe('boolean');
    expect(again.copyState).toEqual({ behind: 0 });
    expect(await whole()).toEqual(before);
    expect(await sizes(refs)).toEqual([100_000, 20, 32]);
  });

  test('the database is gone: all comes back from the copy, and a new device goes on', async () => {
    await open();
    await write(1, 20);
    const refs = await blobs();
    const before = await whole();
    await close();
    await page.evaluate(async (name) => {
      await new Promise((r) => (indexedDB.deleteDatabase(`brinefield-deck-${encodeURIComponent(name)}`).onsuccess = r));
    }, name);
    const again = await open();
    expect(again).toMatchObject({ count: 23, device: 'deck-1-2' });
    expect(again.report).toMatchObject({
      better: 'copy',
      fromCopy: 23,
      newDevice: true,
      blobsFromCopy: 3,
      blobsMissing: [],
    });
    expect((await whole()).hashes).toEqual(before.hashes);
    expect(await sizes(refs)).toEqual([100_000, 20, 32]);
    await write(1, 2);
    expect(await whole()).toMatchObject({ faults: [], seqs: ['deck-1 23', 'deck-1-2 2'] });
    await close();
    expect(await open()).toMatchObject({ count: 25, device: 'deck-1-2', report: { newDevice: false, better: 'same' } });
  });

  test('an entry and a photo of the database were changed: the copy has them', async () => {
    await open();
    await write(1, 10);
    const [photo] = await blobs();
    const before = await whole();
    await close();
    await page.evaluate(
      async ([name, photo]) => {
        const db = await new Promise<IDBDatabase>((done) => {
          const r = indexedDB.open(`brinefield-deck-${encodeURIComponent(name!)}`);
          r.onsuccess = () => done(r.result);
        });
        const tx = db.transaction(['entries', 'data'], 'readwrite');
        tx.objectStore('entries').get(5).onsuccess = (e) => {
          const entry = (e.target as IDBRequest<{ text: string }>).result;
          tx.objectStore('entries').put({ ...entry, text: entry.text.replace('"no"', '"yes"') });
        };
        tx.objectStore('data').get(photo!).onsuccess = (e) => {
          const data = (e.target as IDBRequest<{ data: Uint8Array }>).result;
          data.data[7]! ^= 1;
          tx.objectStore('data').put(data);
        };
        await new Promise((r) => (tx.oncomplete = r));
        db.close();
      },
      [name, photo!],
    );
    expect((await open()).report).toMatchObject({ better: 'copy', fromCopy: 1, damaged: 1, newDevice: true });
    expect(await whole()).toEqual(before);
    expect(await sizes([photo!])).toEqual([100_000]);
  });

  test('the copy was cut off and changed: it is written anew from the database', async () => {
    await open();
    await write(1, 10);
    const before = await whole();
    await close();
    await page.evaluate(async (name) => {
      const root = await navigator.storage.getDirectory();
      const folder = await root.getDirectoryHandle(`brinefield-deck-${encodeURIComponent(name)}`);
      const file = await folder.getFileHandle('log.txt');
      const text = await (await file.getFile()).text();
      const out = await file.createWritable();
      await out.write(text.replace('"no"', '"yes"').slice(0, -300));
      await out.close();
    }, name);
    expect((await open()).report).toMatchObject({ better: 'database', fromCopy: 0, newDevice: false });
    await close();
    await page.evaluate(async (name) => {
      await new Promise((r) => (indexedDB.deleteDatabase(`brinefield-deck-${encodeURIComponent(name)}`).onsuccess = r));
    }, name);
    expect((await open()).report).toMatchObject({ better: 'copy', fromCopy: 10, damaged: 0 });
    expect(await whole()).toEqual(before);
  });

  test('the clock is set back: IDs rise, and the entry says what the clock said', async () => {
    const texts = await page.evaluate(async (name) => {
      const times = [1939204800123, 1939204800123, 1600000000000, 1600000000001];
      const clock = { ...window.deck.clock, wallMs: () => times.shift() ?? 1600000000002 };
      times.unshift(0, 0); // opening asks twice
      await window.deck.open(name, { clock });
      for (let i = 0; i < 4; i++) await window.deck.log.append([window.deck.pass(i)]);
      return (await window.deck.log.entries()).map((e) => e.text);
    }, name);
    const entries = texts.map((t) => JSON.parse(t) as { id: string; wall: string });
    expect(entries.map((e) => e.wall)).toEqual([
      '2031-06-14T12:00:00.123Z',
      '2031-06-14T12:00:00.123Z',
      '2020-09-13T12:26:40.000Z',
      '2020-09-13T12:26:40.001Z',
    ]);
    expect([...entries.map((e) => e.id)].sort()).toEqual(entries.map((e) => e.id));
    expect((await whole()).faults).toEqual([]);
  });
});

describe('a full tablet', () => {
  test('an append fails whole, and nothing acknowledged is lost', async () => {
    // An origin of its own: Chromium asks for the room once and then counts for itself.
    const full = await Laptop.start();
    try {
      page = await tablet.page(full);
      const devtools = await page.context().newCDPSession(page);
      await devtools.send('Storage.overrideQuotaForOrigin', { origin: full.base, quotaSize: 1_500_000 });
      await open();
      await write(1, 5);
      const before = await whole();
      const kinds = await page.evaluate(async () => {
        const kinds: string[] = [];
        for (let i = 10; i < 60 && kinds.at(-1) !== 'full'; i++) {
          const blobs = [await window.deck.photo(100_000)];
          kinds.push(
            await window.deck.kindOf(window.deck.log.append([{ ...window.deck.pass(i), blobs }, window.deck.pass(i)])),
          );
        }
        return kinds;
      });
      expect(kinds.at(-1)).toBe('full');
      expect(kinds.length).toBeGreaterThan(2);
      expect(new Set(kinds.slice(0, -1))).toEqual(new Set(['no error']));
      const kept = 5 + 2 * (kinds.length - 1);
      const after = await whole();
      expect(after).toMatchObject({ faults: [], seqs: [`deck-1 ${kept}`] });
      expect(after.hashes.slice(0, 5)).toEqual(before.hashes);
      expect(await page.evaluate(async () => (await window.deck.log.notes()).length)).toBe(kinds.length - 1);
      // The second copy ran out of room with the database, and says so.
      const copy = await page.evaluate(() => window.deck.log.copied());
      expect(copy.behind).toBeGreaterThan(0);
      expect(copy.why).toMatch(/space|quota/);
      // With room again all goes on, and the copy catches up.
      await devtools.send('Storage.overrideQuotaForOrigin', { origin: full.base });
      await close();
      await page.reload();
      expect((await open()).report).toMatchObject({ fromCopy: 0, newDevice: false, blobsMissing: [] });
      expect(await write(50, 52)).toBe(0);
      expect(await whole()).toMatchObject({ faults: [], seqs: [`deck-1 ${kept + 3}`] });
    } finally {
      full.stop();
    }
  });
});

describe('two tabs', () => {
  test('one writes; the other sees it, takes over, or follows when it is closed', async () => {
    await open();
    await write(1, 3);
    const other = await tablet.page(laptop);
    expect(await open(other)).toMatchObject({ role: 'reader', count: 3 });
    const refused = (p: Page) => p.evaluate(() => window.deck.kindOf(window.deck.log.append([window.deck.pass(99)])));
    expect(await refused(other)).toBe('other tab');
    await write(4, 5);
    await other.waitForFunction(() => window.deck.log.count === 5);
    // The first is in the middle of writing when the second takes over.
    const written = page.evaluate(async () => {
      let kept = 0;
      for (let i = 0; i < 200; i++)
        if ((await window.deck.kindOf(window.deck.log.append([window.deck.pass(i)]))) === 'no error') kept++;
      return kept;
    });
    await other.waitForFunction(() => window.deck.log.count > 20);
    await other.evaluate(() => window.deck.log.takeOver());
    const kept = await written;
    expect(kept).toBeLessThan(200);
    expect(await write(1, 10, other)).toBe(0);
    expect(await whole(other)).toMatchObject({ faults: [], seqs: [`deck-1 ${5 + kept + 10}`] });
    expect(await refused(page)).toBe('other tab');
    await other.close();
    await page.waitForFunction(() => window.deck.log.role === 'writer');
    await write(1, 2);
    expect(await whole()).toMatchObject({ faults: [], seqs: [`deck-1 ${5 + kept + 12}`] });
    expect(await page.evaluate(() => window.deck.log.report)).toMatchObject({ fromCopy: 0, newDevice: false });
  });
});

describe('to the laptop', () => {
  test('5 000 entries of seven days, with two cuts, then only what is new', async () => {
    laptop.cutAt = new Set([3, 6]);
    await open();
    const figures = await page.evaluate(async () => {
      const { deck } = window;
      const began = performance.now();
      for (let i = 0; i < 300; i++) await deck.log.append([deck.pass(i)]);
      const perSecond = 300 / ((performance.now() - began) / 1000);
      for (let i = 300; i < 5000; i += 47)
        await deck.log.append(Array.from({ length: Math.min(47, 5000 - i) }, (_, j) => deck.pass(i + j)));
      await deck.log.copied();
      const bytes = (await deck.log.entries()).reduce((sum, e) => sum + e.text.length + 1, 0);
      return { perSecond: Math.round(perSecond), bytes };
    });
    const refs = await blobs();
    await page.reload();
    const reopened = await page.evaluate(async (name) => {
      const began = performance.now();
      await window.deck.open(name);
      return Math.round(performance.now() - began);
    }, name);
    const sent = () =>
      page.evaluate(async () => {
        const outbox = window.deck.outbox();
        const began = performance.now();
        outbox.start();
        while (outbox.progress.state !== 'done') await new Promise((r) => setTimeout(r, 5));
        const ms = Math.round(performance.now() - began);
        await outbox.stop();
        return { ...outbox.progress, ms };
      });
    const first = await sent();
    console.log(
      `appends ${figures.perSecond}/s, 5 000 entries ${figures.bytes} bytes, opened in ${reopened} ms, sent in ${first.ms} ms`,
    );
    expect(first).toMatchObject({ entriesLeft: 0, blobsLeft: 0 });
    const kept = await whole();
    expect(kept.hashes).toHaveLength(5003);
    expect(new Set(laptop.taken).size).toBe(5003);
    expect([...new Set(laptop.blobs)].sort()).toEqual([...refs].sort());
    // Only the batches whose answer was cut off came twice.
    const twice = laptop.batches[2]! + laptop.batches[5]!;
    expect(laptop.taken).toHaveLength(5003 + twice);
    expect(Math.max(...laptop.batches)).toBeLessThanOrEqual(500);
    const before = laptop.taken.length;
    await write(1, 2);
    await sent();
    expect(laptop.taken.length - before).toBe(2);
    expect(await page.evaluate(() => [...window.deck.log.safe])).toEqual([['deck-1', 5005]]);
  });

  test('saved as a file and taken in by another tablet', async () => {
    await open();
    await write(1, 8);
    const refs = await blobs();
    const before = await whole();
    const result = await page.evaluate(async () => {
      const { deck } = window;
      const file = await deck.saveLog(deck.log, { savedMs: 1939204800000 });
      const read = await deck.readLog(file);
      await deck.log.close();
      await deck.open('another tablet', { device: 'deck-9' });
      await deck.log.append([deck.pass(1)]);
      const first = await deck.log.takeIn(read.lines, read.blobs);
      const again = await deck.log.takeIn(read.lines, read.blobs);
      return { faults: read.faults, first, again, device: deck.log.device };
    });
    expect(result).toEqual({
      faults: [],
      first: { added: 11, there: 0 },
      again: { added: 0, there: 11 },
      device: 'deck-9',
    });
    expect(await whole()).toMatchObject({ faults: [], seqs: ['deck-9 1', 'deck-1 11'] });
    expect((await whole()).hashes.slice(1)).toEqual(before.hashes);
    expect(await sizes(refs)).toEqual([100_000, 20, 32]);
  });
});

// The service worker: the page comes without the laptop, and an update never
// takes over in the middle of an entry.
import { afterAll, beforeAll, expect, test } from 'vitest';
import { Laptop, Tablet } from './tablet';

let laptop: Laptop;
let tablet: Tablet;
beforeAll(async () => {
  laptop = await Laptop.start();
  tablet = await Tablet.start();
});
afterAll(async () => {
  await tablet?.remove();
  laptop?.stop();
});

test('without the laptop, and through an update', async () => {
  const page = await tablet.page(laptop, '/deck');
  const registered = await page.evaluate(async () => {
    await window.deck.register(() => undefined);
    await navigator.serviceWorker.ready;
    const names = await caches.keys();
    const kept = await (await caches.open(names[0]!)).keys();
    return { names, kept: kept.map((r) => new URL(r.url).pathname) };
  });
  expect(registered.names).toEqual([expect.stringMatching(/^brinefield-shell-[0-9a-f]{16}$/)]);
  expect(registered.kept).toContain('/deck');
  expect(registered.kept.filter((p) => p.endsWith('.js')).length).toBeGreaterThanOrEqual(2);
  expect(registered.kept).not.toContain('/service-worker.js');

  await page.evaluate(async () => {
    await window.deck.open('shell');
    for (let i = 0; i < 5; i++) await window.deck.log.append([window.deck.pass(i)]);
    await (await fetch('/api/something')).text();
    await (await fetch('/download/something').catch(() => undefined))?.text();
  });

  laptop.down = true;
  await page.goto(`${laptop.base}/deck/log?trial=T001`);
  await page.waitForFunction(() => 'deck' in window);
  expect(await page.textContent('#app')).toBe('version 1');
  const offline = await page.evaluate(async () => {
    const failed = (path: string) =>
      fetch(path).then(
        () => 'answered',
        () => 'failed',
      );
    await window.deck.open('shell');
    await window.deck.log.append([window.deck.pass(5)]);
    return {
      whole: await window.deck.whole(),
      copy: await window.deck.log.copied(), // its worker is part of the shell
      api: await failed('/api/something'),
      download: await failed('/download/something'),
      other: await failed('/other.html'),
    };
  });
  expect(offline).toMatchObject({
    api: 'failed',
    download: 'failed',
    other: 'failed',
    whole: { faults: [], seqs: ['deck-1 6'] },
  });

  // A new version waits; the page is in the middle of writing when it is asked to take over.
  laptop.down = false;
  await laptop.build('2');
  const taken = await page.evaluate(async () => {
    const waits = new Promise<() => Promise<void>>((done) => {
      void window.deck.register(done).then(async () => (await navigator.serviceWorker.ready).update());
    });
    const takeOver = await waits;
    const events: string[] = [];
    let end = () => {};
    const writing = navigator.locks.request(
      'brinefield-deck-writing',
      { mode: 'shared' },
      () => new Promise<void>((r) => (end = r)),
    );
    const over = takeOver().then(() => events.push('taken over'));
    await new Promise((r) => setTimeout(r, 400));
    events.push('written');
    end();
    await writing;
    await over;
    // An entry that comes meanwhile is kept.
    await window.deck.log.append([window.deck.pass(6)]);
    await window.deck.log.copied();
    return events;
  });
  expect(taken).toEqual(['written', 'taken over']);
  laptop.down = true;
  await page.reload();
  await page.waitForFunction(() => 'deck' in window);
  expect(await page.textContent('#app')).toBe('version 2');
  const after = await page.evaluate(async () => ({
    found: await window.deck.open('shell'),
    whole: await window.deck.whole(),
    caches: await caches.keys(),
  }));
  expect(after.found.report).toMatchObject({ better: 'same', newDevice: false });
  expect(after.whole).toMatchObject({ faults: [], seqs: ['deck-1 7'] });
  expect(after.caches).toHaveLength(1);
  expect(after.caches).not.toEqual(registered.names);
});

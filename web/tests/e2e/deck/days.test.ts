// What a week at sea brings: another window, a full tablet, a token that ran
// out, a new version of the app, a clock that was set.
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { launch } from '../browser';
import { Boat } from './boat';
import { begin, log, pairUp, status } from './hands';

let boat: Boat;
let browser: Browser;
let context: BrowserContext;
let page: Page;

beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser?.close());
beforeEach(async () => {
  boat = await Boat.start();
  context = await browser.newContext({
    viewport: { width: 834, height: 1194 },
    hasTouch: true,
    reducedMotion: 'reduce',
  });
  page = await context.newPage();
});
afterEach(async () => {
  await context.close();
  boat.stop();
});

const online = () => page.evaluate(() => dispatchEvent(new Event('online')));
const passes = () => boat.entries.filter((e) => e.kind === 'pass' && e.act === 'record');
const lastLine = () => page.getByRole('region', { name: 'The last entry' }).locator('strong').first().innerText();

describe('what goes wrong', () => {
  test('another window looks on, takes over, and both agree', async () => {
    await pairUp(page, boat);
    await begin(page);
    await log(page, 'A', 'Turn');
    const other = await context.newPage();
    await other.goto(page.url());
    await other.getByText('Another window of this tablet is logging').waitFor();
    await log(page, 'B', 'Turn');
    // Both change while it is sent: they are compared as they are at one time.
    await expect.poll(async () => (await status(other)) === (await status(page))).toBe(true);
    await other.getByRole('button', { name: 'Log here instead' }).click();
    await page.getByText('Another window of this tablet is logging').waitFor();
    await log(other, 'C', 'Turn');
    await log(other, 'D', 'Turn');
    await expect.poll(() => passes().map((e) => e.body.fields!.pair)).toEqual(['A', 'B', 'C', 'D']);
    expect(passes().map((e) => e.subject)).toEqual(['7c1e-0001', '7c1e-0002', '7c1e-0003', '7c1e-0004']);
    await other.close();
    await page.getByText('Another window of this tablet is logging').waitFor({ state: 'hidden' });
    await log(page, 'A', 'No turn');
    await expect.poll(() => passes().at(-1)?.subject).toBe('7c1e-0005');
  });

  test('a full tablet: what was not saved is said and held, and saved when there is room', async () => {
    // From the start: Chromium asks for the room once, and then counts for itself.
    const devtools = await context.newCDPSession(page);
    await devtools.send('Storage.overrideQuotaForOrigin', { origin: boat.base, quotaSize: 6_000_000 });
    await pairUp(page, boat);
    await begin(page);
    await log(page, 'A', 'Turn');
    boat.down = true;
    const field = page.locator('input[type=file]');
    const full = page.getByText('1 entry is not saved.');
    let photos = 0;
    for (; photos < 12 && !(await full.isVisible()); photos++) {
      const buffer = Buffer.alloc(900_000, photos + 1);
      await field.setInputFiles({ name: 'a.jpg', mimeType: 'image/jpeg', buffer });
      await full.or(page.getByRole('button', { name: `Photo (${photos + 1})` })).waitFor();
    }
    expect(photos).toBeGreaterThan(1);
    await page.getByText('The tablet is full').waitFor();
    const saved = Number.parseInt(await status(page));
    expect(saved).toBe(5 + photos - 1);
    await devtools.send('Storage.overrideQuotaForOrigin', { origin: boat.base });
    boat.down = false;
    await page.getByRole('alert').getByRole('button', { name: 'Try again' }).click();
    await full.waitFor({ state: 'hidden' });
    await online();
    await expect.poll(() => boat.entries.filter((e) => e.kind === 'attachment').length).toBe(photos);
    await expect.poll(() => boat.blobs.size, { timeout: 20_000 }).toBe(photos);
  });

  test('a token that ran out: logging goes on, and after pairing anew as the same device', async () => {
    await pairUp(page, boat);
    await begin(page);
    await log(page, 'A', 'Turn');
    boat.refuses = true;
    await log(page, 'B', 'Turn');
    await page.getByText('The laptop does not let this tablet in any more. Logging goes on').waitFor();
    await log(page, 'C', 'Bite');
    await page.getByRole('link', { name: 'Pair again' }).click();
    await page.getByText('The laptop no longer knows this tablet').waitFor();
    await page.getByRole('textbox', { name: 'Code' }).fill('k7qm 2xhe');
    await page.getByRole('button', { name: 'Pair', exact: true }).click();
    await page.getByText('This code is not the one').waitFor();
    await page.getByRole('textbox', { name: 'Code' }).fill('k7qm-2xhd');
    await page.getByRole('button', { name: 'Pair', exact: true }).click();
    await page.getByRole('heading', { name: 'Pair this tablet' }).waitFor({ state: 'hidden' });
    expect(boat.was).toContain('deck-7c1e');
    await page.getByRole('link', { name: /Bay trials/ }).click();
    await expect
      .poll(() => passes().map((e) => `${e.device} ${e.subject}`))
      .toEqual(['deck-7c1e 7c1e-0001', 'deck-7c1e 7c1e-0002', 'deck-7c1e 7c1e-0003']);
  });

  test('a new version waits for a tap, and takes nothing that was logged', async () => {
    await pairUp(page, boat);
    await begin(page);
    await log(page, 'A', 'Turn');
    boat.update();
    await page.evaluate(async () => void (await (await navigator.serviceWorker.getRegistration('/deck'))!.update()));
    await page.getByText('A new version of this app is here').waitFor();
    await log(page, 'B', 'Turn');
    expect(await page.locator('body').getAttribute('data-version')).toBe(null);
    await page.getByRole('button', { name: 'Take it over' }).click();
    await page.waitForFunction(() => document.body.dataset.version === '2');
    await expect.poll(() => page.locator('button.status').count()).toBe(1);
    boat.down = true;
    await page.reload();
    await log(page, 'C', 'Turn');
    boat.down = false;
    await online();
    await expect.poll(() => passes().map((e) => e.body.fields!.pair)).toEqual(['A', 'B', 'C']);
  });

  test('what another version of the app kept still opens', async () => {
    await pairUp(page, boat);
    await begin(page);
    boat.down = true;
    await page.evaluate(async () => {
      const db = await new Promise<IDBDatabase>((done) => {
        const r = indexedDB.open('brinefield-deck');
        r.onsuccess = () => done(r.result);
      });
      const tx = db.transaction('views', 'readwrite');
      tx.objectStore('views').get('bay').onsuccess = (e) => {
        const v = (e.target as IDBRequest<{ kept: { view: Record<string, unknown>; later: number } }>).result;
        delete v.kept.view.permits;
        delete v.kept.view.people;
        (v.kept.view.spec as Record<string, unknown>).heights = null;
        v.kept.view.of_a_later_version = { a: 1 };
        v.kept.later = 1;
        tx.objectStore('views').put(v, 'bay');
      };
      await new Promise((r) => (tx.oncomplete = r));
      db.close();
    });
    await page.goto('about:blank');
    // A newer app raised the number of the database.
    await page.goto(`${boat.base}/deck/bay`);
    await log(page, 'A', 'Turn');
    await page.goto('about:blank');
    boat.down = false;
    await page.goto(`${boat.base}/favicon.svg`);
    boat.down = true;
    await page.evaluate(async () => {
      await new Promise((done) => {
        const r = indexedDB.open('brinefield-deck', 7);
        r.onsuccess = () => (r.result.close(), done(0));
      });
    });
    await page.goto(`${boat.base}/deck/bay`);
    await log(page, 'B', 'Turn');
    expect(await lastLine()).toBe('B · Turn');
  });
});

describe('clocks', () => {
  test('seven days without the laptop, each a new day that asks who logs', async () => {
    await page.clock.install({ time: new Date('2031-06-14T08:00:00Z') });
    await pairUp(page, boat);
    await begin(page);
    boat.down = true;
    for (let day = 0; day < 7; day++) {
      if (day > 0) {
        await page.clock.setSystemTime(new Date(Date.UTC(2031, 5, 14 + day, 8)));
        await page.goto('about:blank');
        await page.goto(`${boat.base}/deck/bay`);
        await page.getByRole('dialog', { name: 'Who logs today?' }).getByRole('button', { name: 'Tom Ashby' }).click();
        await page.getByRole('button', { name: 'Trial', exact: true }).click();
        await page.getByRole('button', { name: 'Begin without the list' }).click();
        await page.getByRole('button', { name: 'Looked at by the divers' }).click();
        await page
          .getByRole('dialog')
          .getByRole('button', { name: /^Begin / })
          .click();
      }
      for (const pair of ['A', 'B', 'C']) await log(page, pair, 'Turn');
      await page.getByRole('button', { name: 'Trial', exact: true }).click();
      await page.getByRole('button', { name: /^End / }).click();
      await page.getByText('Next: trial').waitFor();
    }
    const before = await status(page);
    boat.down = false;
    await online();
    await page.clock.runFor(61_000);
    const n = before.split(' ')[0]!;
    await expect
      .poll(() => status(page), { timeout: 20_000 })
      .toBe(`${n} saved on this tablet · ${n} safe on the laptop`);
    expect(passes()).toHaveLength(21);
    expect(new Set(passes().map((e) => e.body.fields!.time!.slice(0, 10))).size).toBe(7);
    expect(new Set(passes().map((e) => e.body.fields!.trial)).size).toBe(7);
    expect([...boat.texts.values()].every((times) => times === 1)).toBe(true);
  }, 120_000);

  test('a clock set back by three years: order and numbers hold, and the trial runs on', async () => {
    await page.clock.install({ time: new Date('2031-06-14T08:00:00Z') });
    await pairUp(page, boat);
    await begin(page);
    await log(page, 'A', 'Turn');
    await page.clock.setSystemTime(new Date('2028-06-14T08:00:00Z'));
    await log(page, 'B', 'Turn');
    await page.reload();
    await page.getByRole('button', { name: /^T002 30:00 left/ }).waitFor();
    const dialog = page.getByRole('dialog', { name: 'Who logs today?' });
    expect(await dialog.count(), 'not in the middle of a trial').toBe(0);
    await log(page, 'C', 'Turn');
    await expect.poll(() => passes().length).toBe(3);
    expect(passes().map((e) => e.subject)).toEqual(['7c1e-0001', '7c1e-0002', '7c1e-0003']);
    expect(passes().map((e) => e.wall.slice(0, 4))).toEqual(['2031', '2028', '2028']);
    const ids = boat.entries.map((e) => (e as unknown as { id: string }).id);
    expect([...ids].sort()).toEqual(ids);
  });

  test('the countdown survives a reload, rings at its end, and counts on', async () => {
    await page.clock.install({ time: new Date('2031-06-14T08:00:00Z') });
    await page.addInitScript(() => {
      Object.defineProperty(navigator, 'vibrate', {
        value: () => ((window as { rung?: number }).rung = ((window as { rung?: number }).rung ?? 0) + 1),
      });
    });
    await pairUp(page, boat);
    await begin(page);
    await page.clock.runFor(29 * 60_000);
    await page.reload();
    await page.getByRole('button', { name: /^T002 1:00 left|^T002 0:5\d left/ }).waitFor();
    await page.clock.runFor(90_000);
    await page.getByRole('button', { name: /^T002 over by 0:[23]\d/ }).waitFor();
    expect(await page.evaluate(() => (window as { rung?: number }).rung)).toBe(1);
  });
});

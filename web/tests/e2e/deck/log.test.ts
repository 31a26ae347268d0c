// The tablet's pages in a real browser, with a laptop that can be cut off.
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { launch } from '../browser';
import { Boat } from './boat';
import { begin, pairUp, status } from './hands';

let boat: Boat;
let browser: Browser;
let context: BrowserContext;
let page: Page;

beforeAll(async () => {
  browser = await launch();
});
afterAll(async () => {
  await browser?.close();
});
beforeEach(async () => {
  boat?.stop();
  await context?.close();
  boat = await Boat.start();
  context = await browser.newContext({
    viewport: { width: 834, height: 1194 },
    hasTouch: true,
    reducedMotion: 'reduce',
  });
  page = await context.newPage();
});
afterAll(() => boat?.stop());

describe('without the laptop', () => {
  test('thirty entries from a cold start, all safe once', async () => {
    await pairUp(page, boat);
    await begin(page);
    boat.down = true;
    await page.goto('about:blank');
    await page.goto(`${boat.base}/deck/bay`);
    for (let i = 0; i < 30; i++) {
      await page.getByRole('button', { name: 'ABCD'[i % 4], exact: true }).click();
      await page.getByRole('button', { name: i % 3 ? 'Turn' : 'No turn', exact: true }).click();
      await expect.poll(() => status(page)).toMatch(new RegExp(`^${5 + i} saved`));
    }
    await page.reload();
    await expect.poll(() => status(page)).toMatch(/^34 saved on this tablet · 4 safe/);
    await page.locator('button.status').click();
    const facts = page.getByRole('dialog');
    await facts.getByText('complete', { exact: true }).waitFor(); // the second copy: its worker is part of the shell
    await facts.getByRole('button', { name: 'Close' }).click();
    boat.down = false;
    await page.evaluate(() => dispatchEvent(new Event('online')));
    await expect.poll(() => status(page)).toMatch(/^34 saved on this tablet · 34 safe/);
    expect(boat.entries.filter((e) => e.kind === 'pass')).toHaveLength(30);
    expect(new Set(boat.entries.map((e) => `${e.device} ${e.seq}`)).size).toBe(34);
  });
});

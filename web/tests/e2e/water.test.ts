import { readFileSync } from 'node:fs';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import { legible } from './audit';
import { openBay, type Bay } from './bay';
import { laptop, launch, tablet, visit } from './browser';

let browser: Browser;
let bay: Bay;
beforeAll(async () => {
  browser = await launch();
  bay = await openBay(inject('binary'));
});
afterAll(async () => {
  bay.close();
  await browser.close();
});

test('casts and conductivity are drawn, told in words, and saved as a table', () =>
  visit(browser, bay.served, `/${bay.study}/water`, async (page) => {
    const casts = page.getByRole('img', { name: /^Casts/ });
    await casts.waitFor();
    expect(await casts.locator('desc').textContent()).toContain('Cast of 2025-07-21 08:20, 7 readings');
    const trials = page.getByRole('img', { name: 'Conductivity of the water in each trial' });
    expect(await trials.locator('desc').textContent()).toContain('2 trials: measured in the trial');
    const water = await bay.water();
    const rows = page.getByRole('region', { name: 'Conductivity of each trial' }).locator('tbody tr');
    expect(await rows.count()).toBe(water.trials.length);
    expect(await rows.nth(2).innerText()).toMatch(/T003\s+2025-05-13 09:00\s+4\.02\s+measured in the trial/);
    expect(await rows.nth(4).innerText()).toContain('temperature and salinity of the trial');
    expect(await rows.nth(0).innerText()).toContain('the cast of 2025-05-12 08:10');
    const [file] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('button', { name: 'Save conductivity by trial as CSV' }).click(),
    ]);
    const lines = readFileSync(await file.path(), 'utf8')
      .trim()
      .split('\r\n');
    expect(lines[0]).toBe('trial,start,conductivity_S_per_m,from,cast_time,depth_m');
    expect(lines).toHaveLength(water.trials.length + 1);
    expect(lines[1]).toContain(String(water.trials[0]!.conductivity_S_per_m));
  }));

test('a cast can be left out by keyboard', () =>
  visit(browser, bay.served, `/${bay.study}/water`, async (page) => {
    await page.getByRole('checkbox', { name: '2025-05-12 08:10' }).focus();
    await page.keyboard.press('Space');
    const said = () =>
      page
        .getByRole('img', { name: /^Casts/ })
        .locator('desc')
        .textContent();
    await expect.poll(said).not.toContain('2025-05-12');
    await page.getByRole('checkbox', { name: '2025-06-16 08:05' }).uncheck();
    await page.getByRole('checkbox', { name: '2025-07-21 08:20' }).uncheck();
    await page.getByText('No cast is chosen.').waitFor();
  }));

test.each([
  ['light', laptop],
  ['dark', tablet],
  ['sunlight', tablet],
  ['night', laptop],
] as const)('Water is legible in %s', (theme, viewport) =>
  visit(
    browser,
    bay.served,
    `/${bay.study}/water`,
    async (page) => {
      await page.getByRole('combobox', { name: 'Theme' }).selectOption(theme);
      await page.getByRole('img', { name: /^Casts/ }).waitFor();
      await page.evaluate(() => document.querySelectorAll('main details').forEach((d) => d.setAttribute('open', '')));
      await legible(page, `Water in ${theme}`);
    },
    { viewport, touch: viewport === tablet },
  ),
);

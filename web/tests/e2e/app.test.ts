import { rmSync, mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, inject, test } from 'vitest';
import { laptop, launch, tablet, visit } from './browser';
import { audit } from './audit';
import { seasonPath, start } from './serve';

const season = inject('season');
const faulty = inject('faulty');
let browser: Browser;
beforeAll(async () => void (browser = await launch()));
afterAll(() => browser.close());

test('the printed link opens the app, once', async () => {
  const home = mkdtempSync(join(tmpdir(), 'brinefield-link-'));
  const { link, child } = await start(inject('binary'), inject('seasonFolder'), home);
  try {
    const base = new URL(link).origin;
    const { pathname, search } = new URL(link);
    await visit(browser, { base, cookie: '' }, pathname + search, async (page) => {
      await page.waitForURL(`${base}${seasonPath}/findings`);
      await page.getByRole('article', { name: 'Raja clavata' }).waitFor();
    });
    expect((await fetch(link)).status).toBe(401);
  } finally {
    child.kill('SIGINT');
    rmSync(home, { recursive: true, force: true });
  }
});

test('while the analysis runs, its stage and share are shown; then the page appears', () =>
  visit(browser, season, '/nothing', async (page) => {
    let asked = 0;
    await page.route('**/api/studies/season-a/results', async (route) => {
      asked++;
      if (asked >= 3) return route.continue();
      const results = (await (await route.fetch()).json()) as object;
      const progress = { state: 'running', stage: 'Exposures', done: 323, total: 646 };
      await route.fulfill({ json: { ...results, state: 'running', shown: '', progress } });
    });
    await page.goto(`${season.base}${seasonPath}/findings`);
    await page.getByRole('heading', { name: 'Working out what the animals met' }).waitFor();
    expect(await page.getByText('323 of 646 (50').isVisible()).toBe(true);
    expect(await page.getByRole('article').count()).toBe(0);
    await page.getByRole('article', { name: 'Raja clavata' }).waitFor();
  }));

test('an analysis that stops says why', () =>
  visit(browser, season, '/nothing', async (page) => {
    await page.route('**/api/studies/season-a/results', async (route) => {
      const results = (await (await route.fetch()).json()) as object;
      await route.fulfill({ json: { ...results, state: 'failed', shown: '', error: 'the disc is full' } });
    });
    await page.goto(`${season.base}${seasonPath}/findings`);
    await page.getByText('the disc is full').waitFor();
  }));

test('a program that is gone is said to be gone', () =>
  visit(
    browser,
    season,
    `${seasonPath}/findings`,
    async (page) => {
      await page.getByRole('article', { name: 'Raja clavata' }).waitFor();
      await page.route('**/api/home', (route) => route.abort());
      await page.reload();
      await page.getByRole('heading', { name: 'The program does not answer' }).waitFor();
      await page.unroute('**/api/home');
      await page.getByRole('button', { name: 'Try again' }).click();
      await page.getByRole('article', { name: 'Raja clavata' }).waitFor();
    },
    { expected: /ERR_FAILED/ },
  ));

test('the theme is kept', () =>
  visit(browser, season, `${seasonPath}/findings`, async (page) => {
    const paper = () => page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor);
    const light = await paper();
    await page.getByRole('combobox', { name: 'Theme' }).selectOption('night');
    await expect.poll(paper).toBe('rgb(0, 0, 0)');
    await page.reload();
    await expect.poll(paper).toBe('rgb(0, 0, 0)');
    await page.goto(`${season.base}${seasonPath}/exposures`);
    await page.getByRole('combobox', { name: 'Theme' }).waitFor();
    expect(await page.getByRole('combobox', { name: 'Theme' }).inputValue()).toBe('night');
    await page.getByRole('combobox', { name: 'Theme' }).selectOption('system');
    await expect.poll(paper).toBe(light);
    await page.emulateMedia({ colorScheme: 'dark' });
    await expect.poll(paper).not.toBe(light);
  }));

test('a faulty season shows its faults beside the rows, and no results', () =>
  visit(browser, faulty, '/', async (page) => {
    await page.getByRole('heading', { level: 1, name: 'This season cannot be read as it stands' }).waitFor();
    const text = await page.locator('main').innerText();
    expect(text).toContain('passes.csv, row 2, trial');
    expect(text).toContain('passes.csv, row 5, turned');
    expect(text).toMatch(/study\.toml, line \d+/);
    const marked = await page.locator('td.fault').allInnerTexts();
    expect(marked.some((t) => t.startsWith('T0O1'))).toBe(true);
    expect(marked.some((t) => t.startsWith('maybe'))).toBe(true);
    expect(marked.some((t) => t.includes('depth_m = -0.9'))).toBe(true);
    const sections = page.getByRole('navigation', { name: 'Sections' });
    expect(await sections.getByRole('link').allInnerTexts()).toEqual(['Home']);
  }));

test('a path without a page says so', () =>
  visit(browser, season, '/nothing', async (page) => {
    await page.getByRole('heading', { name: 'There is no such page' }).waitFor();
    await page.getByRole('link', { name: 'Go to Home' }).click();
    await page.getByRole('link', { name: 'Tank trials, first summer (invented)' }).click();
    await page.getByRole('article', { name: 'Raja clavata' }).waitFor();
  }));

test('a study that is not there is named', () =>
  visit(browser, season, '/bay%209/findings', async (page) => {
    await page.getByRole('heading', { name: 'There is no such study' }).waitFor();
    expect(await page.locator('main').innerText()).toContain('bay 9');
  }));

test('a season folder is shown, not kept: one card, read only, no tables to correct', () =>
  visit(browser, season, `${seasonPath}/findings`, async (page) => {
    const sections = page.getByRole('navigation', { name: 'Sections' });
    await sections.getByRole('link', { name: 'Findings' }).waitFor();
    expect(await sections.getByRole('link').allInnerTexts()).toEqual([
      'Home',
      'Water',
      'Stimulus',
      'Rig',
      'Background',
      'Schedule',
      'Exposures',
      'Findings',
      'Dossier',
    ]);
    await page.getByText('Read only').click();
    await page.getByText('This is a season folder, shown as it is.').waitFor();
    await page.keyboard.press('Escape');
    await sections.getByRole('link', { name: 'Home' }).click();
    expect(await page.getByRole('article').count()).toBe(1);
    expect(await page.getByRole('button', { name: 'New study' }).count()).toBe(0);
    expect(await page.getByRole('button', { name: /Import/ }).count()).toBe(0);
  }));

describe('no serious fault of accessibility', () => {
  const pages = [
    { path: `${seasonPath}/findings`, ready: (p: Page) => p.getByRole('article', { name: 'Raja clavata' }) },
    { path: `${seasonPath}/exposures?pass=P00003`, ready: (p: Page) => p.getByRole('img', { name: /Field along/ }) },
  ];
  for (const theme of ['light', 'dark', 'sunlight', 'night']) {
    for (const [size, viewport] of Object.entries({ laptop, tablet })) {
      for (const { path, ready } of pages) {
        test(`${path} in ${theme} on a ${size}`, () =>
          visit(
            browser,
            season,
            path,
            async (page) => {
              await page.getByRole('combobox', { name: 'Theme' }).selectOption(theme);
              await ready(page).waitFor();
              await page.evaluate(() => document.querySelectorAll('details').forEach((d) => (d.open = true)));
              expect(await audit(page)).toEqual([]);
              const sideways = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
              expect(sideways, 'the page scrolls sideways').toBeLessThanOrEqual(0);
            },
            { viewport, touch: size === 'tablet' },
          ));
      }
    }
  }

  test('the page of faults', () =>
    visit(browser, faulty, '/', async (page) => {
      await page.getByRole('heading', { level: 1 }).waitFor();
      expect(await audit(page)).toEqual([]);
    }));
});

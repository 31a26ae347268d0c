import { readFileSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import { launch, visit } from './browser';
import { seasonPath } from './serve';

const season = inject('season');
let browser: Browser;
beforeAll(async () => void (browser = await launch()));
afterAll(() => browser.close());

test('the headline stands for both species, with its interval and its animals', () =>
  visit(browser, season, '/', async (page) => {
    await page.waitForURL(/\/findings$/);
    const raja = page.getByRole('article', { name: 'Raja clavata' });
    const scyliorhinus = page.getByRole('article', { name: 'Scyliorhinus canicula' });
    // The published check of season A: medians 16.16 and 32.39 nV/cm.
    await expect
      .poll(() => raja.innerText())
      .toMatch(/half of Raja clavata passes would turn by 16\snV\/cm \(95\s%\sinterval\s12–22\)/);
    expect(await raja.innerText()).toContain('15 animals, 242 passes');
    expect(await scyliorhinus.innerText()).toMatch(/would turn by 32\snV\/cm \(95\s%\sinterval\s27–39\)/);
    expect(await scyliorhinus.innerText()).toMatch(/22 animals, 332 passes, \d+ of them unidentified/);
    expect(await page.title()).toContain('Findings');
  }));

test('every estimate says how it was computed, down to the fingerprint of its data', () =>
  visit(browser, season, `${seasonPath}/findings`, async (page) => {
    const how = page.getByRole('article', { name: 'Raja clavata' }).locator('details.how');
    await how.locator('summary').click();
    const text = await how.innerText();
    expect(text).toContain('lognormal');
    expect(text).toContain('Survey Methodology 28, 169');
    const hash = /passes\.csv: ([0-9a-f]{64})/.exec(text)?.[1];
    const { createHash } = await import('node:crypto');
    const file = readFileSync(`${inject('seasonFolder')}/passes.csv`);
    expect(hash).toBe(createHash('sha256').update(file).digest('hex'));
  }));

test('simpler methods, preference, animals and reaction times are there', () =>
  visit(browser, season, `${seasonPath}/findings`, async (page) => {
    for (const heading of [
      'What simpler methods would have said',
      'Did they prefer the active pair?',
      'The numbers that are usually published',
      'Animal by animal',
      'If the reaction time were another',
    ]) {
      await page.getByRole('heading', { name: heading }).waitFor();
    }
    expect(await page.locator('#simpler').innerText()).toContain('25.0');
    expect(await page.locator('#preference').innerText()).toContain('64 of 92 passes');
    expect(await page.locator('figure svg[role=img]').count()).toBeGreaterThanOrEqual(6);
  }));

async function download(page: Page, button: string): Promise<{ name: string; bytes: Buffer }> {
  const [file] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('button', { name: button, exact: true }).click(),
  ]);
  return { name: file.suggestedFilename(), bytes: readFileSync(await file.path()) };
}

test('figures are saved as SVG, PNG and CSV', () =>
  visit(browser, season, `${seasonPath}/findings`, async (page) => {
    const svg = await download(page, 'Save thresholds of Raja clavata as SVG');
    expect(svg.name).toBe('thresholds-of-raja-clavata.svg');
    expect(svg.bytes.toString()).toMatch(/^<svg [\s\S]*<path [\s\S]*<\/svg>\n$/);
    expect(svg.bytes.toString()).not.toContain('var(');
    const png = await download(page, 'Save medians by method as PNG');
    expect(png.bytes.subarray(1, 4).toString()).toBe('PNG');
    expect(png.bytes.length).toBeGreaterThan(20_000);
    const csv = await download(page, 'Save individuals as CSV');
    const lines = csv.bytes.toString().trim().split('\r\n');
    expect(lines[0]).toContain('lowest_turn_nV_per_cm');
    expect(lines.length).toBe(38);
  }));

test('paper gets the light colours and no controls', () =>
  visit(browser, season, `${seasonPath}/findings`, async (page) => {
    await page.getByRole('combobox', { name: 'Theme' }).selectOption('night');
    await page.getByRole('article', { name: 'Raja clavata' }).waitFor();
    await page.emulateMedia({ media: 'print' });
    const paper = await page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor);
    expect(paper).toBe('rgb(250, 248, 243)');
    expect(await page.getByRole('button', { name: 'Print' }).isVisible()).toBe(false);
  }));

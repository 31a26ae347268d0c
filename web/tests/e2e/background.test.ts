import { readFileSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import type { BackgroundDocument, BackgroundStart } from '../../src/lib/api/background';
import { legible } from './audit';
import { openBay, refusals, type Bay } from './bay';
import { laptop, launch, tablet, visit } from './browser';
import { seasonPath } from './serve';

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

const at = () => `/${bay.study}/background`;
const open = async (page: Page, group: string) => page.locator('summary', { hasText: group }).click();
const add = (page: Page, kind: string) => page.getByRole('button', { name: `Add: ${kind}` }).click();
const plan = (page: Page) => page.getByRole('img', { name: /^Plan of the pairs/ }).locator('desc');
const start = () => bay.ask<BackgroundStart>(`studies/${bay.study}/background`);

/** prepare puts gear about the pairs, and a tide. */
async function prepare(page: Page): Promise<void> {
  await page.getByRole('heading', { level: 1, name: 'Background' }).waitFor();
  for (const kind of ['Boat with anodes', 'Diver', 'Camera housing']) await add(page, kind);
  await open(page, 'Site and date');
  await page.getByLabel('Day', { exact: true }).fill('2026-06-01');
  await page.getByLabel('Latitude, north').fill('51.76');
  await page.getByLabel('Longitude, east').fill('-9.93');
  await page.getByLabel('Bearing of +x').fill('62');
  await open(page, 'Stream of the day');
  await page.getByLabel('The stream is told as').selectOption('tide');
  await open(page, 'The animal’s own swimming');
  await page.getByLabel('Speed through the water').fill('0.6');
  await open(page, 'Is the silent plate silent?');
  await page.getByLabel('Ask whether the cable leaks').check();
  await page.getByRole('heading', { name: 'Sources at the pairs' }).waitFor();
  await page.getByRole('img', { name: /^Field of moving water/ }).waitFor();
}

test('what lies about is added, drawn and told, as the program counts it', () =>
  visit(browser, bay.served, at(), async (page) => {
    await prepare(page);
    await expect.poll(() => plan(page).textContent()).toMatch(/2 Diver: (too near|far enough): at/);
    const spec = (await start()).spec;
    const document = await bay.ask<BackgroundDocument>('background', {
      ...spec,
      date: '2026-06-01',
      sources: [{ label: 'Diver', kind: 'diver', at_m: [100, 100, 1] }],
    });
    const keep = document.sources[0]!.standoff_m!;
    const told = Number(/2 Diver: .*?keep ([\d.]+) m/.exec((await plan(page).textContent()) ?? '')?.[1]);
    expect(told).toBeGreaterThanOrEqual(keep);
    expect(told).toBeLessThan(keep + 1);
    const rows = page.getByRole('table').filter({ hasText: 'Keep away, m' }).locator('tbody');
    expect(await rows.count()).toBe(3);
    const motional = page.getByRole('img', { name: /^Field of moving water/ });
    expect(await motional.locator('desc').textContent()).toMatch(/Largest [\d.]+ nV\/cm at \d\d:\d\d/);
    await page.getByText('Upper bound. Nearly uniform').first().waitFor();
    await page.getByText(/An animal that swims 0\.6 m\/s makes/).waitFor();
    await page.getByText('F, total').waitFor();
    await page.getByText(/^(Silent enough|Not silent)$/).waitFor();
    const [file] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('button', { name: 'Save sources at the pairs as CSV' }).click(),
    ]);
    const lines = readFileSync(await file.path(), 'utf8')
      .trim()
      .split('\r\n');
    expect(lines[0]).toMatch(/^source,kind,x_m,y_m,z_m,moment_A_m,pair,distance_m,field_nV_per_cm/);
    expect(lines).toHaveLength(1 + 3 * spec.pairs!.length);
  }));

test('a source is moved by mouse and by keys', () =>
  visit(browser, bay.served, at(), async (page) => {
    await page.getByRole('heading', { level: 1, name: 'Background' }).waitFor();
    await add(page, 'Diver');
    const x = page.getByLabel('x', { exact: true });
    const before = Number(await x.inputValue());
    const place = page.getByRole('application', { name: /^Diver: x/ });
    await place.focus();
    await page.keyboard.press('ArrowRight');
    expect(Number(await x.inputValue())).toBeCloseTo(before + 0.25, 6);
    await page.keyboard.press('Shift+ArrowLeft');
    expect(Number(await x.inputValue())).toBeCloseTo(before + 0.25 - 2.5, 6);
    await page.getByLabel('Scale').selectOption('fitted');
    await place.scrollIntoViewIfNeeded();
    const box = (await place.boundingBox())!;
    await page.mouse.move(box.x + 22, box.y + 22);
    await page.mouse.down();
    await page.mouse.move(box.x + 62, box.y + 22, { steps: 4 });
    await page.mouse.up();
    expect(Number(await x.inputValue())).toBeGreaterThan(before - 2.25);
  }));

test('the meter is asked about, and what the wrong answer costs is told', () =>
  visit(browser, bay.served, at(), async (page) => {
    await page.getByLabel(/^Ask: is the meter/).check();
    await page.getByLabel('Reading', { exact: true }).fill('4.3');
    await page.getByLabel('Water temperature').fill('10');
    const found = page.getByRole('group', { name: 'What the meter’s reading means' });
    await found.getByText('Find out whether the meter compensates').waitFor();
    await page.getByLabel('The meter shows').selectOption('yes');
    const take = found.getByRole('button', { name: /^Take / });
    const v = Number(/Take ([\d.]+) S/.exec((await take.textContent()) ?? '')?.[1]);
    // 1.91 % per °C of 25 °C: 4.3 · (1 − 0.0191 · 15)
    expect(v).toBeCloseTo(4.3 * (1 - 0.0191 * 15), 2);
    await take.click();
    expect(Number(await page.getByLabel('Conductivity', { exact: true }).inputValue())).toBeCloseTo(v, 2);
  }));

test('a day beyond the model is refused at its own field, and the pictures stay', () =>
  visit(
    browser,
    bay.served,
    at(),
    async (page) => {
      await add(page, 'Diver');
      await expect.poll(() => plan(page).textContent()).toMatch(/keep/);
      await open(page, 'Site and date');
      const day = page.getByLabel('Day', { exact: true });
      await day.fill('2031-01-01');
      await page.locator('.row', { has: day }).getByRole('alert').waitFor();
      expect(await day.getAttribute('aria-invalid')).toBe('true');
      expect(await plan(page).textContent()).toMatch(/keep/);
      await day.fill('2026-06-01');
      await expect.poll(() => day.getAttribute('aria-invalid')).toBeNull();
    },
    { expected: refusals },
  ));

test('it is kept in the study; who comes second is told', () =>
  visit(
    browser,
    bay.served,
    at(),
    async (page) => {
      await add(page, 'Anchor chain');
      await page.getByText('Not saved yet.').waitFor();
      await page.getByRole('button', { name: 'Save in the study' }).click();
      await page.getByText('Saved in the study.', { exact: true }).waitFor();
      const saved = await start();
      expect(saved.saved).toBe(true);
      expect(saved.spec.sources![0]).toMatchObject({ label: 'Anchor chain', kind: 'chain' });
      await page.reload();
      await page.getByText('The study keeps this background.').waitFor();
      const theirs = JSON.stringify({ ...saved.spec, sources: [] });
      await bay.edit('background', '', 'spec', saved.spec_text, theirs);
      await add(page, 'Diver');
      await page.getByRole('button', { name: 'Save in the study' }).click();
      await page.getByText('Somebody else saved').waitFor();
      await page.getByRole('button', { name: 'Write mine over it' }).click();
      await page.getByText('Saved in the study.', { exact: true }).waitFor();
      expect((await start()).spec.sources!.map((s) => s.kind)).toEqual(['chain', 'diver']);
    },
    { expected: refusals },
  ));

test('a season folder is shown, and nothing of it is kept', () =>
  visit(browser, inject('season'), `${seasonPath}/background`, async (page) => {
    await page.getByText('This study is shown read-only').waitFor();
    expect(await page.getByRole('button', { name: 'Save in the study' }).count()).toBe(0);
    await add(page, 'Diver');
    await expect.poll(() => plan(page).textContent()).toMatch(/1 Diver: .*keep/);
    const [file] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('button', { name: 'Save as a file' }).click(),
    ]);
    const spec = JSON.parse(readFileSync(await file.path(), 'utf8')) as { sources: { kind: string }[] };
    expect(spec.sources.map((x) => x.kind)).toEqual(['diver']);
  }));

test('the card is printed alone, on a page and the table of the day', () =>
  visit(browser, bay.served, at(), async (page) => {
    await prepare(page);
    await page.getByRole('button', { name: 'Make the card' }).click();
    const sheet = page.getByRole('article', { name: 'Keep away from the plate' });
    await sheet.waitFor();
    expect(await sheet.innerText()).toMatch(/Boat with anodes[\s\S]*\d+ m[\s\S]*Diver/);
    expect(await sheet.innerText()).toContain('Local rules decide');
    await page.emulateMedia({ media: 'print' });
    expect(await page.getByRole('heading', { level: 1 }).isVisible()).toBe(false);
    const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
    expect(pdf.match(/\/Type \/Page\b/g)).toHaveLength(2);
  }));

test.each([
  ['light', laptop],
  ['dark', tablet],
  ['sunlight', tablet],
  ['night', laptop],
] as const)('Background is legible in %s', (theme, viewport) =>
  visit(
    browser,
    bay.served,
    at(),
    async (page) => {
      await page.getByRole('combobox', { name: 'Theme' }).selectOption(theme);
      await prepare(page);
      await page.getByRole('button', { name: 'Make the card' }).click();
      await page.evaluate(() => document.querySelectorAll('main details').forEach((d) => d.setAttribute('open', '')));
      await legible(page, `Background in ${theme}`);
    },
    { viewport, touch: viewport === tablet },
  ),
);

test('a telephone shows all of it without scrolling sideways', () =>
  visit(
    browser,
    bay.served,
    at(),
    async (page) => {
      await prepare(page);
      await legible(page, 'Background on a telephone');
    },
    { viewport: { width: 390, height: 844 }, touch: true },
  ));

import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import { legible } from './audit';
import { openBay, refusals, type Bay } from './bay';
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

const field = (page: Page, name: string) => page.getByRole('textbox', { name, exact: true });
const held = () =>
  bay.ask<{ title: string; site: Record<string, string>; protocol: Record<string, string>; permits: object[] }>(
    `studies/${bay.study}/question`,
  );

test('a field is saved when it is left, and its history is one click away', () =>
  visit(browser, bay.served, `/${bay.study}/question`, async (page) => {
    await field(page, 'Title').fill('Inner bay, second look (invented)');
    await field(page, 'People').click();
    await page.getByText(/Saved$/).waitFor(); // the page's lead holds the word "saved" too
    expect((await held()).title).toBe('Inner bay, second look (invented)');
    await field(page, 'People').fill('N. Example, P. Sample');
    await field(page, 'Contact').click();
    await expect.poll(async () => (await held()).protocol.people).toBe('N. Example, P. Sample');
    await page.getByRole('button', { name: 'History of Title' }).click();
    const panel = page.getByRole('complementary');
    await panel.getByRole('heading', { name: 'Study, Title' }).waitFor();
    await legible(page, 'Question with a history');
    await panel.getByRole('button', { name: /^Undo: Corrected/ }).click();
    await expect.poll(() => field(page, 'Title').inputValue()).toBe('Inner bay, spring and summer (invented)');
    await page.keyboard.press('Escape');
    await expect
      .poll(() => page.evaluate(() => document.activeElement?.getAttribute('aria-label')))
      .toBe('History of Title');
  }));

test('a value that cannot stand is said at its field and not saved', () =>
  visit(
    browser,
    bay.served,
    `/${bay.study}/question`,
    async (page) => {
      await field(page, 'Depth, m').fill('-3');
      await field(page, 'Latitude, °').click();
      await page.getByText('expected more than 0').waitFor();
      expect(await field(page, 'Depth, m').inputValue()).toBe('-3');
      expect(await field(page, 'Depth, m').getAttribute('aria-invalid')).toBe('true');
      expect((await held()).site.depth_m).toBe('6.5');
      await legible(page, 'a refused field');
      await field(page, 'Depth, m').fill('6.8');
      await page.keyboard.press('Tab');
      await expect.poll(async () => (await held()).site.depth_m).toBe('6.8');
    },
    { expected: refusals },
  ));

test('a field that somebody else changed meanwhile shows both', () =>
  visit(
    browser,
    bay.served,
    `/${bay.study}/question`,
    async (page) => {
      await field(page, 'Longitude, °').fill('-9.7');
      await bay.edit('site', '', 'longitude', '-9.6', '-9.8');
      await page.keyboard.press('Tab');
      await page.getByText('it was changed meanwhile to -9.8').waitFor();
      await page.getByRole('button', { name: 'Take what is there now' }).click();
      expect(await field(page, 'Longitude, °').inputValue()).toBe('-9.8');
    },
    { expected: refusals },
  ));

test('a caution is ticked: by whom and when; and unticked again', () =>
  visit(browser, bay.served, `/${bay.study}/question`, async (page) => {
    await page.evaluate(() => localStorage.setItem('brinefield.writer', 'N. Example'));
    await page.reload();
    const box = page.getByRole('checkbox').first();
    await box.check();
    await page.getByText(/^Ticked by N\. Example on \d{4}-\d\d-\d\d/).waitFor();
    await page.reload();
    expect(await page.getByRole('checkbox').first().isChecked()).toBe(true);
    await page.getByRole('checkbox').first().uncheck();
    await expect.poll(() => page.getByText(/^Ticked by/).count()).toBe(0);
    expect(await page.getByText('Local rules decide.').count()).toBeGreaterThan(3);
    expect(await page.getByText(/^Rests on: /).count()).toBeGreaterThan(10);
  }));

test('a permit is added, changed and withdrawn', () =>
  visit(
    browser,
    bay.served,
    `/${bay.study}/question`,
    async (page) => {
      await page.getByText('No permit is recorded.').waitFor();
      await page.getByRole('button', { name: 'Add a permit' }).click();
      const dialog = page.getByRole('dialog');
      await dialog.getByRole('textbox', { name: 'What it allows' }).fill('Trials in the bay (invented)');
      await dialog.getByRole('textbox', { name: 'Valid to' }).fill('soon');
      await dialog.getByRole('button', { name: 'Add a permit' }).click();
      await dialog.getByText('is no date').waitFor();
      await legible(page, 'a new permit');
      await dialog.getByRole('textbox', { name: 'Valid to' }).fill('2025-12-31');
      await dialog.getByRole('button', { name: 'Add a permit' }).click();
      const permit = page.getByRole('article', { name: 'Trials in the bay (invented)' });
      await permit.getByRole('textbox', { name: 'Number' }).fill('X-17');
      await page.keyboard.press('Tab');
      await expect.poll(async () => JSON.stringify((await held()).permits)).toContain('X-17');
      await permit.getByRole('button', { name: 'Withdraw this permit' }).click();
      await dialog.getByRole('button', { name: 'Withdraw', exact: true }).click();
      await page.getByText('No permit is recorded.').waitFor();
    },
    { expected: refusals },
  ));

test('a study that is read-only shows the same without inputs', () =>
  visit(browser, bay.served, '/nothing', async (page) => {
    await page.route('**/api/**/question', async (route) => {
      const answer = await route.fetch();
      const view = (await answer.json()) as object;
      await route.fulfill({ json: { ...view, read_only: true } });
    });
    await page.goto(`${bay.served.base}/${bay.study}/question`);
    await page.getByText('This study is shown read-only').waitFor();
    await page.getByText('Carrowbeg inner bay (invented)').last().waitFor();
    expect(await page.locator('main').getByRole('textbox').count()).toBe(0);
    expect(await page.locator('main').getByRole('checkbox').count()).toBe(0);
    expect(await page.getByRole('button', { name: 'Add a permit' }).count()).toBe(0);
    await legible(page, 'a read-only Question');
  }));

test.each([
  ['light', laptop],
  ['dark', tablet],
  ['sunlight', tablet],
  ['night', laptop],
] as const)('Question is legible in %s', (theme, viewport) =>
  visit(
    browser,
    bay.served,
    `/${bay.study}/question`,
    async (page) => {
      await page.getByRole('combobox', { name: 'Theme' }).selectOption(theme);
      await page.getByRole('checkbox').first().waitFor();
      await legible(page, `Question in ${theme}`);
    },
    { viewport, touch: viewport === tablet },
  ),
);

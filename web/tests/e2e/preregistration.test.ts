import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import type { Preregistration } from '../../src/lib/api/schedule';
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

const held = () => bay.ask<Preregistration>(`studies/${bay.study}/preregistration`);
const address = () => `/${bay.study}/schedule/preregistration`;
const field = (page: Page, name: string) => page.getByRole('textbox', { name, exact: true });
const protocol = async () =>
  (await bay.ask<{ protocol: Record<string, string> }>(`studies/${bay.study}/question`)).protocol;

test('what is planned is written on Question; a draft of the analysis is offered and not taken by itself', () =>
  visit(browser, bay.served, `/${bay.study}/question`, async (page) => {
    await field(page, 'Hypotheses').fill('Catsharks turn sooner in colder water.\nAn odds ratio of 2 matters.');
    await field(page, 'Stopping rule').fill('After 24 trials, or on the first injury.');
    await field(page, 'Analysis plan').click();
    await expect.poll(async () => (await protocol()).stopping_rule).toBe('After 24 trials, or on the first injury.');
    expect((await protocol()).hypotheses).toBe('Catsharks turn sooner in colder water.\nAn odds ratio of 2 matters.');
    await page.getByText('A draft made of this study’s settings').click();
    await page.getByText('Nobody has chosen it').waitFor();
    await legible(page, 'Question with a draft');
    expect((await protocol()).analysis_plan).toBeUndefined();
    await page.getByRole('button', { name: 'Take it over as a beginning' }).click();
    await expect.poll(async () => (await protocol()).analysis_plan).toContain('detection model');
    expect(await field(page, 'Analysis plan').inputValue()).toContain('Missing data.');
    expect(await page.getByText('A draft made of this study’s settings').count()).toBe(0);
    await page.getByRole('link', { name: 'Read it as a document' }).click();
    await page.getByRole('article').getByText('An odds ratio of 2 matters.').waitFor();
  }));

test('the document is read, and says what is missing and where to write it', () =>
  visit(browser, bay.served, address(), async (page) => {
    const sheet = page.getByRole('article');
    await sheet.getByRole('heading', { name: 'Inner bay, spring and summer (invented)' }).waitFor();
    await sheet.getByRole('heading', { name: 'Stopping rule' }).waitFor();
    await page.getByText('Which animals, passes and trials count.').first().waitFor();
    const lacks = page.getByRole('region', { name: 'What a reader would miss' });
    const hrefs = await lacks.getByRole('link').evaluateAll((all) => all.map((a) => a.getAttribute('href')));
    expect(hrefs).toContain(`/${bay.study}/question`);
    expect(hrefs).toContain(`/${bay.study}/schedule/seal`);
    await lacks.getByRole('link', { name: 'Write it on Question: Which animals' }).click();
    await page.getByRole('heading', { name: 'What is planned' }).waitFor();
  }));

test('it is registered by somebody, once; then it changes, is compared and registered again', () =>
  visit(browser, bay.served, address(), async (page) => {
    await page.getByRole('button', { name: 'Register', exact: true }).click();
    const dialog = page.getByRole('dialog');
    await dialog.getByText('It cannot be taken back').waitFor();
    await dialog.getByText('The first trial has begun already').waitFor();
    await dialog.getByRole('textbox', { name: 'Your name' }).fill('');
    await dialog.getByRole('button', { name: 'Register it' }).click();
    await dialog.getByText('Somebody must stand for it.').waitFor();
    await legible(page, 'the dialog to register');
    await dialog.getByRole('textbox', { name: 'Your name' }).fill('N. Example');
    await dialog.getByRole('button', { name: 'Register it' }).click();
    await page.getByText('Preregistration 1', { exact: true }).waitFor();
    await page.getByText(', by N. Example').waitFor();
    await page.getByText('Late: the first trial had begun before.').waitFor();
    expect(await page.getByRole('button', { name: 'Register', exact: true }).isDisabled()).toBe(true);
    await page.getByRole('article').getByText('This is preregistration 1, as it was registered on').waitFor();
    const first = await held();
    expect(first.registered.map((r) => r.sha256)).toEqual([first.sha256]);

    await bay.edit('protocol', '', 'stopping_rule', 'After 24 trials, or on the first injury.', 'After 30 trials.');
    await page.reload();
    const changes = page.getByRole('region', { name: 'What changed since preregistration 1' });
    await changes.getByText('After 24 trials, or on the first injury.').waitFor();
    expect(await changes.locator('.gone .text').allTextContents()).toEqual([
      'After 24 trials, or on the first injury.',
    ]);
    expect(await changes.locator('.new .text').allTextContents()).toEqual(['After 30 trials.']);
    await legible(page, 'a document that changed');
    await page.getByRole('button', { name: 'Read preregistration 1' }).click();
    await page.getByRole('article').getByText('After 24 trials, or on the first injury.').waitFor();
    await page.getByRole('button', { name: 'Show it as it stands now' }).click();
    await page.getByRole('article').getByText('After 30 trials.').waitFor();
    await page.getByRole('button', { name: 'Register', exact: true }).click();
    await page.getByRole('dialog').getByRole('button', { name: 'Register it' }).click();
    await page.getByText('Preregistration 2', { exact: true }).waitFor();
    expect((await held()).registered).toHaveLength(2);
  }));

test('a document that changed while it was read is not registered', () =>
  visit(
    browser,
    bay.served,
    address(),
    async (page) => {
      await bay.edit('protocol', '', 'criteria', '', 'All catsharks.');
      await page.reload();
      await page.getByRole('article').getByText('All catsharks.').waitFor();
      await page.getByRole('button', { name: 'Register', exact: true }).click();
      await bay.edit('protocol', '', 'criteria', 'All catsharks.', 'All catsharks and rays.');
      const dialog = page.getByRole('dialog');
      await dialog.getByRole('textbox', { name: 'Your name' }).fill('N. Example');
      await dialog.getByRole('button', { name: 'Register it' }).click();
      await dialog.getByText('It was not registered').waitFor();
      await dialog.getByRole('button', { name: 'Read the document' }).click();
      await page.getByRole('article').getByText('All catsharks and rays.').waitFor();
      expect((await held()).registered).toHaveLength(2);
      // A name would stay for good.
      await bay.edit('protocol', '', 'people', '', 'Nora Invented');
      await bay.edit('protocol', '', 'criteria', 'All catsharks and rays.', 'As Nora Invented says.');
      await page.reload();
      await page.getByRole('article').getByText('As Nora Invented says.').waitFor();
      await page.getByRole('button', { name: 'Register', exact: true }).click();
      await dialog.getByRole('button', { name: 'Register it' }).click();
      await dialog.getByText('it names Nora Invented').waitFor();
      await bay.edit('protocol', '', 'criteria', 'As Nora Invented says.', 'All catsharks and rays.');
    },
    { expected: refusals },
  ));

test('it is saved as Markdown, and on paper the document stands alone', () =>
  visit(browser, bay.served, address(), async (page) => {
    await page.getByRole('article').waitFor();
    const [download] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('button', { name: 'Save as .md' }).click(),
    ]);
    expect(download.suggestedFilename()).toBe('inner-bay-preregistration.md');
    const chunks: Buffer[] = [];
    for await (const chunk of await download.createReadStream()) chunks.push(chunk as Buffer);
    expect(Buffer.concat(chunks).toString()).toBe((await held()).text);
    await page.emulateMedia({ media: 'print' });
    expect(await page.getByRole('article').isVisible()).toBe(true);
    for (const name of ['What a reader would miss', 'Registered'])
      expect(await page.getByRole('heading', { name, exact: true }).isVisible(), name).toBe(false);
    expect(await page.getByRole('banner').isVisible()).toBe(false);
  }));

test.each([
  ['light', laptop],
  ['dark', tablet],
  ['sunlight', tablet],
  ['night', laptop],
] as const)('Preregistration is legible in %s', (theme, viewport) =>
  visit(
    browser,
    bay.served,
    address(),
    async (page) => {
      await page.getByRole('combobox', { name: 'Theme' }).selectOption(theme);
      await page.getByRole('article').waitFor();
      await legible(page, `Preregistration in ${theme}`);
    },
    { viewport, touch: viewport === tablet },
  ),
);

// Cards of the page Schedule: one at a time, on paper, and the wiring.
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import { legible } from './audit';
import { openBay, refusals, type Bay } from './bay';
import { laptop, launch, tablet, visit } from './browser';
import { drawStudy, give, type Drawn } from './drawn';

let browser: Browser;
let bay: Bay;
let drawn: Drawn;
beforeAll(async () => {
  browser = await launch();
  bay = await openBay(inject('binary'));
  drawn = await drawStudy(bay, 'drawn');
});
afterAll(async () => {
  bay.close();
  await browser.close();
});

const cardsAt = () => `/${drawn.study}/schedule/cards`;
const face = (page: Page) => page.getByRole('region', { name: 'The card' });
/** What a card says in words. */
const settings = /Current|µA|Polarity/;

async function take(page: Page): Promise<void> {
  await give(page, drawn.keys[0], drawn.passphrase);
  await page.getByRole('textbox', { name: 'Your name' }).fill('O. Switch');
  await page.getByRole('button', { name: 'Take the cards' }).click();
  await face(page).waitFor();
}
/** kept is everything that outlives a part of the page, as text. */
const kept = (page: Page) =>
  page.evaluate(async () =>
    JSON.stringify([
      { ...localStorage },
      { ...sessionStorage },
      location.href,
      document.title,
      history.state,
      await caches.keys().catch(() => []),
    ]),
  );

test('one at a time, hidden until it is asked for, and gone when the page is left', () =>
  visit(browser, bay.served, cardsAt(), async (page) => {
    await page.getByRole('button', { name: 'Take the cards' }).click();
    expect(await page.getByRole('alert').count()).toBeGreaterThan(0);
    await take(page);
    // The first that has not been run.
    expect(await page.getByLabel('Trial', { exact: true }).inputValue()).toBe('T005');
    expect(await face(page).innerText()).not.toMatch(settings);
    await page.getByRole('button', { name: 'Show the card' }).click();
    await face(page).getByText('Current').waitFor();
    expect(await face(page).locator('dd').first().innerText()).toMatch(/^([12]|OFF)$/);
    expect(await face(page).locator('dd').nth(1).innerText()).toMatch(/^[69] µA$/);
    await legible(page, 'a card');
    const text = await kept(page);
    for (const word of ['T005', 'µA', 'token', 'AGE-SECRET']) expect(text).not.toContain(word);
    await page.getByRole('button', { name: 'Next trial' }).click();
    expect(await page.getByLabel('Trial', { exact: true }).inputValue()).toBe('T006');
    expect(await face(page).innerText()).not.toMatch(settings);
    await page.getByLabel('Trial', { exact: true }).selectOption('S002');
    await face(page).focus();
    await page.keyboard.press('Space');
    await face(page).getByText('Current').waitFor();
    await page.keyboard.press('Space');
    expect(await face(page).innerText()).not.toMatch(settings);
    await page.keyboard.press('n');
    expect(await page.getByLabel('Trial', { exact: true }).inputValue()).toBe('S003');
    // Another window comes to the front.
    await page.keyboard.press('Space');
    await face(page).getByText('Current').waitFor();
    await page.evaluate(() => window.dispatchEvent(new Event('blur')));
    await page.getByText('Hidden, because another window').waitFor();
    expect(await face(page).innerText()).not.toMatch(settings);
    // Left, and come back to.
    await face(page).focus();
    await page.keyboard.press('Space');
    await face(page).getByText('Current').waitFor();
    await page.getByRole('link', { name: 'Blinding' }).click();
    await page.getByRole('heading', { name: 'How it stands' }).waitFor();
    expect(await page.locator('main').innerText()).not.toContain('µA');
    await page.goBack();
    await page.getByRole('button', { name: 'Take the cards' }).waitFor();
    expect(await page.locator('input[type=password]').inputValue()).toBe('');
  }));

test('a key that does not open it is refused in words', () =>
  visit(
    browser,
    bay.served,
    cardsAt(),
    async (page) => {
      await give(page, drawn.keys[0], 'not the passphrase');
      await page.getByRole('textbox', { name: 'Your name' }).fill('O. Switch');
      await page.getByRole('button', { name: 'Take the cards' }).click();
      await page.getByRole('alert').first().waitFor();
      expect(await face(page).count()).toBe(0);
    },
    { expected: refusals },
  ));

test('fold-over cards are on paper only, and out of the page after it', () =>
  visit(browser, bay.served, cardsAt(), async (page) => {
    await page.evaluate(() => (window.print = () => undefined));
    await take(page);
    await page.getByRole('button', { name: 'Fold-over cards to print…' }).click();
    const dialog = page.getByRole('dialog');
    await dialog.getByText('A print queue').waitFor();
    await legible(page, 'before printing');
    await dialog.getByRole('button', { name: 'Print 9 cards' }).click();
    await page.getByText('for the printer only').waitFor();
    expect(await page.locator('.strip').first().isVisible()).toBe(false);
    await page.emulateMedia({ media: 'print' });
    expect(await page.locator('.strip').count()).toBe(9);
    expect(await page.locator('.strip').first().isVisible()).toBe(true);
    expect(await page.getByRole('button', { name: 'Show the card' }).isVisible()).toBe(false);
    const heights = await page.locator('.strip').evaluateAll((all) => all.map((s) => s.getBoundingClientRect().height));
    // 29 mm: eight strips and the heading on a page of A4 or Letter, and all of one height.
    for (const h of heights) expect(h).toBeCloseTo((29 / 25.4) * 96, 0);
    const clipped = await page
      .locator('.strip dd')
      .evaluateAll((all) => all.filter((d) => d.scrollWidth > d.clientWidth + 1).length);
    expect(clipped).toBe(0);
    const pdf = (await page.pdf({ preferCSSPageSize: true, format: 'Letter' })).toString('latin1');
    expect(/\/Count (\d+)/.exec(pdf)?.[1]).toBe('2');
    await page.evaluate(() => window.dispatchEvent(new Event('afterprint')));
    await expect.poll(() => page.locator('.strip').count()).toBe(0);
  }));

test('the wiring is shown after a warning, and put away', () =>
  visit(browser, bay.served, cardsAt(), async (page) => {
    await take(page);
    await page.getByRole('button', { name: 'Wiring card…' }).click();
    await page.getByRole('dialog').getByText('must not score').waitFor();
    await legible(page, 'before the wiring');
    await page.getByRole('button', { name: 'Show it here' }).click();
    await face(page).getByText('Position 2').waitFor();
    await legible(page, 'the wiring');
    await page.getByRole('button', { name: 'Put the cards away' }).click();
    await page.getByText('The cards are put away.').waitFor();
    expect(await page.locator('main').innerText()).not.toContain('Position');
  }));

test.each([
  ['light', laptop],
  ['dark', tablet],
  ['sunlight', tablet],
  ['night', laptop],
] as const)('cards are legible in %s', (theme, viewport) =>
  visit(
    browser,
    bay.served,
    cardsAt(),
    async (page) => {
      await page.getByRole('combobox', { name: 'Theme' }).selectOption(theme);
      await legible(page, `taking cards in ${theme}`);
      await take(page);
      await page.getByRole('button', { name: 'Show the card' }).click();
      await face(page).getByText('Current').waitFor();
      await legible(page, `a card in ${theme}`);
      await page.setViewportSize({ width: 390, height: 844 });
      await legible(page, `a card on a telephone in ${theme}`);
    },
    { viewport },
  ),
);

import { readFileSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import { legible } from './audit';
import { openBay, refusals, type Bay } from './bay';
import { laptop, launch, tablet, visit } from './browser';

const phone = { width: 390, height: 844 };

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

const path = () => `/${bay.study}/stimulus`;
const vertical = (page: Page) => page.getByTestId('vertical').getByRole('img', { name: /^Field, vertical section/ });
/** said is what the picture says in words; it follows the numbers. */
const said = (page: Page) => vertical(page).locator('desc').textContent();

test('a knob is turned, the picture follows, and the study gives its value back', () =>
  visit(browser, bay.served, path(), async (page) => {
    await vertical(page).waitFor();
    const before = await said(page);
    expect(before).toMatch(/From .+ to .+ nV\/cm/);
    const current = page.getByRole('spinbutton', { name: 'Current' });
    const was = await current.inputValue();
    await current.fill(String(Number(was) * 10));
    await expect.poll(() => said(page)).not.toBe(before);
    const slider = page.getByRole('slider', { name: 'Separation, slider' });
    const turned = await said(page);
    await slider.focus();
    for (let i = 0; i < 40; i++) await page.keyboard.press('ArrowRight');
    await expect.poll(() => said(page)).not.toBe(turned);
    await page.getByRole('button', { name: 'Current: as in the study' }).click();
    await expect.poll(() => current.inputValue()).toBe(was);
    await page.getByRole('button', { name: 'All as in the study' }).click();
    await expect.poll(() => said(page)).toBe(before);
  }));

test('a plate is worked out behind an endless one', () =>
  visit(browser, bay.served, path(), async (page) => {
    await vertical(page).waitFor();
    await page.getByText('Plate', { exact: true }).click();
    await page.getByRole('button', { name: 'Add a plate' }).click();
    await page
      .getByText(/^Shown for the moment: an endless plate/)
      .first()
      .waitFor();
    await page
      .getByText(/^Shown: this rig · estimated error/)
      .first()
      .waitFor({ timeout: 50_000 });
  }));

test('the cross is read by keyboard, and the handles move the other section', () =>
  visit(browser, bay.served, path(), async (page) => {
    await vertical(page).waitFor();
    const cross = page.getByTestId('vertical').getByRole('application');
    await expect.poll(() => cross.getAttribute('aria-label')).toMatch(/nV\/cm$/);
    const before = await cross.getAttribute('aria-label');
    await cross.focus();
    await page.keyboard.press('Shift+ArrowUp');
    await expect.poll(() => cross.getAttribute('aria-label')).not.toBe(before);
    expect(Number(await page.getByRole('spinbutton', { name: 'height, cm' }).inputValue())).toBeGreaterThan(5);
    const handle = page.getByRole('slider', { name: 'Height of the horizontal section', exact: true });
    await handle.focus();
    await page.keyboard.press('PageUp');
    const height = page.getByRole('spinbutton', { name: 'Height of the horizontal section' });
    await expect.poll(() => height.inputValue()).toBe('12.5');
    await page.getByRole('img', { name: 'Field, horizontal section 12.5 cm high' }).waitFor();
    await page.getByRole('slider', { name: 'Direction of the vertical section', exact: true }).focus();
    await page.keyboard.press('PageUp');
    await page.getByRole('img', { name: 'Field, vertical section along 15°' }).waitFor();
  }));

test('thresholds are drawn and taken away; the textbook is laid beside', () =>
  visit(browser, bay.served, path(), async (page) => {
    await vertical(page).waitFor();
    await page.getByRole('spinbutton', { name: 'Another, nV/cm' }).fill('7');
    await page.getByRole('button', { name: 'Draw it' }).click();
    await vertical(page).getByText('7 nV/cm').waitFor();
    await page.getByRole('button', { name: 'Take away the line of 7 nV/cm' }).click();
    await expect.poll(() => vertical(page).getByText('7 nV/cm').count()).toBe(0);
    await page.getByRole('combobox', { name: 'Show' }).selectOption('ratio');
    await page.getByText(/The textbook is off by more than 10 % on \d+.% of the vertical section/).waitFor();
  }));

test('a section is saved with its places', () =>
  visit(browser, bay.served, path(), async (page) => {
    await vertical(page).waitFor();
    const [file] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('button', { name: 'Save the vertical section as CSV' }).click(),
    ]);
    const lines = readFileSync(await file.path(), 'utf8')
      .trim()
      .split('\r\n');
    expect(lines[0]).toBe('u_m,v_m,x_m,y_m,z_m,magnitude_nV_per_cm');
    expect(lines).toHaveLength(160 * 120 + 1);
  }));

test('a refused knob says why beside it', () =>
  visit(
    browser,
    bay.served,
    path(),
    async (page) => {
      await vertical(page).waitFor();
      const separation = page.getByRole('spinbutton', { name: 'Separation' });
      await separation.fill('-1');
      await expect.poll(() => separation.getAttribute('aria-invalid')).toBe('true');
      await page.getByText('The pictures are those before the last turn').waitFor();
      await page.getByRole('button', { name: 'Separation: as in the study' }).click();
      await expect.poll(() => separation.getAttribute('aria-invalid')).toBeNull();
    },
    { expected: refusals },
  ));

test('a body is listed with its knobs, and taken away again', () =>
  visit(
    browser,
    bay.served,
    path(),
    async (page) => {
      await vertical(page).waitFor();
      await page.getByText('Bodies', { exact: true }).click();
      await page.getByRole('button', { name: 'Add a box' }).click();
      const box = page.getByRole('group', { name: 'Box 1' });
      await box.getByRole('spinbutton', { name: 'Height of it' }).fill('12');
      // Its outline is in the picture, whether or not it is worked out yet.
      await expect.poll(() => page.getByTestId('vertical').locator('path title').allTextContents()).toContain('body');
      await box.getByRole('button', { name: 'Remove Box 1' }).click();
      await expect.poll(() => box.count()).toBe(0);
    },
    { expected: refusals },
  ));

test.each([
  ['light', laptop],
  ['dark', tablet],
  ['sunlight', phone],
  ['night', laptop],
] as const)('Stimulus is legible in %s', (theme, viewport) =>
  visit(
    browser,
    bay.served,
    path(),
    async (page) => {
      await page.getByRole('combobox', { name: 'Theme' }).selectOption(theme);
      await vertical(page).waitFor();
      await page.evaluate(() => document.querySelectorAll('main details').forEach((d) => d.setAttribute('open', '')));
      await legible(page, `Stimulus in ${theme}`);
    },
    { viewport, touch: viewport !== laptop },
  ),
);

// Range, aim, errors, the field in space and the page for the notebook, against
// what the program itself answers.
import { readFileSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import type { RangeView } from '../../src/lib/api/stimulus';
import type { StimulusStart } from '../../src/lib/api/stimulus';
import { legible } from './audit';
import { openBay, type Bay } from './bay';
import { laptop, launch, tablet, visit } from './browser';

let browser: Browser;
let bay: Bay;
let start: StimulusStart;
beforeAll(async () => {
  browser = await launch();
  bay = await openBay(inject('binary'));
  start = await bay.ask(`studies/${bay.study}/stimulus`);
});
afterAll(async () => {
  bay.close();
  await browser.close();
});

/** What a browser that draws 3D without a graphics card says of its own speed. */
const slowGraphics = /GPU stall due to ReadPixels|software WebGL|swiftshader/i;
const phone = { width: 390, height: 844 };

const panel = (page: Page, name: string) => page.locator('section', { has: page.getByRole('heading', { name }) });
const stimulus = (act: (page: Page) => Promise<void>, more = {}) =>
  visit(
    browser,
    bay.served,
    `/${bay.study}/stimulus`,
    async (page) => {
      await page.getByRole('heading', { name: 'How far it reaches' }).scrollIntoViewIfNeeded();
      await page.getByRole('img', { name: 'Range by direction from the pair' }).waitFor();
      await act(page);
    },
    { expected: slowGraphics, ...more },
  );

async function saved(page: Page, button: string): Promise<Buffer> {
  const [file] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('button', { name: button, exact: true }).click(),
  ]);
  return readFileSync(await file.path());
}

test('the range is that of the program, drawn, told in words, in a table and in a file', () =>
  stimulus(async (page) => {
    const asked: RangeView = await bay.ask('stimulus/range', {
      knobs: start.knobs,
      form: 'real',
      tolerance: 0.01,
      thresholds_nV_per_cm: start.thresholds_nV_per_cm,
      heights_m: [0, 0.05],
      directions: 72,
    });
    const first = asked.thresholds[0]!;
    const row = panel(page, 'How far it reaches').locator('table').first().locator('tbody tr').first();
    const distance = (first.largest!.distance_m * 100).toPrecision(3);
    expect(await row.innerText()).toContain(distance);
    const said = await page
      .getByRole('img', { name: /^Range by direction/ })
      .locator('desc')
      .textContent();
    expect(said).toContain(`${first.threshold_nV_per_cm} nV/cm, 5 cm up:`);
    const lines = (await saved(page, 'Save range by direction as CSV')).toString('utf8').trim().split('\r\n');
    expect(lines[0]).toBe('threshold_nV_per_cm,height_m,direction_deg,range_m');
    expect((lines.length - 1) % 72).toBe(0);
    const height5 = first.heights.find((h) => h.height_m === 0.05)!;
    const written = lines
      .filter((l) => l.startsWith(`${first.threshold_nV_per_cm},0.05,`))
      .map((l) => Number(l.split(',')[3]));
    expect(Math.max(...written)).toBeCloseTo(height5.farthest_m!, 4);
  }));

test('other heights are drawn; a list that is none says what is wanted', () =>
  stimulus(async (page) => {
    const heights = page.getByRole('textbox', { name: 'Heights shown, cm above z = 0' });
    await heights.fill('2');
    const said = () =>
      page
        .getByRole('img', { name: /^Range by direction/ })
        .locator('desc')
        .textContent();
    await expect.poll(said).toContain('2 cm up');
    await heights.fill('deep');
    await page.getByText('Write up to 6 heights of 0 cm or more').waitFor();
  }));

test('aiming sets the knobs so that they give the field', () =>
  stimulus(async (page) => {
    const aim = panel(page, 'Aim at a field');
    await aim.getByRole('spinbutton', { name: 'Field, nV/cm' }).fill('12');
    await aim.getByRole('button', { name: 'Work it out' }).click();
    await aim.getByRole('button', { name: /^Set the knobs to 2 cm/ }).click();
    await aim.getByText('The knobs were turned since').waitFor();
    await aim.getByRole('button', { name: 'Work it out' }).click();
    await aim.getByText('The knobs give 12.0 nV/cm there; aimed at are 12.0').waitFor();
    await aim.getByRole('radio', { name: 'the field of natural prey' }).check();
    await aim.getByText('Source:').waitFor();
  }));

test('an error of the current of 10 % moves the field by 10 %', () =>
  stimulus(async (page) => {
    const errors = panel(page, 'What an error does');
    await errors.getByRole('button', { name: 'Work it out' }).click();
    const row = errors.locator('tbody tr', { hasText: /^current/ }).first();
    await row.waitFor();
    const cells = (await row.locator('td').allInnerTexts()).slice(-2).map(Number);
    expect(cells[1]! / cells[0]!).toBeCloseTo(1.1 / 0.9, 2);
    const lines = (await saved(page, 'Save effect of errors as CSV')).toString('utf8').split('\r\n');
    expect(lines[0]).toMatch(/^set,what,change,range_low_m/);
  }));

test('the field in space is turned by keys and saved for other programs', () =>
  stimulus(async (page) => {
    const space = panel(page, 'In space');
    await space.getByRole('button', { name: 'Show in 3D' }).click();
    await space.getByRole('combobox', { name: 'Detail' }).selectOption('coarse');
    const text = (await saved(page, 'Save the field in space as VTK, as text')).toString('utf8').split('\n');
    expect(text[0]).toBe('# vtk DataFile Version 3.0');
    expect(text[4]).toBe('DIMENSIONS 24 24 16');
    const numbers = text.slice(10).join(' ').trim().split(/\s+/);
    expect(numbers).toHaveLength(24 * 24 * 16);
    expect((await saved(page, 'Save the field in space as VTK')).subarray(0, 5).toString()).toBe('# vtk');
    const picture = page.getByRole('application', { name: /^The field in space/ });
    const before = await saved(page, 'Save the field in space as PNG');
    await picture.focus();
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('+');
    const after = await saved(page, 'Save the field in space as PNG');
    expect(before.subarray(1, 4).toString()).toBe('PNG');
    expect(after.equals(before)).toBe(false);
    await space.getByRole('button', { name: 'Close the 3D picture' }).click();
    expect(await space.locator('canvas').count()).toBe(0);
  }));

test('the library for 3D is fetched only when it is asked for', () =>
  stimulus(async (page) => {
    const scripts = () =>
      page.evaluate(() => performance.getEntriesByType('resource').filter((r) => /scene-.*\.js$/.test(r.name)).length);
    expect(await scripts()).toBe(0);
    await page.getByRole('button', { name: 'Show in 3D' }).click();
    await expect.poll(scripts).toBe(1);
  }));

test('the page for the notebook is one sheet, alone on paper', () =>
  stimulus(async (page) => {
    await page.getByRole('button', { name: 'Make the page' }).click();
    await page.getByRole('heading', { name: `Stimulus, ${bay.study}` }).waitFor();
    await page.emulateMedia({ media: 'print' });
    expect(await page.getByRole('heading', { name: 'What an error does' }).isVisible()).toBe(false);
    expect(await page.getByRole('navigation').first().isVisible()).toBe(false);
    expect(await page.getByText('Local law and the institution’s own codes').isVisible()).toBe(true);
    const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
    expect(pdf.match(/\/Type\s*\/Page\b/g)).toHaveLength(1);
    await page.emulateMedia({ media: 'screen' });
    await page.getByRole('button', { name: 'Close the page' }).click();
    expect(await page.locator('[data-not-printed]').count()).toBe(0);
  }));

test.each([
  ['light', laptop],
  ['dark', tablet],
  ['light', phone],
  ['night', laptop],
] as const)('all of it is legible in %s', (theme, viewport) =>
  stimulus(
    async (page) => {
      await page.getByRole('combobox', { name: 'Theme' }).selectOption(theme);
      for (const name of ['Aim at a field', 'What an error does'])
        await panel(page, name).getByRole('button', { name: 'Work it out' }).click();
      await page.getByRole('button', { name: 'Show in 3D' }).click();
      await page.getByRole('button', { name: 'Make the page' }).click();
      await page.getByRole('heading', { name: `Stimulus, ${bay.study}` }).waitFor();
      await page.getByRole('button', { name: 'Save the field in space as PNG' }).waitFor();
      await page.getByRole('img', { name: 'Range and field when a knob is off' }).waitFor();
      await legible(page, `Range in ${theme}`);
      const low = await page
        .locator(
          'section:has(> [tabindex]) .buttons button, section[aria-labelledby=errors-title] form button, section[aria-labelledby=target-title] form button',
        )
        .evaluateAll((all) => all.filter((b) => b.getBoundingClientRect().height < 44).length);
      expect(low, 'buttons below 44 px').toBe(0);
    },
    { viewport, touch: viewport !== laptop },
  ),
);

import { readFileSync } from 'node:fs';
import type { Browser, Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import type { CalibrationDocument, CalibrationStart } from '../../src/lib/api/calibration';
import { legible } from './audit';
import { openBay, type Bay } from './bay';
import { laptop, launch, tablet, visit } from './browser';

let browser: Browser;
let bay: Bay;
/** A table of six readings that are 0.8 of what the design says, with 5 µV of offset and no noise to speak of. */
let table: string;
const factor = 0.8;

beforeAll(async () => {
  browser = await launch();
  bay = await openBay(inject('binary'));
  const { spec } = await bay.ask<CalibrationStart>(`studies/${bay.study}/calibration`);
  const pair = spec.knobs.pairs.find((p) => p.share !== 0)!;
  const [x = 0, y = 0] = pair.centre_m;
  const places = [
    [0.05, 0, 0.02],
    [-0.05, 0, 0.02],
    [0, 0.05, 0.02],
    [0.06, 0.05, 0.03],
    [-0.08, 0.02, 0.02],
    [0.03, -0.06, 0.04],
  ].map(([dx = 0, dy = 0, z = 0]) => [x + dx, y + dy, z]);
  const { readings } = await bay.ask<CalibrationDocument>('calibration', {
    ...spec,
    readings: places.map((plus_m) => ({ plus_m, minus_m: null, uV: null, sd_uV: null })),
  });
  const cm = (m: number) => String(Number((m * 100).toPrecision(8)));
  const rows = readings.map((r, i) => {
    const read = factor * r.designed_uV! + 5 + (i % 2 === 0 ? 0.001 : -0.001);
    return [`P${i + 1}`, ...r.plus_m.map(cm), 'far', '', '', read.toFixed(4)].join('\t');
  });
  table = ['label\tplus x\tplus y\tplus z\tminus x\tminus y\tminus z\treading, µV', ...rows].join('\n');
});
afterAll(async () => {
  bay.close();
  await browser.close();
});

const address = () => `/${bay.study}/rig`;
const part = (page: Page): Locator => page.getByRole('region', { name: /^Calibration/ });

async function come(page: Page): Promise<Locator> {
  const calibration = part(page);
  await calibration.getByRole('heading', { name: 'Places and readings' }).waitFor();
  await calibration.scrollIntoViewIfNeeded();
  return calibration;
}

async function paste(calibration: Locator, text: string): Promise<void> {
  await calibration.getByText('Paste a table', { exact: true }).click();
  await calibration.getByRole('textbox', { name: 'Table from a spreadsheet' }).fill(text);
  await calibration.getByRole('button', { name: 'Add to the table' }).click();
}

test('before anything is measured, proposed places are foretold and printed as a sheet', () =>
  visit(browser, bay.served, address(), async (page) => {
    const calibration = await come(page);
    await calibration.getByText('No places yet.', { exact: false }).waitFor();
    await calibration.getByRole('button', { name: 'Propose places' }).click();
    const foretold = calibration.locator('td.foretold');
    await expect
      .poll(() => foretold.allInnerTexts(), { timeout: 30_000 })
      .toSatisfy((texts: string[]) => {
        return texts.length > 8 && texts.every((t) => /\d/.test(t));
      });
    await calibration.getByText('Nothing is measured yet.', { exact: false }).waitFor();
    const plan = calibration.getByRole('img', { name: 'Where the probe goes' });
    expect(await plan.locator('desc').textContent()).toContain('P1: plus tip at');
    await calibration.getByRole('button', { name: 'Make the sheet' }).click();
    await page.emulateMedia({ media: 'print' });
    const sheet = page.locator('article.sheet');
    expect(await sheet.isVisible()).toBe(true);
    expect(await sheet.locator('tbody tr').count()).toBe(await foretold.count());
    expect(await sheet.locator('tbody tr').first().innerText()).toMatch(/^P1\s.*\d/);
    expect(await page.getByRole('heading', { level: 1 }).isVisible()).toBe(false);
    expect(await calibration.getByRole('heading', { name: 'Places and readings' }).isVisible()).toBe(false);
  }));

test('a faulty cell is said with its row and column, and mended the fit is shown, saved and read back', () =>
  visit(browser, bay.served, address(), async (page) => {
    const calibration = await come(page);
    const lines = table.split('\n');
    lines[2] = lines[2]!.replace(/\t[^\t]*$/, '\ttwo');
    await paste(calibration, lines.join('\n'));
    await calibration.getByText('Row 2, reading: found “two”; a number in µV is needed, or nothing.').waitFor();
    const save = calibration.getByRole('button', { name: 'Save in the study' });
    expect(await save.isDisabled()).toBe(true);
    const right = table.split('\n')[2]!.split('\t').at(-1)!;
    await calibration.getByRole('textbox', { name: 'reading, row 2' }).fill(right);

    const verdict = calibration.locator('.verdict');
    const estimate = calibration.getByRole('row', { name: /^Measured over designed/ });
    await expect.poll(() => estimate.innerText(), { timeout: 30_000 }).toMatch(/0\.800/);
    expect(await verdict.innerText()).toContain('0.8');
    expect(await calibration.getByRole('row', { name: /^Offset of the probe/ }).innerText()).toMatch(/5\.00/);
    const map = calibration.getByRole('img', { name: 'Residuals: measured less fitted' });
    expect(await map.locator('desc').textContent()).toMatch(/P6: /);
    await calibration.getByRole('img', { name: 'Measured against fitted' }).waitFor();
    await calibration.getByRole('img', { name: /^Estimate over designed value/ }).waitFor();

    await save.click();
    await calibration.getByRole('status').filter({ hasText: 'Saved in the study' }).waitFor();
    await page.reload();
    const again = await come(page);
    expect(await again.getByRole('textbox', { name: 'reading, row 2' }).inputValue()).toBe(String(Number(right)));
    await again.getByRole('status').filter({ hasText: 'Saved in the study' }).waitFor();
    await expect.poll(() => again.locator('td.foretold').first().innerText(), { timeout: 30_000 }).toMatch(/\d/);
    const [file] = await Promise.all([
      page.waitForEvent('download'),
      again.getByRole('button', { name: 'Save the table as CSV' }).click(),
    ]);
    const csv = readFileSync(await file.path(), 'utf8')
      .trim()
      .split('\r\n');
    expect(csv[0]).toBe(
      'label,plus_x_cm,plus_y_cm,plus_z_cm,minus_x_cm,minus_y_cm,minus_z_cm,reading_uV,sd_uV,foretold_uV,fitted_uV,residual_uV',
    );
    expect(csv).toHaveLength(7);
    expect(csv[2]).toContain(`far,,,${String(Number(right))},`);
  }));

test('a current that was measured tells the current from the water', () =>
  visit(browser, bay.served, address(), async (page) => {
    const calibration = await come(page);
    const water = calibration.getByRole('row', { name: /^Conductivity, S\/m/ });
    await expect.poll(() => water.innerText(), { timeout: 30_000 }).toContain('Not estimable');
    await calibration.getByRole('textbox', { name: 'sd of current, µA' }).fill('0.01');
    await expect.poll(() => water.innerText(), { timeout: 30_000 }).not.toContain('Not estimable');
  }));

test('rows are added and removed by keyboard, and a column is pasted at the cursor', () =>
  visit(browser, bay.served, address(), async (page) => {
    const calibration = await come(page);
    await calibration.getByRole('button', { name: 'Remove all rows' }).click();
    await calibration.getByRole('button', { name: 'Add a row' }).focus();
    await page.keyboard.press('Enter');
    const label = (row: number) => calibration.getByRole('textbox', { name: `label, row ${row}`, exact: true });
    await expect.poll(() => label(1).evaluate((e) => e === document.activeElement)).toBe(true);
    await page.keyboard.type('A');
    await page.keyboard.press('Enter');
    await expect.poll(() => label(2).evaluate((e) => e === document.activeElement)).toBe(true);
    await page.keyboard.type('B');
    await page.keyboard.press('ArrowUp');
    await page.keyboard.press('Alt+Delete');
    await expect.poll(() => label(1).inputValue()).toBe('B');
    expect(await label(2).count()).toBe(0);
    await calibration.getByRole('textbox', { name: 'reading, row 1' }).evaluate((input) => {
      const clipboardData = new DataTransfer();
      clipboardData.setData('text/plain', '1,5\t0,1\n2,5\t0,1');
      input.dispatchEvent(new ClipboardEvent('paste', { clipboardData, bubbles: true, cancelable: true }));
    });
    await expect.poll(() => calibration.getByRole('textbox', { name: 'reading, row 2' }).inputValue()).toBe('2.5');
    expect(await calibration.getByRole('textbox', { name: 'sd, row 1' }).inputValue()).toBe('0.1');
  }));

test('in a sealed study the part is there all the same', () =>
  visit(browser, bay.served, `/${bay.sealed}/rig`, async (page) => {
    const calibration = await come(page);
    await calibration.getByRole('button', { name: 'Add a row' }).click();
    await calibration.getByRole('textbox', { name: 'plus tip x, row 1' }).waitFor();
  }));

test.each([
  ['light', laptop],
  ['dark', tablet],
  ['sunlight', tablet],
  ['night', laptop],
] as const)('Calibration is legible in %s', (theme, viewport) =>
  visit(
    browser,
    bay.served,
    address(),
    async (page) => {
      await page.getByRole('combobox', { name: 'Theme' }).selectOption(theme);
      const calibration = await come(page);
      await calibration.getByRole('img', { name: 'Measured against fitted' }).waitFor({ timeout: 30_000 });
      await page.evaluate(() => document.querySelectorAll('main details').forEach((d) => d.setAttribute('open', '')));
      await legible(page, `Calibration in ${theme}`);
    },
    { viewport, touch: viewport === tablet },
  ),
);

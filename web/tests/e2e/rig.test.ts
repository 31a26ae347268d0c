import { readFileSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import type { RigStart } from '../../src/lib/api/rig';
import { legible } from './audit';
import { openBay, refusals, type Bay } from './bay';
import { launch, tablet, visit } from './browser';
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

const address = () => `/${bay.study}/rig`;
const start = () => bay.ask<RigStart>(`studies/${bay.study}/rig`);
const ready = (page: Page) => page.getByRole('heading', { name: 'Circuit', exact: true }).waitFor();
const knob = (page: Page, name: string) =>
  page.getByRole('region', { name: 'What the rig is made of' }).getByLabel(name, { exact: true });
const save = (page: Page) => page.getByRole('button', { name: 'Save the rig' });

test('a knob is turned, the pictures follow, and the rig is saved', () =>
  visit(browser, bay.served, address(), async (page) => {
    await ready(page);
    await page.getByText('Made from the study, not saved yet.').waitFor();
    await knob(page, 'Voltage').fill('12');
    await page.getByRole('img', { name: 'Circuit diagram' }).getByText('12 V', { exact: true }).waitFor();
    await save(page).click();
    await page.getByText('Saved', { exact: true }).or(page.getByText('✓ Saved')).first().waitFor();
    expect((await start()).spec.supply.voltage_V).toBe(12);
    expect((await start()).saved).toBe(true);
    await page.reload();
    await ready(page);
    expect(await knob(page, 'Voltage').inputValue()).toBe('12');
    await page.getByText('As saved.').waitFor();
  }));

test('a value that cannot stand is said at its knob, and the last picture stays', () =>
  visit(
    browser,
    bay.served,
    address(),
    async (page) => {
      await ready(page);
      await knob(page, 'Voltage').fill('-3');
      await page
        .getByText(/found -3/)
        .first()
        .waitFor();
      expect(await knob(page, 'Voltage').getAttribute('aria-invalid')).toBe('true');
      await page.getByRole('img', { name: 'Circuit diagram' }).waitFor();
      await legible(page, 'a refused knob');
      await page.getByRole('button', { name: 'Back to the first value of Voltage' }).click();
      await expect.poll(() => page.getByText(/found -3/).count()).toBe(0);
    },
    { expected: refusals },
  ));

test('somebody else saved another rig meanwhile: mine stays until I choose', () =>
  visit(
    browser,
    bay.served,
    address(),
    async (page) => {
      await ready(page);
      await knob(page, 'When new').fill('9.9');
      const before = await start();
      const theirs = JSON.stringify({ ...before.spec, silent: 'closed' });
      await bay.edit('rig', '', 'spec', before.spec_text, theirs);
      await save(page).click();
      await page.getByText('Somebody else saved another rig meanwhile.').waitFor();
      expect(await knob(page, 'When new').inputValue()).toBe('9.9');
      await page.getByRole('button', { name: 'Take theirs' }).click();
      expect(await knob(page, 'The switch').inputValue()).toBe('closed');
      await bay.edit('rig', '', 'spec', theirs, before.spec_text);
    },
    { expected: refusals },
  ));

test('a measured current replaces the nominal one, with its date, until it is withdrawn', () =>
  visit(
    browser,
    bay.served,
    address(),
    async (page) => {
      await ready(page);
      const bench = page.getByRole('region', { name: 'Measured currents' });
      await bench.getByLabel('Date', { exact: true }).fill('soon');
      await bench.getByLabel('Current, µA', { exact: true }).fill('9,87');
      await bench.getByRole('button', { name: 'Add a measurement' }).click();
      await expect.poll(() => bench.getByLabel('Date', { exact: true }).getAttribute('aria-invalid')).toBe('true');
      await legible(page, 'a refused measurement');
      await bench.getByLabel('Date', { exact: true }).fill('2026-05-30');
      await bench.getByRole('button', { name: 'Add a measurement' }).click();
      await bench.getByRole('cell', { name: '9.87' }).waitFor();
      await bench.getByRole('cell', { name: 'Counts' }).waitFor();
      await page
        .getByText(/9\.87 µA measured on 2026-05-30/)
        .first()
        .waitFor();
      await bench.getByRole('button', { name: /^Withdraw the measurement/ }).click();
      await page.getByRole('dialog').getByRole('button', { name: 'Withdraw', exact: true }).click();
      await bench.getByText('Nothing was measured yet.').waitFor();
      expect((await start()).bench).toEqual([]);
    },
    { expected: refusals },
  ));

test('the resistors that are in the box, and a supply of constant current', () =>
  visit(browser, bay.served, address(), async (page) => {
    await ready(page);
    await knob(page, 'Resistors of the ladder').selectOption('positions');
    await knob(page, 'Resistors that 1 adds').fill('4k7 + 120k');
    await page.keyboard.press('Tab');
    await page
      .getByRole('img', { name: 'Circuit diagram' })

      .locator('text', { hasText: '120 kΩ' })
      .first()
      .waitFor();
    await knob(page, 'Resistors that 1 adds').fill('lots');
    await page.getByText('Such as 120k + 5.1k, 4k7 or 1.5M').first().waitFor();
    await knob(page, 'Kind of supply').selectOption('constant_current');
    await page.getByRole('heading', { name: 'Voltage of the supply' }).waitFor();
    await page.getByRole('img', { name: 'Circuit diagram' }).getByText('constant current', { exact: true }).waitFor();
    await legible(page, 'constant current');
  }));

test('files: the circuit, the switch table, the parts list', () =>
  visit(browser, bay.served, address(), async (page) => {
    await ready(page);
    const saved = async (name: string): Promise<string> => {
      const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name }).click()]);
      return readFileSync(await file.path(), 'utf8');
    };
    expect(await saved('Save circuit of the rig as SVG')).toContain('potted together at the battery');
    expect(await saved('Save switch table as CSV')).toMatch(/^position,step,chain_ohm,pair,wanted_uA/);
    expect(await saved('Save parts list as CSV')).toMatch(/^what,count,value/);
  }));

test(
  'all themes, on a tablet, and with everything open',
  () =>
    visit(
      browser,
      bay.served,
      address(),
      async (page) => {
        await ready(page);
        await page.evaluate(() =>
          document.querySelectorAll('main details').forEach((d) => ((d as HTMLDetailsElement).open = true)),
        );
        for (const theme of ['light', 'dark', 'sunlight', 'night']) {
          await page.getByLabel('Theme').selectOption(theme);
          await legible(page, `Rig, ${theme}`);
        }
        await page.setViewportSize({ width: 390, height: 844 });
        await legible(page, 'Rig on a telephone');
      },
      { viewport: tablet, touch: true },
    ),
  180_000,
);

test('the sheet is printed alone, on two pages', () =>
  visit(browser, bay.served, address(), async (page) => {
    await ready(page);
    await page.getByRole('button', { name: 'Show the sheet', exact: true }).first().click();
    await page.getByRole('heading', { name: /^Bench sheet/ }).waitFor();
    await legible(page, 'Rig with its sheet');
    await page.emulateMedia({ media: 'print' });
    expect(await page.getByRole('heading', { name: 'When something breaks' }).isVisible()).toBe(false);
    const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
    expect(/\/Type \/Pages\s*\/Count (\d+)|\/Count (\d+)/.exec(pdf)?.slice(1).find(Boolean)).toBe('2');
  }));

test('a season folder shows its rig, and nothing of it can be saved', () =>
  visit(browser, inject('season'), `${seasonPath}/rig`, async (page) => {
    await ready(page);
    await page.getByText('This study is shown read-only').waitFor();
    expect(await save(page).count()).toBe(0);
    expect(await page.getByRole('button', { name: 'Add a measurement' }).count()).toBe(0);
    await knob(page, 'Voltage').fill('12');
    await page.getByRole('img', { name: 'Circuit diagram' }).getByText('12 V', { exact: true }).waitFor();
  }));

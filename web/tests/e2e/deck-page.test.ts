import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import type { Deck } from '../../src/lib/api/types';
import type { History, TableView } from '../../src/lib/api/studies';
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

const at = (part: string, study = bay.study) => `/${study}/deck/${part}`;
const deck = (study = bay.study) => bay.ask<Deck>(`studies/${study}/deck`);
const named = (page: Page) => page.evaluate(() => localStorage.setItem('brinefield.writer', 'C. Lead'));
const cell = (page: Page, name: string) => page.getByRole('textbox', { name, exact: true });
const shot = async (page: Page, name: string) => {
  if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/${name}.png`, fullPage: true });
};
const passes = async () => {
  const table = await bay.ask<TableView>(`studies/${bay.study}/tables/pass?offset=0&limit=500`);
  return table.rows.filter((r) => r.id.startsWith('paper-')).map((r) => [r.id, ...r.cells]);
};

test('setup: a response is added, moved and saved by keyboard, and stands in the study', () =>
  visit(browser, bay.served, at('setup'), async (page) => {
    await named(page);
    await page.reload();
    await page.getByText('these are the usual lists').waitFor();
    await page.getByRole('button', { name: 'Add a response' }).focus();
    await page.keyboard.press('Enter');
    await page.keyboard.type('Circles');
    await page.keyboard.press('Tab');
    await page.keyboard.type('circling');
    await page.getByRole('combobox', { name: 'Turned' }).last().selectOption('no');
    await page.getByRole('combobox', { name: 'Bit' }).last().selectOption('no');
    await page.getByRole('textbox', { name: 'On the button' }).last().focus();
    await page.keyboard.press('Alt+ArrowUp');
    await page.getByText(/^Response 8, Circles is now 7 of 8\.$/).waitFor();
    expect(await page.evaluate(() => (document.activeElement as HTMLInputElement).value)).toBe('Circles');
    await page.getByRole('textbox', { name: 'A trial takes, min' }).fill('50');
    await shot(page, 'setup');
    await legible(page, 'setup');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByText('Saved. Tablets take it over').waitFor();
    const { spec, spec_written } = await deck();
    expect(spec_written).toBe(true);
    expect(spec.responses.map((r) => r.label).at(-2)).toBe('Circles');
    expect(spec.trial_min).toBe(50);
  }));

test('setup: what is wrong stands at its field, and a second writer is told', () =>
  visit(
    browser,
    bay.served,
    at('setup'),
    async (page) => {
      await named(page);
      await page.reload();
      const label = page.getByRole('textbox', { name: 'On the button' }).first();
      await label.fill('');
      await page.getByRole('button', { name: 'Save', exact: true }).click();
      await page.getByText('Write what stands on the button.').waitFor();
      expect(await label.getAttribute('aria-invalid')).toBe('true');
      expect(await page.evaluate(() => document.activeElement?.getAttribute('aria-invalid'))).toBe('true');
      await label.fill('Passes by');
      const before = await deck();
      await fetch(`${bay.served.base}/api/studies/${bay.study}/deck/setup`, {
        method: 'POST',
        headers: { cookie: bay.served.cookie, 'Content-Type': 'application/json', 'If-Match': before.etag },
        body: JSON.stringify({ spec: { ...before.spec, washout_min: 25 }, author: 'P. Sample' }),
      }).then((a) => expect(a.ok).toBe(true));
      await page.getByRole('button', { name: 'Save', exact: true }).click();
      await page.getByRole('heading', { name: 'Somebody else saved meanwhile' }).waitFor();
      await page.getByText(/P\. Sample/).waitFor();
      await shot(page, 'setup-changed');
      await legible(page, 'a second writer');
      await page.getByRole('button', { name: 'Take theirs' }).click();
      await expect.poll(() => page.getByRole('textbox', { name: /^Washout/ }).inputValue()).toBe('25');
      expect(await label.inputValue()).toBe('No turn');
    },
    { expected: /status of (412|422)/ },
  ));

test('paper: a sheet is typed in without a mouse, survives a reload, and is written as one', () =>
  visit(
    browser,
    bay.served,
    at('paper'),
    async (page) => {
      await named(page);
      await page.reload();
      await page.getByRole('textbox', { name: 'Date on the sheet' }).fill('2025-05-12');
      await cell(page, 'Trial, row 1').focus();
      for (const text of ['T002', '1112', 'a', 'scy', 'SC06', 'tu', 'low', '', '3,5'])
        await page.keyboard.type(text).then(() => page.keyboard.press('Tab'));
      await page.keyboard.press('Enter');
      // The trial is carried over: the next cell is the time.
      expect(await page.evaluate(() => document.activeElement?.getAttribute('aria-label'))).toBe('Time, row 2');
      for (const text of ['+3', 'b', '"', 'Notch!', 'bite', '', 'pos'])
        await page.keyboard.type(text).then(() => page.keyboard.press('Tab'));
      expect(await cell(page, 'Time, row 2').inputValue()).toBe('11:15');
      expect(await cell(page, 'Species, row 2').inputValue()).toBe('Scyliorhinus canicula');
      expect(await cell(page, 'Electrode, row 2').inputValue()).toBe('positive');
      await page.getByText('New animal: Notch.').waitFor();
      await cell(page, 'Pair, row 2').fill('Q');
      await page.getByText(/^One of A, B/).waitFor();
      await shot(page, 'paper');
      await legible(page, 'paper with a fault');
      await page.reload();
      expect(await cell(page, 'Pair, row 2').inputValue()).toBe('Q');
      await cell(page, 'Pair, row 2').fill('B');
      // What the program alone knows: no season is that old.
      await page.getByRole('textbox', { name: 'Date on the sheet' }).fill('1825-05-12');
      await page.getByRole('button', { name: 'Send 2 passes' }).click();
      await page.getByText('Nothing was sent: the study refuses some of it.').waitFor();
      expect(await cell(page, 'Time, row 2').getAttribute('aria-invalid')).toBe('true');
      expect(await passes()).toEqual([]);
      await legible(page, 'paper refused');
      await page.getByRole('textbox', { name: 'Date on the sheet' }).fill('2025-05-12');
      await page.getByRole('button', { name: 'Send 2 passes' }).click();
      await page.getByText(/^2 passes were written down, paper-0001 to paper-0002\./).waitFor();
      const rows = await passes();
      expect(rows.map((r) => r[0])).toEqual(['paper-0001', 'paper-0002']);
      expect(rows[1]).toEqual(expect.arrayContaining(['T002', 'Notch', 'B', 'yes', 'positive']));
      const { entries } = await bay.ask<History>(`studies/${bay.study}/history?kind=pass&id=paper-0001`);
      expect(entries.map((e) => e.author)).toEqual(['C. Lead']);
      // Nothing is left of the sheet in the browser.
      expect(await page.evaluate(() => Object.keys(localStorage).filter((k) => k.includes('paper')))).toEqual([]);
    },
    { expected: refusals },
  ));

test('paper: a second typing is compared with the first', () =>
  visit(browser, bay.served, at('paper'), async (page) => {
    const row = async (...texts: string[]) => {
      await cell(page, 'Trial, row 1').focus();
      for (const text of texts) await page.keyboard.type(text).then(() => page.keyboard.press('Tab'));
    };
    await row('T001', '0912', 'a', 'scy', '', 'no');
    await page.getByRole('button', { name: 'Type it a second time' }).click();
    await page.getByText('the first one is hidden').waitFor();
    await row('T001', '0921', 'a', 'scy', '', 'no');
    await page.getByRole('button', { name: 'Compare the two' }).click();
    await page.getByText('They differ in 1 cell.').waitFor();
    await legible(page, 'two typings');
    await page.getByRole('button', { name: 'Time, row 1: Keep 09:12' }).click();
    await page.getByText('Both agree in every cell.').waitFor();
    await page.getByRole('button', { name: 'Use this sheet' }).click();
    expect(await cell(page, 'Time, row 1').inputValue()).toBe('09:12');
    await page.getByRole('button', { name: 'Clear the sheet…' }).click();
    await page.getByRole('button', { name: /^Clear the sheet: 1 row/ }).click();
    await page.getByText('No pass is typed in yet.').waitFor();
  }));

test('sheet: as many pages as trials, A4 across, and nothing is cut', () =>
  visit(browser, bay.served, at('sheet'), async (page) => {
    await page.getByRole('textbox', { name: 'How many pages' }).fill('3');
    await page.getByRole('textbox', { name: 'Lines for passes' }).fill('14');
    await page.getByRole('button', { name: 'Print 3 pages' }).waitFor();
    await shot(page, 'sheet');
    await legible(page, 'sheet');
    const columns = await page.locator('.sheet').first().locator('thead th').allInnerTexts();
    const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
    expect(/\/Count (\d+)/.exec(pdf)?.[1]).toBe('3');
    // A4 across in points: 841.9 × 595.3.
    const [, w = 0, h = 0] = (/\/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]/.exec(pdf) ?? []).map(Number);
    expect([Math.round(w), Math.round(h)]).toEqual([842, 595]);
    await page.emulateMedia({ media: 'print' });
    const cut = await page
      .locator('.sheet')
      .evaluateAll((pages) =>
        pages.flatMap((p) =>
          [p, ...p.querySelectorAll('div, dd, th, li, ul, p')]
            .filter(
              (e) =>
                e.scrollHeight > e.clientHeight + 1 && e.clientHeight > 0 && getComputedStyle(e).overflow === 'hidden',
            )
            .map((e) => e.className || e.tagName),
        ),
      );
    expect(cut).toEqual([]);
    const least = await page
      .locator('.sheet tbody tr')
      .evaluateAll((rows) => Math.min(...rows.map((r) => r.getBoundingClientRect().height)));
    expect(least, 'a line that a pencil can write on, 6.5 mm').toBeGreaterThan((6.5 / 25.4) * 96);
    await page.emulateMedia({ media: 'screen' });
    await page.goto(bay.served.base + at('paper'));
    await cell(page, 'Trial, row 1').waitFor();
    const grid = await page.locator('thead th').allInnerTexts();
    expect(columns.map((c) => c.trim()).filter(Boolean)).toEqual(
      grid.map((c) => c.trim()).filter((c) => c && c !== 'Row'),
    );
  }));

test('log: a file that is no log is told by its line, and nothing is taken in', () =>
  visit(
    browser,
    bay.served,
    at('log'),
    async (page) => {
      await page.getByRole('heading', { name: 'What came in' }).waitFor();
      const folder = mkdtempSync(join(tmpdir(), 'brinefield-log-'));
      try {
        const file = join(folder, 'no.deck-log.jsonl');
        writeFileSync(file, 'this is no log\n');
        await page.getByLabel('Choose a file').setInputFiles(file);
        await page.locator('[role=alert], .faults').first().waitFor();
      } finally {
        rmSync(folder, { recursive: true, force: true });
      }
      await shot(page, 'log');
      await legible(page, 'log');
    },
    { expected: refusals },
  ));

test('reconcile: nothing waits where nothing was logged twice', () =>
  visit(browser, bay.served, at('reconcile'), async (page) => {
    await page.getByText('Nothing waits').waitFor();
    await legible(page, 'reconcile');
  }));

test('tablets: off until they are let in', () =>
  visit(browser, bay.served, at('tablets'), async (page) => {
    await page.getByText('Tablets are not let in').waitFor();
    await page.getByRole('button', { name: 'Let tablets in' }).waitFor();
    await shot(page, 'tablets');
    await legible(page, 'tablets');
  }));

test.each([
  ['light', laptop],
  ['dark', tablet],
  ['sunlight', tablet],
  ['night', laptop],
] as const)('every part is legible in %s', (theme, viewport) =>
  visit(
    browser,
    bay.served,
    at('log', bay.sealed),
    async (page) => {
      await page.evaluate((t) => localStorage.setItem('brinefield.theme', t), theme);
      for (const part of ['log', 'reconcile', 'setup', 'tablets', 'paper', 'sheet']) {
        await page.goto(bay.served.base + at(part, bay.sealed));
        await page.getByRole('heading', { level: 2 }).first().waitFor();
        await shot(page, `${part}-${theme}`);
        await legible(page, `${part} in ${theme}`);
      }
    },
    { viewport },
  ),
);

import { readFileSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import type { Exposures } from '../../src/lib/api/types';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import { launch, tablet, visit } from './browser';
import { seasonPath } from './serve';

const season = inject('season');
let browser: Browser;
beforeAll(async () => void (browser = await launch()));
afterAll(() => browser.close());

const shown = (page: Page) => page.getByText(/^\d+( of \d+)? passes$/).innerText();
const rowOf = (page: Page, pass: string) => page.getByRole('row', { name: new RegExp(`^${pass} `) });

test('filters narrow plan and table and stand in the address', () =>
  visit(browser, season, `${seasonPath}/exposures`, async (page) => {
    await expect.poll(() => shown(page)).toBe('646 passes');
    await page.getByRole('combobox', { name: 'Species' }).selectOption('Raja clavata');
    await page.getByRole('combobox', { name: 'Role' }).selectOption('active');
    await page.getByRole('combobox', { name: 'Response' }).selectOption('yes');
    const said = await shown(page);
    expect(said).toMatch(/^\d+ of 646 passes$/);
    const species = await page.locator('tbody tr.row td:nth-child(5)').allInnerTexts();
    expect(new Set(species)).toEqual(new Set(['Raja clavata']));
    expect(page.url()).toContain('species=Raja+clavata');
    await page.reload();
    await expect.poll(() => shown(page)).toBe(said);
    await page.getByRole('button', { name: 'Show all' }).click();
    expect(await shown(page)).toBe('646 passes');
  }));

test('a click on a mark shows the pass, and its row is selected', () =>
  visit(browser, season, `${seasonPath}/exposures?pass=P00003`, async (page) => {
    await page.getByRole('heading', { name: 'Pass P00003' }).waitFor();
    // The ring round the chosen mark says where it is; the mark is then found by hand.
    const plan = page.getByTestId('plan');
    const box = (await plan.boundingBox())!;
    const at = await page.evaluate(() => {
      const paths = [...document.querySelectorAll<SVGPathElement>('[data-testid=plan] .over path')];
      const circle = paths
        .filter((p) => p.getAttribute('d')!.includes('a12 12'))
        .at(-1)!
        .getBoundingClientRect();
      return { x: circle.x + circle.width / 2, y: circle.y + circle.height / 2 };
    });
    await page.getByRole('button', { name: 'Close the pass' }).click();
    await page.getByRole('heading', { name: 'Choose a pass' }).waitFor();
    expect(at.x).toBeGreaterThan(box.x);
    await page.mouse.click(at.x, at.y);
    await page.getByRole('heading', { name: 'Pass P00003' }).waitFor();
    const detail = page.getByRole('region', { name: 'Pass P00003' });
    // The published check of season A: 15.2024 to 30.1545 nV/cm.
    expect(await detail.innerText()).toContain('Turned between 15.2 and 30.2 nV/cm');
    await detail.getByRole('img', { name: /Field along the track of P00003/ }).waitFor();
    expect(await rowOf(page, 'P00003').getAttribute('aria-selected')).toBe('true');
  }));

test('an address that names an unknown pass shows the season without one', () =>
  visit(browser, season, `${seasonPath}/exposures?pass=P9`, async (page) => {
    await page.getByRole('heading', { name: 'Choose a pass' }).waitFor();
    await expect.poll(() => page.url()).not.toContain('P9');
  }));

test('the plan zooms with wheel, buttons and keys, and shows everything again', () =>
  visit(browser, season, `${seasonPath}/exposures`, async (page) => {
    const plan = page.getByTestId('plan');
    await plan.waitFor();
    const scale = () => plan.locator('.over text').last().textContent();
    const before = await scale();
    const box = (await plan.boundingBox())!;
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    for (let i = 0; i < 12; i++) await page.mouse.wheel(0, -240);
    await expect.poll(scale).not.toBe(before);
    await page.getByRole('button', { name: 'Show everything' }).click();
    await expect.poll(scale).toBe(before);
    await plan.focus();
    for (let i = 0; i < 8; i++) await page.keyboard.press('+');
    await expect.poll(scale).not.toBe(before);
    await page.keyboard.press('0');
    await expect.poll(scale).toBe(before);
    await page.keyboard.press('.');
    await page.getByRole('heading', { name: /^Pass P/ }).waitFor();
  }));

test('the keyboard alone reaches a pass in the table', () =>
  visit(browser, season, `${seasonPath}/exposures`, async (page) => {
    await page.getByRole('grid').waitFor();
    await page.keyboard.press('Tab');
    expect(await page.evaluate(() => document.activeElement?.textContent)).toBe('Skip to the page');
    for (let i = 0; i < 60; i++) {
      await page.keyboard.press('Tab');
      if ((await page.evaluate(() => document.activeElement?.getAttribute('role'))) === 'grid') break;
    }
    expect(await page.evaluate(() => document.activeElement?.getAttribute('role'))).toBe('grid');
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('ArrowDown');
    await page.getByRole('heading', { name: 'Pass P00002' }).waitFor();
    await page.keyboard.press('End');
    await page.getByRole('heading', { name: 'Pass P00646' }).waitFor();
    await rowOf(page, 'P00646').waitFor();
    await page.keyboard.press('Enter');
    expect(await page.evaluate(() => document.activeElement?.id)).toBe('pass-title');
  }));

test('the table sorts by a column, what is missing last', () =>
  visit(browser, season, `${seasonPath}/exposures`, async (page) => {
    const column = page.getByRole('columnheader', { name: /Field to/ });
    await column.getByRole('button').click();
    expect(await column.getAttribute('aria-sort')).toBe('ascending');
    await column.getByRole('button').click();
    expect(await column.getAttribute('aria-sort')).toBe('descending');
    const values = (await page.locator('tbody tr.row td:nth-child(10)').allInnerTexts()).map((t) =>
      Number(t.replace(/\s/g, '')),
    );
    expect(values.length).toBeGreaterThan(5);
    expect([...values].sort((a, b) => b - a)).toEqual(values);
  }));

test('the table is saved as filtered, with full digits', () =>
  visit(browser, season, `${seasonPath}/exposures?role=active&responded=yes`, async (page) => {
    const count = Number(/^\d+/.exec(await shown(page))?.[0]);
    const [file] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('button', { name: 'Save the table as CSV' }).click(),
    ]);
    const lines = readFileSync(await file.path(), 'utf8')
      .trim()
      .split('\r\n');
    expect(lines.length).toBe(count + 1);
    const columns = lines[0]!.split(',');
    const first = lines.find((l) => l.startsWith('P00003,'))!.split(',');
    const low = first[columns.indexOf('field_low_nV_per_cm')]!;
    expect(Number(low)).toBeCloseTo(15.20240452194667, 2);
    expect(low.length).toBeGreaterThan(12);
  }));

test('textbook against computed: every pass that has both, by distance or angle, by keys and as a file', () =>
  visit(browser, season, `${seasonPath}/exposures`, async (page) => {
    const section = page.getByRole('region', { name: 'How far is the textbook off?' });
    await section.waitFor();
    const served = (await (
      await page.request.get(`${season.base}/api/studies${seasonPath}/exposures`)
    ).json()) as Exposures;
    // All passes of season A have a track and a height, and none is sealed.
    const both = served.rows.filter((r) => r.textbook_nV_per_cm !== null && (r.position_nV_per_cm ?? 0) > 0);
    expect(both.length).toBe(646);
    const ratios = both.map((r) => r.textbook_nV_per_cm! / r.position_nV_per_cm!);
    const share = (100 * ratios.filter((r) => Math.abs(r - 1) > 0.1).length) / ratios.length;
    const text = (await section.innerText()).replace(/\s+/g, ' ');
    expect(text).toContain(`Passes compared ${both.length}`);
    expect(text).toContain(`Off by more than 10 % ${share.toFixed(0)} %`);
    await section.getByRole('radio', { name: 'by angle' }).check();
    const figure = section.getByRole('application', { name: /divided by the computed one, by angle/ });
    await figure.focus();
    await page.keyboard.press('End');
    // The last dot from the left is the pass with the largest angle.
    const last = both.reduce((a, b) => (b.angle_deg! > a.angle_deg! ? b : a));
    await page.getByRole('heading', { name: `Pass ${last.pass}` }).waitFor();
    const detail = page.getByRole('region', { name: `Pass ${last.pass}` });
    expect(await detail.getByRole('row', { name: /^Textbook form/ }).count()).toBe(1);
    const [file] = await Promise.all([
      page.waitForEvent('download'),
      section.getByRole('button', { name: /^Save textbook against computed by angle as CSV/ }).click(),
    ]);
    const lines = readFileSync(await file.path(), 'utf8')
      .trim()
      .split('\r\n');
    expect(lines.length).toBe(both.length + 1);
    expect(lines[0]).not.toContain('role');
  }));

test('the plan follows two fingers on a tablet', () =>
  visit(
    browser,
    season,
    `${seasonPath}/exposures`,
    async (page) => {
      const plan = page.getByTestId('plan');
      await plan.waitFor();
      const scale = () => plan.locator('.over text').last().textContent();
      const before = await scale();
      const box = (await plan.boundingBox())!;
      const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
      const cdp = await page.context().newCDPSession(page);
      const touch = (type: 'touchStart' | 'touchMove' | 'touchEnd', apart: number) =>
        cdp.send('Input.dispatchTouchEvent', {
          type,
          touchPoints:
            type === 'touchEnd'
              ? []
              : [
                  { x: x - apart, y },
                  { x: x + apart, y },
                ].map((p, id) => ({ ...p, id })),
        });
      await touch('touchStart', 15);
      for (let apart = 20; apart <= 140; apart += 20) await touch('touchMove', apart);
      await touch('touchEnd', 0);
      await expect.poll(scale).not.toBe(before);
    },
    { viewport: tablet, touch: true },
  ));

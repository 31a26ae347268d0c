// Tables and the journal in a browser, on a study of the invented bay. The
// tests follow each other.
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

const table = (kind: string) => `/${bay.study}/tables/${kind}`;
const grid = (page: Page) => page.getByRole('grid');
const rowOf = (page: Page, id: string) => page.getByRole('row', { name: new RegExp(`^${id}\\b`) });

/** cell finds a cell by the heading of its column. */
async function cell(page: Page, id: string, column: string) {
  await rowOf(page, id).waitFor();
  const headings = await page.getByRole('columnheader').allInnerTexts();
  const at = headings.findIndex((h) => h.split('\n')[0] === column);
  expect(at, `column ${column} among ${headings.join()}`).toBeGreaterThan(0);
  return rowOf(page, id).locator('th, td').nth(at);
}

async function type(page: Page, id: string, column: string, text: string) {
  await (await cell(page, id, column)).click();
  await page.keyboard.press('F2');
  await page.getByRole('textbox', { name: `Trial ${id}, ${column}: new value` }).fill(text);
}

test('a cell is edited by keyboard, marked, undone and brought back', () =>
  visit(browser, bay.served, table('trial'), async (page) => {
    await type(page, 'T002', 'Tide', '0.55');
    await page.keyboard.press('Enter');
    await page.getByText('Trial T002, Tide: saved').waitFor();
    const tide = await cell(page, 'T002', 'Tide');
    expect(await tide.innerText()).toBe('0.55');
    await rowOf(page, 'T002').getByRole('button', { name: 'Trial T002: 2 entries, show them' }).waitFor();
    expect(await page.evaluate(() => document.activeElement?.getAttribute('role'))).toBe('grid');
    await page.keyboard.press('Control+z');
    await expect.poll(() => tide.innerText()).toBe('0.4');
    await page.keyboard.press('Control+Shift+z');
    await expect.poll(() => tide.innerText()).toBe('0.55');
    // It is in the study, not only on the page.
    await page.reload();
    expect(await (await cell(page, 'T002', 'Tide')).innerText()).toBe('0.55');
  }));

test('Escape leaves a cell as it was, Tab goes on to the next', () =>
  visit(browser, bay.served, table('trial'), async (page) => {
    await type(page, 'T003', 'Bait', 'mackerel');
    await page.keyboard.press('Escape');
    expect(await (await cell(page, 'T003', 'Bait')).innerText()).toBe('squid');
    await type(page, 'T003', 'Bait', 'mackerel');
    await page.keyboard.press('Tab');
    await page.getByRole('textbox', { name: 'Trial T003, Odour: new value' }).fill('none');
    await page.keyboard.press('Enter');
    await page.getByText('Trial T003, Odour: saved').waitFor();
    expect(await (await cell(page, 'T003', 'Bait')).innerText()).toBe('mackerel');
  }));

test('a value that cannot stand is kept as typed, with the reason at the cell', () =>
  visit(
    browser,
    bay.served,
    table('trial'),
    async (page) => {
      await type(page, 'T004', 'End', '2025-05-13T01:00');
      await page.keyboard.press('Enter');
      const note = page.getByRole('group', { name: 'Not saved: this value cannot stand' });
      await note.getByText('is not after the start').waitFor();
      const end = await cell(page, 'T004', 'End');
      expect(await end.innerText()).toContain('2025-05-13T01:00');
      expect(await end.getAttribute('aria-invalid')).toBe('true');
      await legible(page, 'a refused value');
      await note.getByRole('button', { name: 'Edit' }).click();
      const editor = page.getByRole('textbox', { name: 'Trial T004, End: new value' });
      expect(await editor.inputValue()).toBe('2025-05-13T01:00');
      await editor.fill('2025-05-13T11:55');
      await page.keyboard.press('Enter');
      await page.getByText('Trial T004, End: saved').waitFor();
      // Kept in the text of the season folder.
      expect(await end.innerText()).toBe('2025-05-13T11:55:00');
    },
    { expected: refusals },
  ));

test('a value that somebody else changed meanwhile is shown as it is now', () =>
  visit(
    browser,
    bay.served,
    table('trial'),
    async (page) => {
      await type(page, 'T005', 'Note', 'mine');
      await bay.edit('trial', 'T005', 'note', '', 'theirs');
      await page.keyboard.press('Enter');
      await page.getByText('It is now theirs. You typed mine.').waitFor();
      await page.getByRole('button', { name: 'Write what I typed' }).click();
      await expect.poll(async () => (await cell(page, 'T005', 'Note')).innerText()).toBe('mine');
    },
    { expected: refusals },
  ));

test('one cell is copied and pasted; more than one is refused in words', () =>
  visit(browser, bay.served, table('trial'), async (page) => {
    const paste = (text: string) =>
      page.evaluate((t) => {
        const data = new DataTransfer();
        data.setData('text/plain', t);
        document.activeElement!.dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true }));
      }, text);
    await (await cell(page, 'T006', 'Note')).click();
    await paste('calm\twindy');
    await page.getByText('Only one cell can be pasted at a time').waitFor();
    await paste('calm\r\n');
    await page.getByText('Trial T006, Note: saved').waitFor();
    expect(await (await cell(page, 'T006', 'Note')).innerText()).toBe('calm');
  }));

test('the side panel tells who changed a value, when and why, and takes it back', () =>
  visit(browser, bay.served, table('trial'), async (page) => {
    await page.getByRole('textbox', { name: /^Reason/ }).fill('read from the wrong line');
    await type(page, 'T007', 'Tide', '0.7');
    await page.keyboard.press('Enter');
    await page.getByText('Trial T007, Tide: saved').waitFor();
    await page.keyboard.press('Shift+Enter');
    const panel = page.getByRole('complementary');
    await panel.getByRole('heading', { name: 'Trial T007, Tide' }).waitFor();
    await panel.getByText('Reason: read from the wrong line').waitFor();
    expect(await panel.innerText()).toContain('by N. Example');
    await legible(page, 'the history of a value');
    await panel.getByRole('button', { name: /^Undo: Corrected, Trial T007/ }).click();
    await panel.getByText('Was taken back later').waitFor();
    await panel.getByRole('button', { name: /^Redo/ }).waitFor();
    expect(await (await cell(page, 'T007', 'Tide')).innerText()).toBe('0.6');
    await page.keyboard.press('Escape');
    await expect.poll(() => page.getByRole('complementary').count()).toBe(0);
  }));

test('a row is added and withdrawn; one that others refer to stays', () =>
  visit(
    browser,
    bay.served,
    table('individual'),
    async (page) => {
      await rowOf(page, 'SC01').waitFor();
      await page.getByRole('button', { name: 'Add a row' }).click();
      const dialog = page.getByRole('dialog');
      await dialog.getByRole('button', { name: 'Add the row' }).click();
      await dialog.getByText('Give it a name.').waitFor();
      await dialog.getByRole('textbox', { name: 'Name of the individual' }).fill('SC07');
      await dialog.getByRole('combobox', { name: 'Species' }).selectOption('Scyliorhinus canicula');
      await legible(page, 'a new row');
      await dialog.getByRole('button', { name: 'Add the row' }).click();
      await rowOf(page, 'SC07').waitFor();
      await (await cell(page, 'SC07', 'Species')).click();
      await page.getByRole('button', { name: 'Withdraw this row' }).click();
      await dialog.getByRole('button', { name: 'Withdraw', exact: true }).click();
      await expect.poll(() => rowOf(page, 'SC07').count()).toBe(0);
      await page.getByRole('button', { name: 'Undo', exact: true }).click();
      await rowOf(page, 'SC07').waitFor();
      await page.goto(`${bay.served.base}${table('trial')}`);
      await (await cell(page, 'T001', 'Bait')).click();
      await page.getByRole('button', { name: 'Withdraw this row' }).click();
      await dialog.getByRole('button', { name: 'Withdraw', exact: true }).click();
      await dialog.getByText('It was not withdrawn').waitFor();
      await dialog.getByRole('button', { name: 'Keep it' }).click();
      await rowOf(page, 'T001').waitFor();
    },
    { expected: refusals },
  ));

test('what is sealed is said to be sealed, and no pair or current is on the page', () =>
  visit(browser, bay.served, `/${bay.sealed}/tables/trial`, async (page) => {
    const pair = await cell(page, 'T001', 'Active pair');
    expect(await pair.innerText()).toBe('sealed');
    await pair.click();
    await page.keyboard.press('F2');
    await page.getByText('It stays sealed until somebody opens the active pairs').waitFor();
    expect(await page.getByRole('textbox', { name: /Active pair/ }).count()).toBe(0);
    const held = await bay.ask<{ rows: { cells: string[] }[]; columns: { guarded: boolean }[] }>(
      `studies/${bay.sealed}/tables/trial`,
    );
    held.rows.forEach((r) => r.cells.forEach((c, i) => held.columns[i]!.guarded && expect(c).toBe('')));
    await page.goto(`${bay.served.base}/${bay.sealed}/tables/journal`);
    await page.getByText('Active pair of trial T012').waitFor();
    const entry = page.getByRole('listitem').filter({ hasText: 'Active pair of trial T012' });
    expect(await entry.innerText()).toMatch(/Active pair\s+sealed/);
    expect(await entry.innerText()).not.toContain('Current');
  }));

test('the journal shows the newest first, goes on, and takes back', () =>
  visit(browser, bay.served, `/${bay.study}/tables/journal`, async (page) => {
    await page.getByText('100 entries shown').waitFor();
    await page.getByRole('button', { name: 'Show earlier entries' }).click();
    await expect.poll(() => page.getByText(/^\d+ entries shown$/).innerText()).not.toBe('100 entries shown');
    await legible(page, 'the journal');
    const done = await bay.edit('trial', 'T008', 'note', '', 'by somebody else');
    await page.reload();
    const entry = page.getByRole('listitem').first();
    expect(await entry.innerText()).toContain('by somebody else');
    await entry.getByRole('button', { name: /^Undo: Corrected, Trial T008/ }).click();
    await expect.poll(() => page.getByRole('listitem').first().innerText()).toContain('Taken back');
    const history = await bay.ask<{ entries: { undoes?: string }[] }>(
      `studies/${bay.study}/history?kind=trial&id=T008`,
    );
    expect(history.entries.at(-1)!.undoes).toBe(done.entries[0]!.entry);
  }));

test('readings of a cast and of a track can be looked at', () =>
  visit(
    browser,
    bay.served,
    table('cast'),
    async (page) => {
      await page.getByRole('button', { name: /^Cast 2025-06-16.*show 7 readings/ }).click();
      const dialog = page.getByRole('dialog');
      await expect.poll(() => dialog.getByRole('row').count()).toBe(8);
      await legible(page, 'the readings of a cast');
      await dialog.getByRole('button', { name: 'Close' }).click();
      await page.goto(`${bay.served.base}${table('track')}`);
      await rowOf(page, 'P0001').waitFor();
      await grid(page).focus();
      await page.keyboard.press('ArrowDown');
      await page.keyboard.press('Enter');
      await page.getByRole('heading', { name: 'Readings of Track P0002' }).waitFor();
    },
    { expected: refusals },
  ));

test('a hundred thousand rows scroll, and only what is looked at is read', () =>
  visit(browser, bay.served, '/nothing', async (page) => {
    const asked: number[] = [];
    await page.route('**/tables/pass?*', async (route) => {
      const query = new URL(route.request().url()).searchParams;
      const [offset, limit] = [Number(query.get('offset')), Number(query.get('limit'))];
      asked.push(offset);
      const name = (n: number) => `P${String(n + 1).padStart(6, '0')}`;
      const rows = Array.from({ length: limit }, (_, i) => ({ id: name(offset + i), cells: ['T001'], entries: 1 }));
      const columns = [{ name: 'trial', optional: false, guarded: false }];
      await route.fulfill({
        json: { kind: 'pass', read_only: false, blind: false, total: 100_000, offset, columns, rows },
      });
    });
    await page.goto(`${bay.served.base}${table('pass')}`);
    await rowOf(page, 'P000001').waitFor();
    await grid(page).focus();
    await page.keyboard.press('Control+End');
    await rowOf(page, 'P100000').waitFor();
    expect(await grid(page).getAttribute('aria-rowcount')).toBe('100001');
    expect(await page.locator('tbody tr').count()).toBeLessThan(120);
    expect(new Set(asked)).toEqual(new Set([0, 99_000]));
  }));

test.each([
  ['light', 'laptop', laptop],
  ['dark', 'tablet', tablet],
  ['sunlight', 'laptop', laptop],
  ['night', 'tablet', tablet],
] as const)('tables are legible in %s on a %s', (theme, size, viewport) =>
  visit(
    browser,
    bay.served,
    table('trial'),
    async (page) => {
      await page.getByRole('combobox', { name: 'Theme' }).selectOption(theme);
      await rowOf(page, 'T001').waitFor();
      await legible(page, `tables in ${theme}`);
      if (size === 'tablet') {
        const heights = await page.locator('tbody tr.row').evaluateAll((r) => r.map((x) => x.clientHeight));
        expect(Math.min(...heights)).toBeGreaterThanOrEqual(44);
      }
    },
    { viewport, touch: size === 'tablet' },
  ),
);

// Studies that are made, corrected and opened in a browser. The tests of one
// group follow each other: each finds what the one before left.
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, inject, test } from 'vitest';
import { legible } from './audit';
import { laptop, launch, tablet, visit } from './browser';
import { choose, importNew } from './choose';
import { shelf, type Served } from './serve';

const folders = inject('folders');
const title = 'Tank trials, first summer (invented)';
let browser: Browser;
let served: Served;
let close: () => void;
beforeAll(async () => {
  browser = await launch();
  ({ served, close } = await shelf(inject('binary')));
});
afterAll(async () => {
  close();
  await browser.close();
});
const article = (page: Page, name = 'Raja clavata') => page.getByRole('article', { name });

/** ask calls the API as another window would. */
async function ask<T>(path: string, body?: object): Promise<T> {
  const answer = await fetch(`${served.base}/api/${path}`, {
    method: body ? 'POST' : 'GET',
    headers: { cookie: served.cookie, 'Content-Type': 'application/json' },
    body: body && JSON.stringify(body),
  });
  if (!answer.ok) throw new Error(`${path}: ${answer.status} ${await answer.text()}`);
  return (await answer.json()) as T;
}

describe('a study from a folder', () => {
  test('an empty Home says how to begin', () =>
    visit(browser, served, '/', async (page) => {
      await page.getByRole('heading', { name: 'There is no study yet' }).waitFor();
      expect(await page.getByRole('navigation', { name: 'Sections' }).count()).toBe(0);
    }));

  test('a faulty folder shows its faults beside the rows, and makes nothing', () =>
    visit(browser, served, '/', async (page) => {
      await choose(page, 'Import a season folder', folders.faulty);
      await page.getByRole('heading', { name: 'This folder cannot be imported as it stands' }).waitFor();
      const marked = await page.locator('td.fault').allInnerTexts();
      expect(marked.some((t) => t.startsWith('T0O1'))).toBe(true);
      expect(marked.some((t) => t.startsWith('maybe'))).toBe(true);
      expect(marked.some((t) => t.includes('depth_m = -0.9'))).toBe(true);
      await legible(page, 'faults of a folder');
      // The mended folder, chosen from there.
      await choose(page, 'Choose the folder again', folders.whole);
      await page.getByRole('heading', { name: 'What the study would hold' }).waitFor();
      await page.getByRole('button', { name: 'Cancel the import' }).click();
      await page.getByRole('heading', { name: 'There is no study yet' }).waitFor();
      expect((await ask<{ studies: unknown[] }>('home')).studies).toEqual([]);
    }));

  test('a folder is dropped anywhere on the page', () =>
    visit(browser, served, '/', async (page) => {
      await page.getByRole('heading', { name: 'There is no study yet' }).waitFor();
      const tools = await page.context().newCDPSession(page);
      const drag = (type: 'dragEnter' | 'dragOver' | 'drop') =>
        tools.send('Input.dispatchDragEvent', {
          type,
          x: 640,
          y: 500,
          data: { items: [], files: [folders.whole], dragOperationsMask: 1 },
        });
      await drag('dragEnter');
      await drag('dragOver');
      await page.getByText('Drop the season folder').waitFor();
      await drag('drop');
      await page.getByRole('heading', { name: 'Import “season-a”' }).waitFor();
      await page.getByRole('heading', { name: 'What the study would hold' }).waitFor();
      expect(await page.getByText('Drop the season folder').count()).toBe(0);
      await page.goBack();
      await page.getByRole('heading', { name: 'There is no study yet' }).waitFor();
    }));

  test('a whole folder becomes a study with the same findings', () =>
    visit(browser, served, '/', async (page) => {
      await page.getByRole('button', { name: 'Who is writing?' }).click();
      await page.getByRole('textbox', { name: 'Your name' }).fill('Maeve Kinsella');
      await page.keyboard.press('Enter');
      await page.getByRole('button', { name: 'Writing as Maeve Kinsella' }).waitFor();
      await choose(page, 'Import a season folder', folders.whole);
      await page.getByText('1 thing in the folder left out').click();
      expect(await page.locator('main').innerText()).toContain('README.md');
      const row = (table: string) => page.getByRole('row', { name: new RegExp(`^${table} `) }).innerText();
      expect((await row('Passes')).split(/\s+/)).toEqual(['Passes', '646']);
      expect((await row('Trials')).split(/\s+/)).toEqual(['Trials', '48']);
      await page.getByRole('textbox', { name: 'Name of its folder' }).fill('download');
      await page.getByRole('button', { name: 'Import', exact: true }).click();
      await page.getByText('The program needs this name itself').waitFor();
      await page.getByRole('textbox', { name: 'Name of its folder' }).fill('Bay 2025');
      await page.getByRole('button', { name: 'Import', exact: true }).click();
      await page.getByRole('heading', { name: 'Imported into Bay 2025' }).waitFor();
      await page.getByRole('link', { name: 'See the findings' }).click();
      await page.waitForURL(`${served.base}/Bay%202025/findings`);
      // The published check of season A: medians 16.16 and 32.39 nV/cm.
      await expect.poll(() => article(page).innerText(), { timeout: 30_000 }).toContain('16 nV/cm');
      expect(await article(page, 'Scyliorhinus canicula').innerText()).toContain('32 nV/cm');
      const journal = await ask<{ entries: { author: string }[] }>('studies/Bay%202025/journal?limit=1000');
      expect(new Set(journal.entries.map((e) => e.author))).toEqual(new Set(['Maeve Kinsella']));
    }));

  test('Home shows what is done, and the way on', () =>
    visit(browser, served, '/', async (page) => {
      const card = article(page, title);
      await card.waitFor();
      const text = await card.innerText();
      expect(text).toContain('48 trials · 646 passes · 37 animals');
      expect(await card.getByRole('list', { name: 'The work so far' }).getByRole('listitem').count()).toBe(7);
      await card.getByRole('link', { name: 'Water' }).click();
      await page.waitForURL(`${served.base}/Bay%202025/water`);
      const sections = page.getByRole('navigation', { name: 'Sections' });
      await sections.getByRole('link', { name: 'Findings' }).waitFor();
      expect(await sections.getByRole('link').allInnerTexts()).toEqual([
        'Home',
        'Question',
        'Water',
        'Stimulus',
        'Rig',
        'Background',
        'Schedule',
        'Deck',
        'Footage',
        'Exposures',
        'Findings',
        'Dossier',
        'Tables',
      ]);
      await page.goBack();
      await card.waitFor();
    }));

  test('the same folder again: nothing would change', () =>
    visit(browser, served, '/', async (page) => {
      await choose(page, `Import a corrected folder into ${title}`, folders.whole);
      await page.getByText('Nothing would change').waitFor();
      expect(await page.getByRole('button', { name: 'Nothing to import' }).isDisabled()).toBe(true);
    }));

  test('a corrected folder shows each value, is filtered, and is written as corrections', () =>
    visit(browser, served, '/', async (page) => {
      await choose(page, 'Import a season folder', folders.corrected);
      // The title gives away that it is a copy of a study that is there.
      await page.getByRole('button', { name: 'Import into Bay 2025' }).click();
      const changes = page.getByRole('region', { name: 'Value by value' });
      await changes.getByText('2 changes').waitFor();
      expect(await changes.getByRole('row').allInnerTexts()).toEqual([
        expect.stringContaining('Record'),
        expect.stringMatching(/P00001.*(watched_s\s+3\.36\s+3\.5|total_length_cm\s+72\.7\s+\(blank\))/s),
        expect.stringMatching(/P00001.*(watched_s\s+3\.36\s+3\.5|total_length_cm\s+72\.7\s+\(blank\))/s),
      ]);
      await changes.getByRole('searchbox', { name: 'Search' }).fill('watched');
      await changes.getByText('1 of 2 changes').waitFor();
      await changes.getByRole('searchbox', { name: 'Search' }).fill('');
      const withdraw = page.getByRole('checkbox', { name: /^Withdraw/ });
      await withdraw.check();
      await changes.getByText('4 changes').waitFor(); // the pass and its track
      await withdraw.uncheck();
      expect(await page.getByRole('checkbox', { name: /^Keep sealed/ }).count()).toBe(0);
      await page.getByRole('button', { name: 'Import', exact: true }).click();
      await page.getByRole('heading', { name: 'Imported into Bay 2025' }).waitFor();
      const table = await ask<{ total: number; columns: { name: string }[]; rows: { cells: string[] }[] }>(
        'studies/Bay%202025/tables/pass?limit=1',
      );
      const cell = (name: string) => table.rows[0]!.cells[table.columns.findIndex((c) => c.name === name)];
      expect([cell('watched_s'), cell('total_length_cm')]).toEqual(['3.5', '']);
      expect(table.total, 'what the folder no longer holds stays').toBe(646);
    }));

  test('an edit makes the results old; they are worked out again while the old ones stay', () =>
    visit(browser, served, '/', async (page) => {
      await page.goto(`${served.base}/Bay%202025/findings`);
      await article(page).waitFor({ timeout: 30_000 });
      await page.getByText('Working out again').waitFor({ state: 'hidden', timeout: 30_000 });
      await ask('studies/Bay%202025/edits', {
        changes: [{ kind: 'pass', id: 'P00002', field: 'note', from: '', to: 'seen again' }],
      });
      // Small studies are worked out by themselves; here the program is held back to see what is shown meanwhile.
      let held = true;
      await page.route('**/api/studies/*/results', async (route) => {
        const results = (await (await route.fetch()).json()) as { shown: string; data: string };
        await route.fulfill({
          json: held ? { ...results, state: 'out_of_date', shown: 'before', since: 1 } : results,
        });
      });
      await page.reload();
      const banner = page.getByRole('region', { name: 'State of these results' });
      await banner.getByText('1 entry since these results were made.').waitFor();
      await article(page).waitFor();
      await legible(page, 'results out of date');
      held = false;
      await banner.getByRole('button', { name: 'Work out again' }).click();
      await banner.getByText('up to date again').waitFor({ timeout: 30_000 });
      await article(page).waitFor();
      await page.goto(`${served.base}/Bay%202025/exposures?pass=P00002`);
      await page.getByText('seen again').waitFor();
    }));

  test('the season folder is given back as a zip', () =>
    visit(browser, served, '/', async (page) => {
      const link = page.getByRole('link', { name: `Save as a season folder: ${title} (zip)` });
      const [file] = await Promise.all([page.waitForEvent('download'), link.click()]);
      const bytes = readFileSync(await file.path());
      expect(bytes.subarray(0, 2).toString()).toBe('PK');
      expect(createHash('sha256').update(bytes).digest('hex')).toHaveLength(64);
      expect(file.suggestedFilename()).toMatch(/\.zip$/);
    }));
});

describe('a sealed study', () => {
  test('keeps the active pairs out of every answer until they are opened with a name and a reason', () =>
    visit(browser, served, '/', async (page) => {
      await importNew(page, folders.whole, 'sealed', true);
      const banner = page.getByRole('region', { name: 'State of these results' });
      await banner.getByText('Which pair was active is sealed.').waitFor({ timeout: 30_000 });
      await page.getByText('neither can be estimated').waitFor();
      const exposures = await ask<{ rows: { role: string | null; field_low_nV_per_cm: number | null }[] }>(
        'studies/sealed/exposures',
      );
      expect(exposures.rows).toHaveLength(646);
      expect(exposures.rows.every((r) => r.role === null && r.field_low_nV_per_cm === null)).toBe(true);
      const trials = await ask<{ columns: { name: string; guarded: boolean }[]; rows: { cells: string[] }[] }>(
        'studies/sealed/tables/trial?limit=1000',
      );
      const guarded = trials.columns.flatMap((c, i) => (c.guarded ? [i] : []));
      expect(guarded.length).toBeGreaterThan(1);
      for (const row of trials.rows) for (const i of guarded) expect(row.cells[i]).toBe('');
      await legible(page, 'sealed findings');

      await banner.getByRole('button', { name: 'Open the active pairs…' }).click();
      const dialog = page.getByRole('dialog', { name: 'Open the active pairs' });
      await dialog.getByRole('button', { name: 'Open the active pairs' }).click();
      expect(await dialog.getByRole('alert').count()).toBe(4);
      await legible(page, 'the dialog');
      await dialog.getByRole('checkbox', { name: 'All scoring is finished: lock it' }).check();
      const leave = dialog.getByRole('checkbox', { name: /^Lock although/ });
      if (await leave.isVisible()) await leave.check();
      await dialog.getByRole('checkbox', { name: /cannot be taken back/ }).check();
      await dialog.getByRole('textbox', { name: 'Your name' }).fill('Maeve Kinsella');
      await dialog.getByRole('textbox', { name: 'Why are they opened now?' }).fill('all passes are scored');
      await dialog.getByRole('button', { name: 'Open the active pairs' }).click();
      await dialog.waitFor({ state: 'hidden' });
      await banner.getByText('Which pair was active is sealed.').waitFor({ state: 'hidden' });
      const again = banner.getByRole('button', { name: 'Work out again' });
      if (await again.isVisible()) await again.click();
      await expect.poll(() => article(page).innerText(), { timeout: 30_000 }).toContain('16 nV/cm');
      expect(await page.getByText('Active pairs sealed').count()).toBe(0);
      const journal = await ask<{ entries: { kind: string }[] }>('studies/sealed/journal?limit=10');
      const opening = JSON.stringify(journal.entries.filter((e) => e.kind === 'opening'));
      expect(opening).toContain('Maeve Kinsella');
      expect(opening).toContain('all passes are scored');
    }));
});

describe('an empty study', () => {
  test('is made with a name and a title; its results say what is missing and where to add it', () =>
    visit(browser, served, '/', async (page) => {
      await page.getByRole('button', { name: 'New study' }).click();
      const dialog = page.getByRole('dialog', { name: 'New study' });
      await dialog.getByRole('textbox', { name: 'Title' }).fill('Winter trials (invented)');
      await dialog.getByRole('textbox', { name: 'Name of its folder' }).fill('bay 2025');
      await dialog.getByRole('button', { name: 'Make the study' }).click();
      await dialog.getByText('There is a study of this name already').waitFor();
      await dialog.getByRole('textbox', { name: 'Name of its folder' }).fill('winter');
      await dialog.getByRole('button', { name: 'Make the study' }).click();
      await page.waitForURL(`${served.base}/winter/question`);
      await page.goto(`${served.base}/winter/findings`);
      await page.getByRole('heading', { name: 'This study cannot be analysed yet' }).waitFor();
      expect(await page.getByRole('link', { name: /^Correct it in / }).count()).toBeGreaterThan(0);
      await legible(page, 'what is missing');
    }));

  test('a refused name is told at the name', () =>
    visit(
      browser,
      served,
      '/',
      async (page) => {
        await page.getByRole('button', { name: 'New study' }).click();
        await page.getByRole('textbox', { name: 'Title' }).fill('x');
        await page.getByRole('textbox', { name: 'Name of its folder' }).fill('a/b');
        await page.getByRole('button', { name: 'Make the study' }).click();
        await expect
          .poll(() => page.getByRole('textbox', { name: 'Name of its folder' }).getAttribute('aria-invalid'))
          .toBe('true');
      },
      { expected: /status of 422/ },
    ));
});

describe('no serious fault of accessibility', () => {
  for (const theme of ['light', 'dark', 'sunlight', 'night']) {
    for (const [size, viewport] of Object.entries({ laptop, tablet })) {
      test(`Home and an import in ${theme} on a ${size}`, () =>
        visit(
          browser,
          served,
          '/',
          async (page) => {
            await page.getByRole('combobox', { name: 'Theme' }).selectOption(theme);
            await article(page, title).first().waitFor();
            await legible(page, 'Home');
            await choose(page, 'Import a season folder', folders.corrected);
            await page.getByRole('button', { name: 'Import into Bay 2025' }).click();
            await page.getByText('Not in the folder').waitFor();
            await legible(page, 'the import');
          },
          { viewport, touch: size === 'tablet' },
        ));
    }
  }
});

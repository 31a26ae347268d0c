// Dossier in the whole program: the report is read, words are saved, one package
// is made, saved, checked, and sent in again as a stranger's.
import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import type { Dossier, DossierDifference } from '../../src/lib/api/dossier';
import { legible } from './audit';
import { openBay, type Bay } from './bay';
import { launch, tablet, visit } from './browser';
import { seasonPath } from './serve';

let browser: Browser;
let bay: Bay;
let folder: string;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'brinefield-dossier-'));
  [browser, bay] = await Promise.all([launch(), openBay(inject('binary'))]);
});
afterAll(async () => {
  bay.close();
  await browser.close();
  rmSync(folder, { recursive: true, force: true });
});

const at = (part: string, study = bay.study) => `/${study}/dossier/${part}`;
const view = () => bay.ask<Dossier>(`studies/${bay.study}/dossier`);
const theme = (page: Page, name: string) => page.getByLabel('Theme').selectOption({ label: name });
const part = (page: Page, name: string) =>
  page.getByRole('navigation', { name: 'Parts of the dossier' }).getByRole('link', { name }).click();

test('words are saved, a package is made of them, and it checks', () =>
  visit(browser, bay.served, at('package'), async (page) => {
    await page.getByLabel('Keywords').fill('rays, electric sense,');
    await page.getByLabel('DOI').fill('ten');
    await page.getByRole('button', { name: 'Add a person' }).click();
    await page.keyboard.type('Ada');
    await page.getByLabel('Family name').fill('Sample');
    await page.getByLabel('ORCID iD').fill('https://orcid.org/0000000218250097');
    await page.getByRole('radio', { name: /^CC BY 4.0/ }).check();
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByText('This is no DOI').waitFor();
    expect(await page.evaluate(() => document.activeElement?.getAttribute('aria-invalid'))).toBe('true');
    await page.getByLabel('DOI').fill('https://doi.org/10.1234/invented');
    await page.getByRole('button', { name: 'Save and make the dossier' }).click();
    await page.getByText(/\.zip is made\.$/).waitFor({ timeout: 40_000 });

    const { spec, people, made } = await view();
    expect(spec).toEqual({
      ...{ keywords: ['rays', 'electric sense'], licence: 'CC-BY-4.0', doi: '10.1234/invented' },
    });
    expect(people).toEqual([{ given: 'Ada', family: 'Sample', orcid: '0000-0002-1825-0097' }]);
    expect(made).toHaveLength(1);

    const name = made[0]!.name;
    const [download] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('link', { name: `Save the package: ${name}` }).click(),
    ]);
    const zip = join(folder, 'theirs.zip');
    await download.saveAs(zip);
    expect(statSync(zip).size).toBe(made[0]!.bytes);
    await legible(page, 'package');

    // As a stranger's: sent, and looked at.
    await part(page, 'Compare');
    await page.locator('input[type=file]').setInputFiles(zip);
    await page.getByRole('button', { name: 'Check it: theirs.zip' }).click();
    await page.getByText('Everything is as it should be.').waitFor();
    await compared(page);
    await theme(page, 'Night, red');
    await legible(page, 'comparison at night');

    await part(page, 'Package');
    await page.getByRole('button', { name: `Remove: ${name}` }).click();
    await page.getByRole('button', { name: 'Remove it' }).click();
    await page.getByText('None was made yet.').waitFor();
    expect((await view()).made).toEqual([]);
  }));

/** compared shows an invented difference: to work two packages out takes longer than this test may. */
async function compared(page: Page): Promise<void> {
  const side = { package: 'a.zip', made: '2026-11-29T12:00:00Z', passes: 9, trials: 3 };
  const by = { version: '0.2.0', commit: 'unknown', os_arch: 'linux/amd64' };
  const difference: DossierDifference = {
    ...{ format: 1, inputs_sha256: {}, program: by, warnings: [], note: [], more: 0 },
    ...{ old: { ...side, by }, new: { ...side, by, passes: 10 } },
    causes: [{ cause: 'data', what: ['one pass was added to passes.csv'] }],
    numbers: [
      {
        ...{ what: 'Detection median of Raja clavata', unit: 'nV/cm', by: ['data'] },
        ...{ old: 24.5, after_program: 24.5, after_model: 24.5, after_data: 22, new: 22 },
      },
    ],
    passes: [{ pass: 'P1', what: 'field', was: '3 nV/cm', now: '4 nV/cm', cause: 'data' }],
  };
  await page.route('**/dossier/compare', (r) =>
    r.request().method() === 'POST' ? r.fulfill({ json: difference }) : r.fallback(),
  );
  await page.getByRole('button', { name: 'Compare', exact: true }).click();
  await page.getByText('1 of 1 number of the findings changed.').waitFor();
  expect(await page.getByRole('cell', { name: '−2.5' }).count()).toBe(1);
  await page.getByText('One pass was added to passes.csv.').waitFor();
}

test('the report and its figures are read, in every theme and width', () =>
  visit(
    browser,
    bay.served,
    at('report'),
    async (page) => {
      await page.getByRole('heading', { name: 'Summary' }).waitFor();
      expect(await page.locator('article .missing').count()).toBeGreaterThan(3);
      await page.getByText(/things? that a journal or an archive will still ask for/).click();
      await page.getByRole('link', { name: 'Write it on Dossier, part Package: Ethical statement' }).waitFor();
      await page.setViewportSize({ width: 390, height: 844 });
      await theme(page, 'Dark');
      await legible(page, 'report, narrow, dark');
      await theme(page, 'Sunlight');
      await part(page, 'Figures');
      await page
        .getByRole('link', { name: /^Look at .* large$/ })
        .first()
        .click();
      await page.waitForFunction(() => {
        const img = document.querySelector<HTMLImageElement>('.large img');
        return img?.complete === true && img.naturalWidth > 0;
      });
      const first = new URL(page.url()).search;
      await page.keyboard.press('ArrowRight');
      expect(new URL(page.url()).search).not.toBe(first);
      await page.keyboard.press('Escape');
      await page
        .getByRole('link', { name: /^Look at .* large$/ })
        .first()
        .waitFor();
      await legible(page, 'figures, narrow, sunlight');
      await part(page, 'Report');
      await page.getByRole('heading', { name: 'Summary' }).waitFor();
      await page.emulateMedia({ media: 'print' });
      expect(await page.locator('nav:visible').count(), 'only the report is printed').toBe(0);
    },
    { viewport: tablet },
  ));

test('a season folder says what to do', () =>
  visit(browser, inject('season'), `${seasonPath}/dossier`, async (page) => {
    await page.getByText('import the season into a study').waitFor();
    await legible(page, 'season folder');
  }));

// Blinding on the page Schedule. The tests follow each other: each finds what the
// one before left.
import { readFileSync } from 'node:fs';
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
  // Whoever throws the switch prints all cards, and looks at the wiring.
  const of = `studies/${drawn.study}/schedule`;
  const proof = { key: drawn.keys[1], passphrase: '', author: 'O. Switch' };
  const { token } = await bay.ask<{ token: string }>(`${of}/cards`, proof);
  await bay.ask(`${of}/cards/all`, { token });
  await bay.ask(`${of}/wiring`, { token });
});
afterAll(async () => {
  bay.close();
  await browser.close();
});

const blindingAt = () => `/${drawn.study}/schedule/blinding`;

const step = (page: Page, name: string) =>
  page.getByRole('region', { name: 'How it stands' }).getByRole('listitem').filter({ hasText: name });
const dialog = (page: Page) => page.getByRole('dialog');

test('guesses are written trial by trial, by the one who guesses', () =>
  visit(browser, bay.served, blindingAt(), async (page) => {
    await step(page, 'Rehearsed').getByText('0 of 2 keys').waitFor();
    await step(page, 'Trials run').getByText('4 of 6').waitFor();
    await step(page, 'Scored').getByText('1 pass not scored yet').waitFor();
    await page.getByRole('textbox', { name: 'Who guesses' }).fill('P. Sample');
    const guess = (trial: string) => page.getByRole('combobox', { name: `Which pair was live in ${trial}?` });
    for (const [trial, pair] of [
      ['T001', 'A'],
      ['T002', 'none'],
      ['T003', 'unknown'],
    ] as const) {
      await guess(trial).selectOption(pair);
      await expect.poll(async () => (await drawn.view()).guesses.some((g) => g.trial === trial)).toBe(true);
    }
    await guess('T001').selectOption('B');
    await page.getByText('3 of 4 trials guessed').waitFor();
    await page.getByRole('textbox', { name: 'Note on T001' }).fill('it circled there');
    await page.keyboard.press('Tab');
    await expect
      .poll(async () => (await drawn.view()).guesses.find((g) => g.trial === 'T001'))
      .toMatchObject({ pair: 'B', by: 'P. Sample', note: 'it circled there', late: false });
    await page.getByText('All guesses (3)').click();
    await legible(page, 'guesses');
  }));

test('some trials are opened with the key; the rest stays sealed', () =>
  visit(
    browser,
    bay.served,
    blindingAt(),
    async (page) => {
      await page.getByRole('button', { name: 'Open the active pairs…' }).click();
      await dialog(page).getByRole('radio', { name: 'Chosen trials' }).check();
      await dialog(page).getByText('becomes easier to guess').waitFor();
      await dialog(page).getByRole('button', { name: 'Open these trials' }).click();
      expect(await dialog(page).getByRole('alert').count()).toBeGreaterThan(3);
      await legible(page, 'opening some trials');
      await dialog(page).getByRole('checkbox', { name: 'T002' }).check();
      await dialog(page)
        .getByRole('checkbox', { name: /cannot be taken back/ })
        .check();
      await dialog(page).getByRole('textbox', { name: 'Your name' }).fill('N. Example');
      await dialog(page).getByRole('textbox', { name: 'Why are they opened now?' }).fill('a bite in T002');
      await give(dialog(page), drawn.keys[0], 'wrong');
      await dialog(page).getByRole('button', { name: 'Open 1 trial' }).click();
      await dialog(page).getByRole('alert').waitFor();
      // Tried once, a key is not kept.
      expect(await dialog(page).locator('input[type=password]').inputValue()).toBe('');
      await give(dialog(page), drawn.keys[0], drawn.passphrase);
      await dialog(page).getByRole('button', { name: 'Open 1 trial' }).click();
      await dialog(page).waitFor({ state: 'hidden' });
      await step(page, 'Opened').getByText('Opened so far: T002').waitFor();
      const rows = page.getByRole('region', { name: 'What was drawn' }).locator('tbody tr');
      expect(await rows.count()).toBe(1);
      const view = await drawn.view();
      expect(view.trials.filter((t) => t.opened || t.active_pair).map((t) => t.trial)).toEqual(['T002']);
      await legible(page, 'one trial opened');
    },
    { expected: refusals },
  ));

test('scoring is locked with a reason although a pass is not scored, unlocked, and locked again', () =>
  visit(browser, bay.served, blindingAt(), async (page) => {
    const lock = async () => {
      await page.getByRole('button', { name: 'Lock scoring…', exact: true }).click();
      await dialog(page).getByRole('textbox', { name: 'Your name' }).fill('N. Example');
      await dialog(page).getByRole('button', { name: 'Lock scoring', exact: true }).click();
      expect(await dialog(page).getByRole('alert').count()).toBe(2);
      await legible(page, 'locking');
      await dialog(page)
        .getByRole('checkbox', { name: /Lock although 1 pass is not scored/ })
        .check();
      await dialog(page).getByRole('textbox', { name: 'Why now?' }).fill('the rest was too murky');
      await dialog(page).getByRole('button', { name: 'Lock scoring', exact: true }).click();
      await page.getByText(/^Locked .* by N\. Example: the rest was too murky/).waitFor();
    };
    await lock();
    await page.getByRole('button', { name: 'Unlock scoring…' }).click();
    await dialog(page).getByRole('textbox', { name: 'Why now?' }).fill('one more clip was found');
    await dialog(page).getByRole('button', { name: 'Unlock scoring' }).click();
    await page.getByRole('button', { name: 'Lock scoring…', exact: true }).waitFor();
    expect((await drawn.view()).lock).toBeUndefined();
    await lock();
  }));

test('all of it is opened with the other key; what was drawn and whether guesses beat chance are shown', () =>
  visit(browser, bay.served, blindingAt(), async (page) => {
    await page.getByRole('button', { name: 'Open the active pairs…' }).click();
    await dialog(page)
      .getByRole('checkbox', { name: /cannot be taken back/ })
      .check();
    await dialog(page).getByRole('textbox', { name: 'Your name' }).fill('N. Example');
    await dialog(page).getByRole('textbox', { name: 'Why are they opened now?' }).fill('scoring is finished');
    await give(dialog(page), drawn.keys[1], '');
    await dialog(page).getByRole('button', { name: 'Open the active pairs' }).click();
    await dialog(page).waitFor({ state: 'hidden' });
    const rows = page.getByRole('region', { name: 'What was drawn' }).locator('tbody tr');
    await expect.poll(() => rows.count()).toBe(9);
    const chance = page.getByRole('region', { name: 'Did guesses beat chance?' });
    await chance
      .getByText(/hit \d of 3 guesses/)
      .first()
      .waitFor();
    const picture = chance.getByRole('img', { name: 'Hits of the guesses beside chance' });
    await picture.getByText('all scorers', { exact: true }).waitFor();
    const [file] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('region', { name: 'What was drawn' }).getByRole('button', { name: 'Save as CSV' }).click(),
    ]);
    const csv = readFileSync(await file.path(), 'utf8');
    expect(csv).toMatch(/^trial,spare,block,run,kind,active_pair,current_uA,odour,recorded/);
    expect(csv.trim().split('\r\n')).toHaveLength(10);
  }));

test('who could have known is listed, and what is changed afterwards is marked', () =>
  visit(browser, bay.served, blindingAt(), async (page) => {
    const knowers = page.getByRole('region', { name: 'Who could have known what' });
    await knowers
      .getByRole('row', { name: /O\. Switch.*printed all cards/ })
      .first()
      .waitFor();
    await knowers
      .getByRole('row', { name: /O\. Switch.*which pair is wired/ })
      .first()
      .waitFor();
    await bay.ask(`studies/${drawn.study}/edits`, {
      author: 'P. Sample',
      reason: 'looked again',
      changes: [{ kind: 'pass', id: 'P0001', field: 'turned', from: 'no', to: 'yes' }],
    });
    await page.reload();
    const after = page.getByRole('region', { name: 'Scored or changed after the opening' });
    await after.getByRole('row', { name: /Pass P0001.*T001.*no.*yes.*P\. Sample.*looked again/ }).waitFor();
  }));

test.each([
  ['light', laptop],
  ['dark', tablet],
  ['sunlight', tablet],
  ['night', laptop],
] as const)('Blinding is legible in %s', (theme, viewport) =>
  visit(
    browser,
    bay.served,
    blindingAt(),
    async (page) => {
      await page.getByRole('combobox', { name: 'Theme' }).selectOption(theme);
      await page.getByRole('region', { name: 'What was drawn' }).waitFor();
      await legible(page, `Blinding in ${theme}`);
      await page.setViewportSize({ width: 390, height: 844 });
      await legible(page, `Blinding on a telephone in ${theme}`);
    },
    { viewport },
  ),
);

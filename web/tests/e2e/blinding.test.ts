// Cards and Blinding of the page Schedule. The tests of one group follow each
// other: each finds what the one before left.
import { readFileSync } from 'node:fs';
import type { Browser, Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, inject, test } from 'vitest';
import { legible } from './audit';
import { openBay, refusals, type Bay } from './bay';
import { laptop, launch, tablet, visit } from './browser';
import { drawStudy, type Drawn } from './drawn';

let browser: Browser;
let bay: Bay;
let drawn: Drawn;
beforeAll(async () => {
  browser = await launch();
  bay = await openBay(inject('binary'));
  drawn = await drawStudy(bay, 'drawn');
});
afterAll(async () => {
  bay.close();
  await browser.close();
});

const cardsAt = () => `/${drawn.study}/schedule/cards`;
const blindingAt = () => `/${drawn.study}/schedule/blinding`;
const face = (page: Page) => page.getByRole('region', { name: 'The card' });
/** What a card says in words. */
const settings = /Current|µA|Polarity/;

/** give fills in a secret key as its file. */
async function give(form: Page | Locator, secret: string, passphrase: string): Promise<void> {
  await form.locator('input[type=file]').setInputFiles({
    name: 'key.txt',
    mimeType: 'text/plain',
    buffer: Buffer.from(secret),
  });
  await form.locator('input[type=password]').fill(passphrase);
}
async function take(page: Page): Promise<void> {
  await give(page, drawn.keys[0], drawn.passphrase);
  await page.getByRole('textbox', { name: 'Your name' }).fill('O. Switch');
  await page.getByRole('button', { name: 'Take the cards' }).click();
  await face(page).waitFor();
}
/** kept is everything that outlives a part of the page, as text. */
const kept = (page: Page) =>
  page.evaluate(async () =>
    JSON.stringify([
      { ...localStorage },
      { ...sessionStorage },
      location.href,
      document.title,
      history.state,
      await caches.keys().catch(() => []),
    ]),
  );

describe('cards', () => {
  test('one at a time, hidden until it is asked for, and gone when the page is left', () =>
    visit(browser, bay.served, cardsAt(), async (page) => {
      await page.getByRole('button', { name: 'Take the cards' }).click();
      expect(await page.getByRole('alert').count()).toBeGreaterThan(0);
      await take(page);
      // The first that has not been run.
      expect(await page.getByLabel('Trial', { exact: true }).inputValue()).toBe('T005');
      expect(await face(page).innerText()).not.toMatch(settings);
      await page.getByRole('button', { name: 'Show the card' }).click();
      await face(page).getByText('Current').waitFor();
      expect(await face(page).locator('dd').first().innerText()).toMatch(/^([12]|OFF)$/);
      expect(await face(page).locator('dd').nth(1).innerText()).toMatch(/^[69] µA$/);
      await legible(page, 'a card');
      const text = await kept(page);
      for (const word of ['T005', 'µA', 'token', 'AGE-SECRET']) expect(text).not.toContain(word);
      await page.getByRole('button', { name: 'Next trial' }).click();
      expect(await page.getByLabel('Trial', { exact: true }).inputValue()).toBe('T006');
      expect(await face(page).innerText()).not.toMatch(settings);
      await page.getByLabel('Trial', { exact: true }).selectOption('S002');
      await face(page).focus();
      await page.keyboard.press('Space');
      await face(page).getByText('Current').waitFor();
      await page.keyboard.press('Space');
      expect(await face(page).innerText()).not.toMatch(settings);
      await page.keyboard.press('n');
      expect(await page.getByLabel('Trial', { exact: true }).inputValue()).toBe('S003');
      // Another window comes to the front.
      await page.keyboard.press('Space');
      await face(page).getByText('Current').waitFor();
      await page.evaluate(() => window.dispatchEvent(new Event('blur')));
      await page.getByText('Hidden, because another window').waitFor();
      expect(await face(page).innerText()).not.toMatch(settings);
      // Left, and come back to.
      await face(page).focus();
      await page.keyboard.press('Space');
      await face(page).getByText('Current').waitFor();
      await page.getByRole('link', { name: 'Blinding' }).click();
      await page.getByRole('heading', { name: 'How it stands' }).waitFor();
      expect(await page.locator('main').innerText()).not.toContain('µA');
      await page.goBack();
      await page.getByRole('button', { name: 'Take the cards' }).waitFor();
      expect(await page.locator('input[type=password]').inputValue()).toBe('');
    }));

  test('a key that does not open it is refused in words', () =>
    visit(
      browser,
      bay.served,
      cardsAt(),
      async (page) => {
        await give(page, drawn.keys[0], 'not the passphrase');
        await page.getByRole('textbox', { name: 'Your name' }).fill('O. Switch');
        await page.getByRole('button', { name: 'Take the cards' }).click();
        await page.getByRole('alert').first().waitFor();
        expect(await face(page).count()).toBe(0);
      },
      { expected: refusals },
    ));

  test('fold-over cards are on paper only, and out of the page after it', () =>
    visit(browser, bay.served, cardsAt(), async (page) => {
      await page.evaluate(() => (window.print = () => undefined));
      await take(page);
      await page.getByRole('button', { name: 'Fold-over cards to print…' }).click();
      const dialog = page.getByRole('dialog');
      await dialog.getByText('A print queue').waitFor();
      await legible(page, 'before printing');
      await dialog.getByRole('button', { name: 'Print 9 cards' }).click();
      await page.getByText('for the printer only').waitFor();
      expect(await page.locator('.strip').first().isVisible()).toBe(false);
      await page.emulateMedia({ media: 'print' });
      expect(await page.locator('.strip').count()).toBe(9);
      expect(await page.locator('.strip').first().isVisible()).toBe(true);
      expect(await page.getByRole('button', { name: 'Show the card' }).isVisible()).toBe(false);
      const heights = await page
        .locator('.strip')
        .evaluateAll((all) => all.map((s) => s.getBoundingClientRect().height));
      // 29 mm: eight strips and the heading on a page of A4 or Letter, and all of one height.
      for (const h of heights) expect(h).toBeCloseTo((29 / 25.4) * 96, 0);
      const clipped = await page
        .locator('.strip dd')
        .evaluateAll((all) => all.filter((d) => d.scrollWidth > d.clientWidth + 1).length);
      expect(clipped).toBe(0);
      const pdf = (await page.pdf({ preferCSSPageSize: true, format: 'Letter' })).toString('latin1');
      expect(/\/Count (\d+)/.exec(pdf)?.[1]).toBe('2');
      await page.evaluate(() => window.dispatchEvent(new Event('afterprint')));
      await expect.poll(() => page.locator('.strip').count()).toBe(0);
    }));

  test('the wiring is shown after a warning, and put away', () =>
    visit(browser, bay.served, cardsAt(), async (page) => {
      await take(page);
      await page.getByRole('button', { name: 'Wiring card…' }).click();
      await page.getByRole('dialog').getByText('must not score').waitFor();
      await legible(page, 'before the wiring');
      await page.getByRole('button', { name: 'Show it here' }).click();
      await face(page).getByText('Position 2').waitFor();
      await legible(page, 'the wiring');
      await page.getByRole('button', { name: 'Put the cards away' }).click();
      await page.getByText('The cards are put away.').waitFor();
      expect(await page.locator('main').innerText()).not.toContain('Position');
    }));

  test.each([
    ['light', laptop],
    ['dark', tablet],
    ['sunlight', tablet],
    ['night', laptop],
  ] as const)('cards are legible in %s', (theme, viewport) =>
    visit(
      browser,
      bay.served,
      cardsAt(),
      async (page) => {
        await page.getByRole('combobox', { name: 'Theme' }).selectOption(theme);
        await legible(page, `taking cards in ${theme}`);
        await take(page);
        await page.getByRole('button', { name: 'Show the card' }).click();
        await face(page).getByText('Current').waitFor();
        await legible(page, `a card in ${theme}`);
        await page.setViewportSize({ width: 390, height: 844 });
        await legible(page, `a card on a telephone in ${theme}`);
      },
      { viewport },
    ),
  );
});

describe('blinding', () => {
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
        await page.getByRole('button', { name: 'Lock scoring…' }).click();
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
      await page.getByRole('button', { name: 'Lock scoring…' }).waitFor();
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
      await picture.getByText('all scorers').waitFor();
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
});

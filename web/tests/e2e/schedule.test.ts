import { readFileSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import type { Schedule, ScheduleDocument } from '../../src/lib/api/schedule';
import { legible } from './audit';
import { openBay, refusals, type Bay } from './bay';
import { launch, tablet, visit } from './browser';
import { seasonPath } from './serve';

const passphrase = 'kelp lantern ninety violin';
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

const study = 'next-season';
const address = (part: string) => `/${study}/schedule/${part}`;
const view = (of = study) => bay.ask<Schedule>(`studies/${of}/schedule`);
const named = (page: Page) => page.evaluate(() => localStorage.setItem('brinefield.writer', 'C. Lead'));
const shot = async (page: Page, name: string) => {
  if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/${name}.png`, fullPage: true });
};
/** A study whose season has pairs and no trials yet. */
async function make(name: string, title: string): Promise<void> {
  await bay.ask('studies', { study: name, title, author: 'C. Lead' });
  const pair = (id: string, x: number) => ({
    ...{ kind: 'pair', id },
    fields: {
      centre_m: `[${x}, 0]`,
      electrode_diameter_m: '0.01',
      azimuth_deg: '0',
      separation_m: '0.1',
      height_m: '0',
    },
  });
  const add = ['A', 'B', 'C', 'D'].map((id, i) => pair(id, i - 1.5));
  await bay.ask(`studies/${name}/edits`, { author: 'C. Lead', add });
}
const example = (page: Page) => page.getByRole('img', { name: /^Example of a schedule/ });

let leadKey = '';
let recoveryKey = '';

test('a plan shows at once what it could draw, and a fault stands at its field', async () => {
  await make(study, 'Next season');
  await visit(
    browser,
    bay.served,
    address('plan'),
    async (page) => {
      await page.getByRole('heading', { name: 'An example of what this plan draws' }).waitFor();
      await page.getByLabel('D', { exact: true }).uncheck();
      await expect.poll(() => example(page).locator('desc').textContent()).not.toContain('pair D');
      await page.getByLabel('D', { exact: true }).check();
      await page.getByLabel('Currents, µA', { exact: true }).fill('6, 10.5');
      await page.getByLabel('Currents, µA', { exact: true }).blur();
      await page.getByLabel('Trials', { exact: true }).fill('24');
      await page.getByLabel('Silent trials', { exact: true }).fill('2');
      await page.getByLabel('Shams', { exact: true }).fill('2');
      await page.getByLabel('Without odour', { exact: true }).fill('3');
      await page.getByLabel('Draw the polarity', { exact: true }).check();
      await page.getByLabel('Each pair in a block', { exact: true }).fill('2');
      await page.getByLabel('Spare draws', { exact: true }).fill('4');
      await page.getByLabel('Trials a day', { exact: true }).fill('5');
      await example(page).waitFor();
      await expect.poll(() => example(page).locator('desc').textContent()).toMatch(/24 trials.*2 silent, 2 shams/);
      await page.getByText('Example, not the sealed schedule', { exact: true }).first().waitFor();
      await page.getByText(/names the live pair in 1 of 4 trials/).waitFor();
      await page.getByText('Day 5', { exact: true }).first().waitFor();
      const drawn = () => example(page).locator('path title').allTextContents();
      const first = await drawn();
      await page.getByRole('button', { name: 'Another example' }).click();
      await expect.poll(async () => (await drawn()).join()).not.toBe(first.join());
      await shot(page, 'plan');
      await page.getByLabel('Without odour', { exact: true }).fill('21');
      await page.getByText(/21 trials without odour; expected at most the 20/).waitFor();
      expect(await page.getByLabel('Without odour', { exact: true }).getAttribute('aria-invalid')).toBe('true');
      await example(page).waitFor();
      await legible(page, 'a refused plan');
      await page.getByLabel('Without odour', { exact: true }).fill('many');
      await page.getByText('A whole number, 0 or more.').waitFor();
      const [file] = await Promise.all([
        page.waitForEvent('download'),
        page.getByRole('button', { name: 'Save example of a schedule as CSV' }).click(),
      ]);
      expect(readFileSync(await file.path(), 'utf8')).toMatch(/^note,trial,spare,day,block,kind,active_pair/);
    },
    { expected: refusals },
  );
});

test('keys are made, the schedule is drawn and sealed, and nothing of it is seen', () =>
  visit(browser, bay.served, address('plan'), async (page) => {
    await named(page);
    await page.reload();
    await page.getByLabel('Trials', { exact: true }).fill('16');
    await page.getByLabel('Currents, µA', { exact: true }).fill('6');
    await page.getByLabel('Currents, µA', { exact: true }).blur();
    await page.getByLabel('Trials a day', { exact: true }).fill('4');
    await page.getByRole('link', { name: 'Seal', exact: true }).click();
    expect(page.url()).toContain(address('seal'));
    const draw = page.getByRole('button', { name: 'Draw and seal …' });
    expect(await draw.isDisabled()).toBe(true);

    const lead = page.getByRole('form', { name: 'The lead’s key' });
    await lead.getByLabel('Who holds it').fill('C. Lead');
    await lead.getByLabel('Passphrase').fill(passphrase);
    await lead.getByLabel('The same once more').fill('another');
    await lead.getByRole('button', { name: /^Make the key/ }).click();
    await lead.getByText('The two are not the same.').waitFor();
    await lead.getByLabel('The same once more').fill(passphrase);
    const [file] = await Promise.all([
      page.waitForEvent('download'),
      lead.getByRole('button', { name: /^Make the key/ }).click(),
    ]);
    leadKey = readFileSync(await file.path(), 'utf8');
    expect(file.suggestedFilename()).toMatch(/^brinefield-key-[a-z0-9]{6}\.txt$/);
    expect(leadKey).not.toContain('AGE-SECRET-KEY-1'); // protected

    const paper = page.getByRole('form', { name: 'The recovery key' });
    await paper.getByLabel('Where the paper is kept').fill('Safe of the institute');
    await paper.getByRole('button', { name: 'Make the recovery key' }).click();
    recoveryKey = (await paper.locator('.secret').textContent()) ?? '';
    expect(recoveryKey.replace(/\s/g, '')).toMatch(/^AGE-SECRET-KEY-1[A-Z0-9]{58}$/);
    await shot(page, 'keys');
    await legible(page, 'the recovery key');
    await page.emulateMedia({ media: 'print' });
    expect(await page.getByRole('heading', { name: 'The lead’s key' }).isVisible()).toBe(false);
    const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
    expect(/\/Count (\d+)/.exec(pdf)?.[1]).toBe('1');
    await page.emulateMedia({ media: 'screen' });
    expect(await draw.isDisabled()).toBe(true); // not put away yet
    await paper.getByLabel('Printed and put away').check();
    await paper.getByRole('button', { name: /^Done/ }).click();
    expect(await page.content()).not.toContain(recoveryKey.trim().slice(-9));

    await draw.click();
    const dialog = page.getByRole('dialog');
    await dialog.getByText(/Nobody will see it/).waitFor();
    await legible(page, 'the last question');
    await dialog.getByRole('button', { name: 'Draw and seal', exact: true }).click();
    await page.getByRole('heading', { name: 'The seal', exact: true }).waitFor();
    await page.getByText('2 keys were never seen to open it').waitFor();
    const now = await view();
    expect(now.seals).toHaveLength(1);
    expect((await page.locator('.seal').first().textContent())?.replace(/\s/g, '')).toBe(now.seals[0]!.seal);
    expect(now.trials.every((t) => !t.opened && t.kind === undefined && t.active_pair === undefined)).toBe(true);
    const left = await page.evaluate(
      () => JSON.stringify({ ...localStorage }) + location.href + JSON.stringify(history.state),
    );
    for (const secret of [passphrase, 'AGE-SECRET', recoveryKey.slice(-9)]) expect(left).not.toContain(secret);
  }));

test('both keys are rehearsed, a wrong one is refused', () =>
  visit(
    browser,
    bay.served,
    address('seal'),
    async (page) => {
      await named(page);
      await page.reload();
      const part = page.getByRole('region', { name: 'Rehearse the opening' });
      const attempt = part.getByRole('button', { name: 'Try the key' });
      await attempt.click();
      await part.getByText('Choose the key’s file, or type the key from paper.').waitFor();
      const key = { name: 'key.txt', mimeType: 'text/plain', buffer: Buffer.from(leadKey) };
      await part.getByLabel('The key’s file').setInputFiles(key);
      await part.getByLabel('Its passphrase').fill('wrong');
      await attempt.click();
      await part
        .getByText(/passphrase/i)
        .and(part.getByRole('alert'))
        .waitFor();
      await legible(page, 'a refused key');
      await part.getByLabel('Its passphrase').fill(passphrase);
      await attempt.click();
      await part.getByText(/\(C\. Lead\) opens it/).waitFor();
      expect(await part.getByLabel('Its passphrase').inputValue()).toBe('');
      await page.getByText('One key was never seen to open it').waitFor();
      await part.getByLabel('Typed from paper').check();
      await part.getByLabel('Recovery key').fill(recoveryKey.replace('AGE-SECRET-KEY-1', '').toLowerCase());
      await part.getByText('58 of 58 letters').waitFor();
      await attempt.click();
      await part.getByText(/\(Safe of the institute\) opens it/).waitFor();
      expect(await part.getByLabel('Recovery key').count()).toBe(0);
      await page.getByText('Every key was seen to open it.').waitFor();
      expect((await view()).seals[0]!.keys.every((k) => k.rehearsed?.by === 'C. Lead')).toBe(true);
      await shot(page, 'sealed');
    },
    { expected: refusals },
  ));

test('the seal is checked, downloaded and printed alone on one page', () =>
  visit(browser, bay.served, address('seal'), async (page) => {
    await page.getByRole('button', { name: 'Check', exact: true }).click();
    await page.getByText('The sealed document in this study has this seal.').waitFor();
    await page.getByText('brinefield verify schedule.json').first().waitFor();
    const [file] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('link', { name: 'Download schedule.json' }).click(),
    ]);
    const doc = JSON.parse(readFileSync(await file.path(), 'utf8')) as ScheduleDocument;
    expect(doc.seal).toBe((await view()).seals[0]!.seal);
    expect(JSON.stringify(doc)).not.toMatch(/"active_pair"|"kind"/);
    await page.getByRole('button', { name: 'Show the sheet' }).click();
    await page.getByRole('heading', { name: /^Seal of the schedule/ }).waitFor();
    await shot(page, 'sheet');
    await legible(page, 'the sheet of the seal');
    await page.emulateMedia({ media: 'print' });
    expect(await page.getByRole('heading', { name: 'Keys that open it' }).isVisible()).toBe(false);
    const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
    expect(/\/Count (\d+)/.exec(pdf)?.[1]).toBe('1');
  }));

test('another one needs a reason, a pasted key is one that can be pasted', () =>
  visit(browser, bay.served, address('seal'), async (page) => {
    await named(page);
    await page.reload();
    const before = (await view()).seals[0]!;
    await page.getByText('Seal another one').click();
    const paste = page.getByRole('form', { name: 'A key that somebody has' });
    await paste.getByLabel('Public key').fill('AGE-SECRET-KEY-1QQQQ');
    await paste.getByText(/This is a secret key/).waitFor();
    for (const [i, key] of before.keys.entries()) {
      await paste.getByLabel('Public key').fill(key.public);
      await paste.getByLabel('Who holds it').fill(`Holder ${i + 1}`);
      await paste.getByRole('button', { name: 'Add the key' }).click();
    }
    await page.getByText('None of these keys is on paper').waitFor();
    await page.getByRole('button', { name: 'Draw and seal …' }).click();
    const dialog = page.getByRole('dialog');
    await dialog.getByRole('button', { name: 'Draw and seal', exact: true }).click();
    await dialog.getByText('Say why another one is sealed.').waitFor();
    await dialog.getByLabel('Reason').fill('The boat takes one pair less');
    await dialog.getByRole('button', { name: 'Draw and seal', exact: true }).click();
    await page.getByText('Seals before it').click();
    await page.getByText(`${before.seal.slice(0, 16)} …`).waitFor();
    const now = await view();
    expect(now.seals.map((s) => s.in_force)).toEqual([false, true]);
    expect(now.seals[1]!.seal).not.toBe(before.seal);
  }));

test('one that was sealed elsewhere is taken in, what is none is refused', async () => {
  const other = 'elsewhere';
  await make(other, 'Elsewhere');
  const doc = await bay.ask<ScheduleDocument>(`studies/${study}/schedule/document`);
  await visit(browser, bay.served, `/${other}/schedule/seal`, async (page) => {
    await named(page);
    await page.reload();
    const part = page.getByRole('region', { name: 'Take in one that was sealed elsewhere' });
    const choose = (text: string) =>
      part
        .getByLabel('File schedule.json')
        .setInputFiles({ name: 'schedule.json', mimeType: 'application/json', buffer: Buffer.from(text) });
    await choose('{"seal": 3}');
    await part.getByText(/This file is no sealed schedule/).waitFor();
    await choose(JSON.stringify(doc));
    await part
      .getByLabel(/^Who holds the key/)
      .first()
      .fill('D. Ashore');
    await part.getByRole('button', { name: 'Take it in' }).click();
    await part.getByText('Say who holds it.').waitFor();
    await part
      .getByLabel(/^Who holds the key/)
      .last()
      .fill('Safe of the institute');
    await part.getByRole('button', { name: 'Take it in' }).click();
    await page.getByRole('heading', { name: 'The seal', exact: true }).waitFor();
    await page.getByText('D. Ashore').first().waitFor();
    expect((await view(other)).seals[0]!.seal).toBe(doc.seal);
  });
});

test(
  'all themes, on a tablet and on a telephone',
  () =>
    visit(
      browser,
      bay.served,
      address('plan'),
      async (page) => {
        await example(page).waitFor();
        for (const part of ['Plan', 'Seal']) {
          await page.getByRole('link', { name: part, exact: true }).click();
          await page.getByText(part === 'Plan' ? 'How even it came out' : 'Keys that open it').waitFor();
          for (const theme of ['light', 'dark', 'sunlight', 'night']) {
            await page.getByLabel('Theme').selectOption(theme);
            await legible(page, `${part}, ${theme}`);
            await shot(page, `${part}-${theme}`);
          }
        }
        await page.setViewportSize({ width: 390, height: 844 });
        for (const part of ['Plan', 'Seal']) {
          await page.getByRole('link', { name: part, exact: true }).click();
          await page.waitForTimeout(400);
          await legible(page, `${part} on a telephone`);
          await shot(page, `${part}-phone`);
        }
      },
      { viewport: tablet, touch: true },
    ),
  180_000,
);

test('a season folder: a plan can be tried, nothing can be sealed', () =>
  visit(browser, inject('season'), `${seasonPath}/schedule`, async (page) => {
    await page.getByText('This study is shown read-only').waitFor();
    await example(page).waitFor();
    await page.getByRole('heading', { name: 'The trials of the season' }).waitFor();
    await page.getByRole('link', { name: 'Seal', exact: true }).click();
    await page.getByText('No schedule is sealed, and this study is shown read-only.').waitFor();
    expect(await page.getByRole('button', { name: /^Draw and seal/ }).count()).toBe(0);
  }));

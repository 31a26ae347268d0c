// Two tablets log the same trial, and the laptop makes one log of it: what came
// in, what was logged twice, a clock that ran ahead, and a log carried as a file.
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import type { Browser, Page } from 'playwright-core';
import type { DeckLog } from '../../../src/lib/api/types';
import type { History } from '../../../src/lib/api/studies';
import { legible } from '../audit';
import { laptop } from '../browser';
import { beginBeside, chooseRay, log, openAs, pairUp, status } from './hands';
import { Program, tablet } from './program';

const copy = 'bay-copy';
const aheadMs = 90_000;
/** No other number on these pages looks like it. */
const currentUA = '37.25';
const shots = process.env.BRINEFIELD_SHOTS;

let program: Program;
let browser: Browser;
let desk: Page;
let scorer: Page;
let operator: Page;
const complaints: string[] = [];

beforeAll(async () => {
  program = await Program.start(inject('binary'), inject('seasonFolder'), { blind: true, copy });
  browser = await program.launch();
  scorer = await (await browser.newContext(tablet)).newPage();
  const fast = await browser.newContext(tablet);
  await fast.addInitScript((ms) => {
    const Right = Date;
    globalThis.Date = class extends Right {
      constructor(...a: unknown[]) {
        super(...((a.length > 0 ? a : [Right.now() + ms]) as [number]));
      }
      static override now = () => Right.now() + ms;
    } as DateConstructor;
  }, aheadMs);
  operator = await fast.newPage();
  for (const p of [scorer, operator]) p.setDefaultTimeout(10_000);
  desk = await (await browser.newContext({ viewport: laptop, reducedMotion: 'reduce' })).newPage();
  desk.setDefaultTimeout(10_000);
  desk.on('pageerror', (e) => complaints.push(String(e)));
  desk.on('console', (m) => {
    if (m.type() === 'error' || m.type() === 'warning') complaints.push(m.text());
  });
  await desk.goto(program.serving.link);
});
afterAll(() => program?.end());

const at = (part: string, study = 'bay') => `${new URL(program.serving.link).origin}/${study}/deck/${part}`;

/** ask is what the laptop's own page may read. */
const ask = <T>(path: string, body?: object): Promise<T> =>
  desk.evaluate(
    async ([path, body]) => {
      const answer = await fetch(`/api/${path}`, {
        method: body ? 'POST' : 'GET',
        headers: { 'Content-Type': 'application/json' },
        body: body || null,
      });
      if (!answer.ok) throw new Error(`${path}: ${answer.status} ${await answer.text()}`);
      return (await answer.json()) as unknown;
    },
    [path, body ? JSON.stringify(body) : ''],
  ) as Promise<T>;

const cameIn = (study = 'bay') => ask<DeckLog>(`studies/${study}/deck/log`);

const shot = async (name: string) => {
  if (shots) await desk.screenshot({ path: join(shots, `${name}.png`) });
};

async function allSafe(page: Page): Promise<void> {
  await expect.poll(() => status(page), { timeout: 20_000 }).toMatch(/^(\d+) saved on this tablet · \1 safe/);
}

/** A photo of a few kilobytes, as a camera of 4 : 3 would make it. */
async function photo(page: Page): Promise<Buffer> {
  const url = await page.evaluate(() => {
    const c = document.createElement('canvas');
    [c.width, c.height] = [320, 240];
    const g = c.getContext('2d')!;
    const sea = g.createLinearGradient(0, 0, 0, 240);
    sea.addColorStop(0, '#7fb3c8');
    sea.addColorStop(1, '#1f4a5c');
    g.fillStyle = sea;
    g.fillRect(0, 0, 320, 240);
    g.fillStyle = '#b79f7a';
    g.beginPath();
    g.ellipse(160, 150, 70, 40, 0, 0, 7);
    g.fill();
    return c.toDataURL('image/jpeg', 0.8);
  });
  return Buffer.from(url.slice(url.indexOf(',') + 1), 'base64');
}

async function savedLog(page: Page): Promise<{ path: string; name: string }> {
  await page.locator('button.status').click();
  const [file] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('button', { name: 'Save the file' }).click(),
  ]);
  const name = file.suggestedFilename();
  const path = join(program.home, name);
  await file.saveAs(path);
  await page.getByRole('button', { name: 'Close' }).click();
  return { path, name };
}

/** sign answers what is asked before something is written. */
async function sign(reason: string, go: string | RegExp): Promise<void> {
  const dialog = desk.getByRole('dialog');
  await dialog.getByRole('textbox', { name: 'Reason' }).fill(reason);
  const name = dialog.getByRole('textbox', { name: 'Your name' });
  if (await name.isVisible()) await name.fill('C. Lead');
  await dialog.getByRole('button', { name: go }).click();
  await dialog.waitFor({ state: 'detached' });
}

test('two tablets log one trial, and the laptop makes one log of it', async () => {
  // Both are let in, and log the same animal within seconds.
  await pairUp(operator, program.serving, program.serving.code, /Tank trials/, 'Yellow tablet');
  const { code } = await ask<{ code: string }>('tablets/code', { study: 'bay', role: 'scorer', author: 'C. Lead' });
  await pairUp(scorer, program.serving, code, /Tank trials/, 'Blue tablet');
  await openAs(operator, 'Tomas Reyle');
  await operator.getByRole('button', { name: 'Trial', exact: true }).click();
  await operator.getByRole('button', { name: 'Current before' }).click();
  await operator.keyboard.type(currentUA);
  await operator.getByRole('button', { name: 'Save', exact: true }).click();
  await operator.getByRole('button', { name: 'Current before: noted' }).waitFor();
  await beginBeside(scorer, 'Ines Duarte');
  await allSafe(scorer);
  // The operator's tablet asks the laptop again, and takes over the trial that the other began.
  await operator.locator('button.status').click();
  await operator.getByRole('button', { name: 'Send now' }).click();
  await operator.getByRole('button', { name: 'Close' }).click();
  await operator.locator('button.clock').getByText('T049').waitFor();
  await operator.getByRole('button', { name: 'Passes', exact: true }).click();
  await chooseRay(operator);

  await log(scorer, 'C', 'No turn');
  await log(operator, 'C', 'Turn');
  await scorer.getByRole('button', { name: 'Note', exact: true }).click();
  await scorer.getByRole('textbox').fill('slow, from the north');
  await scorer.getByRole('button', { name: 'Save', exact: true }).click();
  const jpeg = await photo(scorer);
  await scorer.locator('input[type=file]').setInputFiles({ name: 'ray.jpg', mimeType: 'image/jpeg', buffer: jpeg });
  await scorer.getByRole('button', { name: 'Photo (1)' }).waitFor();
  await log(operator, 'A', 'Turn');
  await log(scorer, 'A', 'Turn');
  await log(operator, 'D', 'No turn');
  await allSafe(scorer);
  await allSafe(operator);

  // What came in.
  await expect
    .poll(async () => (await cameIn()).attachments.map((a) => a.state), { timeout: 15_000 })
    .toEqual(['here']);
  const first = await cameIn();
  const [slow, fast] = ['Ines Duarte', 'Tomas Reyle'].map(
    (who) => first.passes.find((p) => p.fields.scorer === who)!.device,
  ) as [string, string];
  const mine = (l: DeckLog, device: string) => l.passes.filter((p) => p.device === device).reverse();
  const passOf = (device: string, pair: string) => mine(first, device).find((p) => p.fields.pair === pair)!;
  expect(first.passes).toHaveLength(5);
  expect(Math.abs(first.devices.find((d) => d.device === fast)!.offset_s! - aheadMs / 1000)).toBeLessThan(2);
  expect(Math.abs(first.devices.find((d) => d.device === slow)!.offset_s!)).toBeLessThan(2);
  await desk.goto(at('log'));
  await desk.getByRole('heading', { name: 'What came in' }).waitFor();
  const device = (name: string) =>
    desk.getByRole('region', { name: 'Devices' }).getByRole('listitem').filter({ hasText: name });
  await device(fast)
    .getByText(/^Its clock was 1 min (29|30|31) s ahead of this laptop on 20/)
    .waitFor();
  await device(slow)
    .getByText(/^Its clock (agreed with|was [\d.]+ s (ahead of|behind)) this laptop/)
    .waitFor();
  await device(slow).getByRole('button', { name: 'State another offset…' }).waitFor();
  const passes = desk.getByRole('region', { name: 'Passes', exact: true }).last();
  for (const p of first.passes) await passes.getByRole('rowheader', { name: p.pass }).waitFor();
  await passes.getByText('slow, from the north').waitFor();
  const picture = desk.getByRole('img', { name: /^Photo of pass/ });
  await picture.scrollIntoViewIfNeeded();
  await expect.poll(() => picture.evaluate((i: HTMLImageElement) => i.naturalWidth)).toBe(320);
  const read = desk.getByRole('region', { name: 'Currents read', exact: true });
  expect(await read.getByRole('cell', { name: 'sealed' }).count()).toBe(1);
  expect(first.readings).toMatchObject([{ when: 'before', sealed: true, here: true }]);
  expect(JSON.stringify(first)).not.toContain(currentUA);
  expect(await desk.content()).not.toContain(currentUA);
  await desk.evaluate(() => scrollTo(0, 0));
  await shot('log-top');
  if (shots) await desk.screenshot({ path: join(shots, 'log-whole.png'), fullPage: true });
  await legible(desk, 'log');

  // Two pairs of passes wait; one is settled as one pass, the other as two animals.
  await desk.getByRole('link', { name: /Reconcile.*2 waiting/ }).click();
  const doubtful = (pair: string) => desk.getByRole('article', { name: new RegExp(`, pair ${pair} `) });
  const differing = await doubtful('C')
    .getByRole('row')
    .filter({ hasText: 'differs' })
    .getByRole('rowheader')
    .allInnerTexts();
  expect(differing.join()).toMatch(/Time/);
  expect(differing.join()).toMatch(/Turned/);
  expect(differing.join()).toMatch(/Note/);
  expect(differing.join()).not.toMatch(/Species|Pair|Trial/);
  expect(await doubtful('C').getByRole('heading').innerText()).toMatch(/ apart once their clocks are put right$/);
  await shot('reconcile');
  await legible(desk, 'reconcile');
  const [kept, other] = [passOf(slow, 'C').pass, passOf(fast, 'C').pass];
  await doubtful('C')
    .getByRole('button', { name: `One pass: keep ${kept}` })
    .click();
  await sign('one ray, seen by both', 'Withdraw the other one');
  await desk.getByText(`${other} was withdrawn.`).waitFor();
  await desk.getByRole('link', { name: /Reconcile.*1 waiting/ }).waitFor();
  await desk.getByRole('button', { name: `History of ${other}` }).click();
  const told = desk.getByRole('complementary').filter({ hasText: 'History' });
  await told.getByText('Withdrawn').waitFor();
  await told.getByText(/one ray, seen by both/).waitFor();
  await told.getByRole('button', { name: 'Close the history' }).click();
  const two = async () => {
    await doubtful('A').getByRole('button', { name: 'Two animals' }).click();
    await sign('one behind the other', 'Keep both');
    await desk.getByText('Nothing waits').waitFor();
  };
  await two();
  await desk.getByRole('button', { name: 'Undo', exact: true }).click();
  await desk.getByText('Taken back.', { exact: true }).waitFor();
  await desk.getByRole('link', { name: /Reconcile.*1 waiting/ }).waitFor();
  await two();
  expect(await desk.getByRole('article').count()).toBe(0);
  const history = await ask<History>(`studies/bay/history?kind=pass&id=${other}`);
  expect(history.entries.map((e) => [e.act, e.author])).toEqual(
    expect.arrayContaining([
      ['record', 'Tomas Reyle'],
      ['remove', 'C. Lead'],
    ]),
  );
  expect(JSON.stringify(history.entries)).toContain('one ray, seen by both');
  await shot('reconcile-done');

  // The fast tablet's passes are put right, once.
  const before = mine(await cameIn(), fast);
  await desk.getByRole('link', { name: 'Log', exact: true }).click();
  await device(fast).getByRole('button', { name: 'Correct the times of its passes…' }).click();
  await desk
    .getByRole('dialog')
    .getByText(/^The times of 2 passes become 1 min (29|30|31) s earlier\./)
    .waitFor();
  await shot('align');
  await sign('set by hand in the harbour', 'Correct 2 passes');
  await device(fast).getByText('The times of its passes were corrected.').waitFor();
  expect(await device(fast).getByRole('button').count()).toBe(0);
  const log2 = await cameIn();
  const offsetS = log2.devices.find((d) => d.device === fast)!.offset_s!;
  const timesOf = (list: typeof before) => list.map((p) => Date.parse(p.fields.time!));
  expect(timesOf(mine(log2, fast))).toEqual(timesOf(before).map((t) => t - offsetS * 1000));
  expect(timesOf(mine(log2, slow))).toEqual(timesOf(mine(first, slow)));
  expect(log2.same).toEqual([]);

  // The log as a file: nothing new here, all of it new in the other copy.
  const file = await savedLog(scorer);
  const entries = (await readFile(file.path, 'utf8'))
    .split('\n')
    .filter((line) => (JSON.parse(line || '{}') as { seq?: number }).seq !== undefined).length;
  expect(entries).toBe(Number.parseInt(await status(scorer)));
  const field = desk.getByLabel('Choose a file');
  await field.setInputFiles(file.path);
  await desk.getByText(`${file.name}: 0 new entries, ${entries} known already.`).waitFor();
  await desk.goto(at('log', copy));
  await desk.getByText('Nothing was logged on a deck yet.').waitFor();
  await desk.getByLabel('Choose a file').setInputFiles(file.path);
  await desk.getByText(`${file.name}: ${entries} new entries, 0 known already, `).waitFor();
  await desk.getByText('2 passes from 1 device', { exact: true }).waitFor();
  const second = await cameIn(copy);
  expect(mine(second, slow).map((p) => [p.pass, p.fields])).toEqual(mine(log2, slow).map((p) => [p.pass, p.fields]));
  const there = desk.getByRole('img', { name: /^Photo of pass/ });
  await there.scrollIntoViewIfNeeded();
  await expect.poll(() => there.evaluate((i: HTMLImageElement) => i.naturalWidth)).toBe(320);
  await shot('copy');
  expect(complaints).toEqual([]);
}, 120_000);

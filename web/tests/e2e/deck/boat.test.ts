// The whole of it: the program serves tablets over HTTPS with its own authority,
// a browser that has the authority installed pairs, logs while the program is
// dead, and brings all of it once.
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import type { Page } from 'playwright-core';
import { enter, type Served } from '../serve';
import { beginBeside, log, pairUp, status } from './hands';
import { Program } from './program';

let program: Program;
let page: Page;

beforeAll(async () => {
  program = await Program.start(inject('binary'), inject('seasonFolder'));
  page = await (await program.browser('profile')).newPage();
});
afterAll(() => program?.end());

interface Written {
  kind: string;
  subject: string;
  act: string;
  device: string;
  seq: number;
  author: string;
  fields?: Record<string, string>;
}

async function journal(): Promise<Written[]> {
  const laptop: Served = await enter(program.serving.link);
  const entries: Written[] = [];
  for (let before = ''; ;) {
    const answer = await fetch(`${laptop.base}/api/studies/bay/journal?limit=200${before}`, {
      headers: { cookie: laptop.cookie },
    });
    const part = (await answer.json()) as { entries: (Written & { position: number })[] };
    if (part.entries.length === 0) return entries;
    entries.push(...part.entries);
    before = `&before=${part.entries.at(-1)!.position}`;
    if (!part.entries.at(-1)!.position) return entries;
  }
}

test('paired over HTTPS, thirty entries while the program is dead, all safe once', async () => {
  const port = new URL(program.serving.base).port;
  await page.goto(`${program.serving.base}/`);
  expect(new URL(page.url()).pathname).toBe('/deck');
  expect(await page.evaluate(() => isSecureContext)).toBe(true);
  await page.getByText('shows the same words').waitFor();
  await pairUp(page, program.serving, program.serving.code, /Tank trials/);
  await beginBeside(page);
  await expect.poll(() => status(page), { timeout: 20_000 }).toMatch(/^(\d+) saved on this tablet · \1 safe/);
  const before = Number.parseInt(await status(page));

  await program.kill();
  for (let i = 0; i < 30; i++) await log(page, 'ABCD'[i % 4]!, i % 3 ? 'Turn' : 'No turn');
  await page.reload();
  await expect.poll(() => status(page)).toBe(`${before + 30} saved on this tablet · ${before} safe on the laptop`);
  await log(page, 'A', 'Turn');
  await page.locator('button.status').click();
  await page.getByRole('dialog').getByText('complete', { exact: true }).waitFor(); // the second copy
  await page.getByRole('button', { name: 'Close' }).click();

  await program.serve(`127.0.0.1:${port}`);
  await page.evaluate(() => dispatchEvent(new Event('online')));
  await expect
    .poll(() => status(page), { timeout: 30_000 })
    .toBe(`${before + 31} saved on this tablet · ${before + 31} safe on the laptop`);
  const mine = (await journal()).filter((e) => e.device.startsWith('deck-'));
  expect(mine).toHaveLength(before + 31);
  expect(new Set(mine.map((e) => `${e.device} ${e.seq}`)).size).toBe(before + 31);
  expect(mine.filter((e) => e.kind === 'pass')).toHaveLength(31);
  expect(new Set(mine.map((e) => e.author))).toEqual(new Set(['Ines Duarte']));
}, 240_000);

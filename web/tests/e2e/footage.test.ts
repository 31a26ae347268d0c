// Footage, part Clips, in the whole program: clips are taken in, and every frame's
// picture is its own, forwards, backwards and at random. The truth is in the
// pictures themselves: each carries its number.
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import type { Footage } from '../../src/lib/api/footage';
import { legible } from './audit';
import { openBay, type Bay } from './bay';
import { laptop, launch, tablet, visit } from './browser';
import { numbered, readNumber } from './clips';

let browser: Browser;
let bay: Bay;
let folder: string;
let files: Record<'plain' | 'first' | 'second' | 'hevc' | 'sent', string>;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'brinefield-clips-'));
  mkdirSync(join(folder, 'card'));
  files = {
    plain: numbered(join(folder, 'card'), 'varying.mp4', { frames: 50, variable: true }),
    first: numbered(folder, 'GX01.mp4', { frames: 24 }),
    second: numbered(folder, 'GX02.mp4', { frames: 24, from: 24 }),
    hevc: numbered(folder, 'night.mp4', { frames: 40, codec: 'libx265' }),
    sent: numbered(folder, 'sent.mp4', { frames: 10, from: 500 }),
  };
  [browser, bay] = await Promise.all([launch(), openBay(inject('binary'))]);
  await bring('chapters', [files.first, files.second]);
  await bring('night', [files.hevc]);
  await until((v) => v.clips.some((c) => c.chapters.some((h) => h.proxy.state === 'ready')));
});
afterAll(async () => {
  bay.close();
  await browser.close();
  rmSync(folder, { recursive: true, force: true });
});

const view = () => bay.ask<Footage>(`studies/${bay.study}/footage`);
async function until(told: (v: Footage) => boolean): Promise<void> {
  const last = Date.now() + 20_000;
  for (let v = await view(); !told(v); v = await view()) {
    if (Date.now() > last) throw new Error(`not done: ${JSON.stringify([v.jobs, v.clips])}`);
    await new Promise((r) => setTimeout(r, 100));
  }
}
const at = (clip = '') => `/${bay.study}/footage/clips${clip && `?clip=${clip}`}`;
const shot = async (page: Page, name: string) => {
  if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/${name}.png`, fullPage: true });
};
async function bring(clip: string, paths: string[], copy = false): Promise<void> {
  await bay.ask(`studies/${bay.study}/footage/import`, {
    author: 'A. Sample',
    clip,
    files: paths,
    copy,
    start: '2025-05-12T11:00:00+01:00',
  });
  await until((v) => v.clips.some((c) => c.clip === clip && c.frames > 0));
}

/** shown waits until that frame is on the screen, and gives the number that it carries. */
async function shown(page: Page, frame: number): Promise<number> {
  await page.waitForFunction((f) => document.querySelector('.stage')?.getAttribute('data-frame') === String(f), frame);
  return page.evaluate(readNumber);
}

/** walk steps through a clip both ways and at random, and tells which frames showed another picture. */
async function walk(page: Page, count: number): Promise<string[]> {
  const wrong: string[] = [];
  const look = async (frame: number, how: string) => {
    const n = await shown(page, frame);
    if (n !== frame) wrong.push(`${how} ${frame}: ${n}`);
  };
  await look(0, 'first');
  for (let f = 1; f < count; f++) {
    await page.keyboard.press(f % 2 === 0 ? 'ArrowRight' : '.');
    await look(f, 'forwards');
  }
  for (let f = count - 2; f >= 0; f--) {
    await page.keyboard.press('ArrowLeft');
    await look(f, 'backwards');
  }
  const field = page.getByRole('textbox', { name: /^Frame/ });
  for (let i = 1; i <= 12; i++) {
    const f = (i * 29) % count;
    await field.fill(String(f));
    await field.press('Enter');
    await look(f, 'jump');
  }
  return wrong;
}

test('files of two chapters, and HEVC by its small copy: every frame is its own', () =>
  visit(browser, bay.served, at('chapters'), async (page) => {
    await page.locator('.stage').waitFor();
    expect(await walk(page, 48), 'two chapters').toEqual([]);
    await page.getByRole('link', { name: /^night/ }).click();
    await page.getByRole('heading', { name: 'night' }).waitFor();
    expect(await walk(page, 40), 'by its small copy').toEqual([]);
    await page.getByText('ready', { exact: true }).waitFor();
    // A browser that does not decode frame by frame: its own player is set, and that is said.
    await page.evaluate(() => Reflect.deleteProperty(window, 'VideoDecoder'));
    await page.getByRole('link', { name: /^chapters/ }).click();
    await page.getByText('does not decode frame by frame').waitFor();
    await page.keyboard.press('Shift+ArrowRight');
    expect(await shown(page, 10)).toBe(10);
  }));

test('a clip is chosen, found and stepped through by keyboard alone; variable rate, pictures stored out of order', () =>
  visit(browser, bay.served, at(), async (page) => {
    await page.getByRole('button', { name: 'Add a clip' }).focus();
    await page.keyboard.press('Enter');
    const where = page.getByRole('textbox', { name: 'Folder' });
    const list = page.locator('.look');
    await expect.poll(() => list.getAttribute('aria-busy')).toBe('false');
    await where.fill(folder);
    await where.press('Enter');
    await expect.poll(() => list.innerText(), { timeout: 20_000 }).toContain('card'); // else the list says why
    await page.getByRole('button', { name: 'Folder card' }).focus();
    await page.keyboard.press('Enter');
    const box = page.getByRole('checkbox', { name: /varying\.mp4/ });
    await box.focus();
    await page.keyboard.press('Space');
    await page.getByRole('textbox', { name: 'Name of the clip' }).fill('varying');
    await page
      .locator('form')
      .getByRole('textbox', { name: /^First frame/ })
      .first()
      .fill('2025-05-12 12:00:00');
    await shot(page, 'clip-add');
    await legible(page, 'adding a clip');
    await page.getByRole('button', { name: 'Add this clip' }).press('Enter');
    await until((v) => v.clips.some((c) => c.clip === 'varying' && c.frames > 0));
    await page.getByRole('link', { name: /^varying/ }).press('Enter');
    await page.getByRole('heading', { name: 'varying', exact: true }).waitFor();
    expect(await walk(page, 50)).toEqual([]);
    const clip = (await view()).clips.find((c) => c.clip === 'varying')!;
    expect([clip.variable, clip.chapters[0]!.place, clip.start]).toEqual([
      true,
      'reference',
      '2025-05-12T12:00:00+01:00',
    ]);
  }));

test('the sheet of pictures reaches a frame by letters; keys are listed', () =>
  visit(browser, bay.served, at('chapters'), async (page) => {
    await shown(page, 0);
    await page.keyboard.press('s');
    // 48 frames: 25 pictures of one or two frames each, all drawn.
    await expect.poll(() => page.locator('.sheet canvas[data-frame]').count()).toBe(25);
    await shot(page, 'clip-sheet');
    await legible(page, 'the sheet');
    await page.keyboard.press('q');
    await page.keyboard.press('b');
    expect(await shown(page, 31)).toBe(31);
    await expect.poll(() => page.locator('.sheet').count()).toBe(0);
    expect(await page.evaluate(() => document.activeElement?.className)).toContain('stage');
    await page.keyboard.press('?');
    await page.getByRole('heading', { name: 'Keys' }).waitFor();
    await legible(page, 'keys');
    await page.keyboard.press('Escape');
    await page.keyboard.press('Home');
    expect(await shown(page, 0)).toBe(0);
    await page.keyboard.press(' ');
    await page.waitForFunction(() => document.querySelector('.stage')?.getAttribute('data-frame') === '47');
    expect(await page.evaluate(readNumber)).toBe(47);
  }));

test('a file that is dropped is sent and copied; the clock is set by what is seen', () =>
  visit(browser, bay.served, at('chapters'), async (page) => {
    await page.evaluate(() => localStorage.setItem('brinefield.writer', 'C. Lead'));
    await page.reload();
    await page.getByRole('button', { name: 'Add a clip' }).click();
    const data = readFileSync(files.sent).toString('base64');
    await page.locator('.clips').evaluate((zone, base64) => {
      const bytes = Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
      const carried = new DataTransfer();
      carried.items.add(new File([bytes], 'sent.mp4', { type: 'video/mp4' }));
      for (const kind of ['dragenter', 'dragover', 'drop'])
        zone.dispatchEvent(new DragEvent(kind, { dataTransfer: carried, bubbles: true, cancelable: true }));
    }, data);
    await page.getByRole('button', { name: 'Add this clip' }).click();
    // The file does not say when it was filmed: that is told, stated, and tried again.
    await page.getByText('state when its first frame was filmed').waitFor();
    await page.getByRole('button', { name: 'Correct and try again' }).click();
    await page
      .locator('form')
      .getByRole('textbox', { name: /^First frame/ })
      .first()
      .fill('2025-05-12 13:00');
    await page.getByRole('button', { name: 'Add this clip' }).click();
    await until((v) => v.clips.some((c) => c.clip === 'sent' && c.frames > 0));
    await page.getByRole('link', { name: /^sent/ }).click();
    expect(await shown(page, 0)).toBe(500);
    const sent = (await view()).clips.find((c) => c.clip === 'sent');
    expect(sent?.chapters.map((c) => c.place)).toEqual(['copy']);

    await page.getByRole('link', { name: /^chapters/ }).click();
    await shown(page, 0);
    await page.keyboard.press('Shift+ArrowRight');
    await shown(page, 10);
    await page.getByRole('textbox', { name: 'Time on the trial’s clock' }).fill('11:00:04.5');
    await page.getByRole('combobox', { name: 'What is seen' }).fill('torch switched on');
    await page.getByRole('button', { name: 'Mark frame 10' }).click();
    await page.getByRole('button', { name: 'Save the clock' }).click();
    await page.getByText('Saved.').waitFor();
    const clip = (await view()).clips.find((c) => c.clip === 'chapters')!;
    // Frame 10 of 30 per second is a third of a second into the clip.
    expect(clip.clock_offset_s).toBeCloseTo(4.5 - 1 / 3, 5);
    expect(clip.sync.map((e) => [e.frame, e.clock, e.what])).toEqual([
      [10, '2025-05-12T11:00:04.500+01:00', 'torch switched on'],
    ]);
    for (const [name, viewport] of [
      ['laptop', laptop],
      ['tablet', tablet],
    ] as const) {
      await page.setViewportSize(viewport);
      for (const theme of ['light', 'dark', 'sunlight', 'night']) {
        await page.evaluate((t) => (document.documentElement.dataset.theme = t), theme);
        await legible(page, `clips, ${name}, ${theme}`);
      }
    }
  }));

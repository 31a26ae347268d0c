import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import type { MeasuredPass } from '../../src/lib/api/footage';
import type { Pass, Results } from '../../src/lib/api/types';
import { legible } from './audit';
import { launch, tablet, visit } from './browser';
import { openMeasureBay, type MeasureBay, type Pixel } from './measure-bay';

let browser: Browser;
let bay: MeasureBay;
beforeAll(async () => {
  [browser, bay] = await Promise.all([launch(), openMeasureBay(inject('binary'))]);
});
afterAll(async () => {
  bay.close();
  await browser.close();
});

const at = (pass: string, study = bay.study) => `/${study}/footage/measure?pass=${pass}`;
const measured = (pass: string) => bay.ask<MeasuredPass>(`studies/${bay.study}/footage/pass?pass=${pass}`);
const stage = (page: Page) => page.getByRole('application', { name: /^Clip two/ });
const said = (page: Page) => page.locator('.said');
const truthOf = (animal: number, of: number, point = 'snout') => bay.truth.frames[of]!.animals[animal]!.points[point]!;

/** results are asked for anew where they are of before. */
const results = async () => {
  const { state } = await bay.ask<Results>(`studies/${bay.study}/results`);
  if (state !== 'current' && state !== 'running') await bay.ask(`studies/${bay.study}/analyse`, {});
  return state;
};

const begin = async (page: Page, name = 'C. Lead') => {
  await page.evaluate((n) => localStorage.setItem('brinefield.writer', n), name);
  await page.reload();
  await stage(page).waitFor();
};
/** on waits until the picture that is seen is that of the frame. */
const on = (page: Page, of: number) => page.locator(`.picture[data-shown="${of}"]`).waitFor();

const click = async (page: Page, [x, y]: Pixel) => {
  const box = (await stage(page).boundingBox())!;
  const scale = Math.min(box.width / 320, box.height / 240);
  const [left, top] = [(box.width - 320 * scale) / 2, (box.height - 240 * scale) / 2];
  await stage(page).click({ position: { x: left + (x + 0.5) * scale, y: top + (y + 0.5) * scale } });
};
/** keyed moves the crosshair to a pixel with arrow keys, to half a pixel, and places the point. */
const keyed = async (page: Page, from: Pixel, to: Pixel) => {
  for (const [k, less, more] of [
    [0, 'ArrowLeft', 'ArrowRight'],
    [1, 'ArrowUp', 'ArrowDown'],
  ] as const) {
    const by = to[k] - from[k];
    const key = by < 0 ? less : more;
    const [tens, ones] = [Math.floor(Math.abs(by) / 10), Math.round(Math.abs(by) % 10)];
    for (let i = 0; i < tens; i++) await page.keyboard.press(`Shift+${key}`);
    for (let i = 0; i < ones; i++) await page.keyboard.press(key);
  }
  await page.keyboard.press('Enter');
};

test('placed, carried, filled, saved: the track is the animal’s, and stands in the study', () =>
  visit(browser, bay.served, at('P1'), async (page) => {
    await begin(page);
    await page.getByRole('combobox', { name: 'After placing' }).selectOption('10');
    for (const f of [0, 10, 20]) {
      await on(page, f);
      await click(page, truthOf(0, f).pixel);
    }
    await page.getByText('3 placed, 0 carried, 0 filled in').waitFor();
    await page.keyboard.press('q');
    await on(page, 20);
    await page.keyboard.press('c');
    await page.getByText(/^Carried over 27 frames to the last/).waitFor();
    await page.keyboard.press('Shift+F');
    await page.getByText('3 placed, 27 carried, 18 filled in').waitFor();
    await page.keyboard.press('e');
    await page.getByRole('textbox', { name: /^Frame/ }).fill('22');
    await page.keyboard.press('Enter');
    await stage(page).focus();
    await page.keyboard.press('o');
    await page.getByText(/^No place: its height/).waitFor(); // no height is stated yet
    await page.getByRole('combobox', { name: 'From' }).selectOption('limits');
    await page.getByRole('textbox', { name: 'Lowest, cm' }).first().fill('3');
    await page.getByRole('textbox', { name: 'Highest, cm' }).first().fill('5');
    await page.getByText('Field met', { exact: true }).waitFor();
    await legible(page, 'measuring');
    // A click on the plan goes to the frame of the fix there.
    await page.getByTestId('measure-field').focus();
    await page.keyboard.press('ArrowRight');
    await on(page, 23);
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByText(/^Saved: the track stands/).waitFor();

    const { fixes, onset_frame, end_frame, saved } = await measured('P1');
    expect([saved, onset_frame, end_frame, fixes.length]).toEqual([true, 22, 47, 48]);
    const how = (h: string) => fixes.filter((f) => f.how === h).length;
    expect([how('placed'), how('carried'), how('filled')]).toEqual([3, 27, 18]);
    expect(new Set(fixes.map((f) => f.by))).toEqual(new Set(['C. Lead']));
    // Clicks fall on whole pixels of the screen (0.3 px of the clip), a pixel is 0.5 cm here; the height is the truth's.
    for (const f of fixes) {
      const [x = 0, y = 0] = truthOf(0, f.frame).at_m;
      expect(Math.hypot(f.x_cm! - 100 * x, f.y_cm! - 100 * y), `frame ${f.frame}, ${f.how}`).toBeLessThan(1);
    }
    // The season's own track, as Exposures read it.
    await expect.poll(results, { timeout: 30_000, interval: 150 }).toBe('current');
    const pass = await bay.ask<Pass>(`studies/${bay.study}/passes/P1`);
    expect(pass.fixes.length).toBe(48);
    expect(pass.onset_s).toBeCloseTo(22 / 25, 3);
    await page.getByRole('link', { name: 'See it in Exposures' }).click();
    await page.getByRole('heading', { name: /P1/ }).waitFor();
  }));

test('by keyboard alone, through a reload in the middle, over a track that was imported', () =>
  visit(browser, bay.served, at('P1'), async (page) => {
    await begin(page, '');
    await stage(page).focus();
    // To the second animal in the picture.
    await page.keyboard.press('Tab');
    await page.getByText('Now S1.').waitFor();
    expect(page.url()).toContain('pass=P2');
    await page.keyboard.press('Home');
    await on(page, 0);
    await page.keyboard.press('2');
    expect(await page.getByRole('radio', { name: /Head, left edge/ }).isChecked()).toBe(true);
    for (const [key, point] of [
      ['2', 'head left edge'],
      ['3', 'head right edge'],
      ['1', 'snout'],
    ] as const) {
      await page.getByRole('combobox', { name: 'After placing' }).selectOption('0');
      await stage(page).focus();
      await page.keyboard.press(key);
      await page.keyboard.press('Escape');
      await page.keyboard.press('x');
      // The crosshair begins in the middle of what is seen.
      await keyed(page, [160, 120], truthOf(1, 0, point).pixel);
    }
    await page.getByText('3 placed, 0 carried, 0 filled in').waitFor();
    await page.keyboard.press('Escape');
    await page.keyboard.press('Backspace');
    await page.getByText('2 placed, 0 carried, 0 filled in').waitFor();
    await page.keyboard.press('Control+z');
    await page.getByText('3 placed, 0 carried, 0 filled in').waitFor();
    await page.keyboard.press('c');
    await expect.poll(() => said(page).textContent(), { timeout: 20_000 }).toMatch(/^Carried over/);
    const n = Number(/(\d+) carried/.exec((await page.locator('.counts').textContent()) ?? '')?.[1]);
    expect(n).toBeGreaterThan(8);

    // The page goes away in the middle.
    await page.reload();
    await page.getByText(/^A draft of .* that was not saved is shown, with \d+ fixes/).waitFor();
    await page.getByText(`3 placed, ${n} carried`).waitFor();
    await stage(page).focus();
    await page.keyboard.press('i');
    await page.getByRole('combobox', { name: 'From' }).selectOption('head width');
    expect(await page.getByRole('textbox', { name: 'Head width, cm' }).inputValue()).toBe('5.5');
    await stage(page).focus();
    await page.keyboard.press('Control+s');
    const name = page.getByRole('dialog').getByRole('textbox');
    await name.fill('P. Sample');
    await name.press('Enter');
    await page.getByRole('heading', { name: 'Replace the track of P2?' }).waitFor();
    await legible(page, 'a track would be replaced');
    await page.getByRole('button', { name: 'Replace it' }).press('Enter');
    await page.getByText(/^Saved: the track stands/).waitFor();
    const { fixes } = await measured('P2');
    expect(fixes.length).toBe(n + 3);
    // The head is 16 cm up; its width is seen to about a pixel of twelve.
    const first = fixes.find((f) => f.point === 'snout' && f.frame === 0)!;
    expect(first.low_cm!).toBeLessThan(16);
    expect(first.high_cm!).toBeGreaterThan(16);
    await page.reload();
    await stage(page).waitFor();
    expect(await page.getByText('that was not saved is shown').count()).toBe(0);
  }));

test('somebody else saves meanwhile: both are shown, and nothing is lost', () =>
  visit(
    browser,
    bay.served,
    at('P1'),
    async (page) => {
      await begin(page);
      const before = await measured('P1');
      await bay.ask(`studies/${bay.study}/footage/fixes`, {
        ...{ author: 'P. Sample', pass: 'P1', clip: 'two', etag: before.etag, heights: before.heights, save: true },
        ...{ start_frame: before.start_frame, onset_frame: 30, end_frame: before.end_frame },
        fixes: before.fixes.map(({ point, frame, pixel, how, by, height_low_cm, height_high_cm }) => ({
          ...{ point, frame, pixel, how, by, height_low_cm, height_high_cm },
        })),
      });
      await page.getByRole('textbox', { name: /^Frame/ }).fill('12');
      await page.keyboard.press('Enter');
      await stage(page).focus();
      await page.keyboard.press('o');
      await page.keyboard.press('Control+s');
      await page.getByRole('heading', { name: 'Somebody else saved this pass meanwhile' }).waitFor();
      expect(await page.getByRole('row', { name: /Onset/ }).textContent()).toMatch(/12.*30/);
      await legible(page, 'a conflict');
      await page.getByRole('button', { name: 'Take theirs' }).click();
      await page.getByRole('button', { name: 'frame 30' }).waitFor();
      expect((await measured('P1')).onset_frame).toBe(30);
    },
    { expected: /status of (409|412)/ },
  ));

test('while it is sealed, only the field for each µA is shown; on a tablet, in the dark', () =>
  visit(
    browser,
    bay.served,
    at('P1', bay.sealed),
    async (page) => {
      await begin(page);
      await page.getByRole('combobox', { name: 'After placing' }).selectOption('25');
      for (const f of [0, 25]) {
        await on(page, f);
        await click(page, truthOf(0, f).pixel);
      }
      await page.getByRole('combobox', { name: 'From' }).selectOption('limits');
      await page.getByRole('textbox', { name: 'Lowest, cm' }).first().fill('3');
      await page.getByRole('textbox', { name: 'Highest, cm' }).first().fill('5');
      await page.keyboard.press('Tab');
      await stage(page).focus();
      await page.keyboard.press('q');
      await page.getByText('Phantom field, each µA').waitFor();
      await page.getByText(/^It is sealed which pair was active/).waitFor();
      const text = await page.locator('body').innerText();
      expect(text).not.toMatch(/Field met|active pair|control pair/);
      expect(await page.getByTestId('measure-field').locator('text').allTextContents()).not.toContain(
        'field met, nV/cm',
      );
      await legible(page, 'sealed');
    },
    { viewport: tablet, dark: true },
  ));

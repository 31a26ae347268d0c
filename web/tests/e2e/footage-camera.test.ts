// The part Camera with the real program, on the demo's clip: rendered by our own
// code with a known truth (internal/cliptest/testdata/demo.truth.json), which is
// what the height of the camera is compared with.
import { readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import type { Browser, Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import type { CameraSpec, Footage } from '../../src/lib/api/footage';
import { legible } from './audit';
import { openBay, type Bay } from './bay';
import { laptop, launch, tablet, visit } from './browser';

interface Truth {
  camera: CameraSpec;
  poses: { stand: { centre_m: number[] } }[];
  marks: { name: string; at_m: number[]; pixels: number[][] }[];
}
const clipFile = resolve('../internal/app/demo/north-pair.mp4');
const truth = JSON.parse(readFileSync('../internal/cliptest/testdata/demo.truth.json', 'utf8')) as Truth;
const size = [640, 360] as const;

let browser: Browser;
let bay: Bay;
const footage = () => bay.ask<Footage>(`studies/${bay.study}/footage`);
const page0 = () => `/${bay.study}/footage/camera`;

beforeAll(async () => {
  browser = await launch();
  bay = await openBay(inject('binary'));
  const at = `studies/${bay.study}/footage`;
  const body = {
    author: 'C. Lead',
    clip: 'north-pair',
    files: [clipFile],
    copy: false,
    start: '2025-07-07T10:25:24+01:00',
  };
  await bay.ask(`${at}/import`, body);
  for (let n = 0; n < 200; n++) {
    const { jobs, clips } = await footage();
    if (clips.some((c) => c.chapters.length > 0)) break;
    const failed = jobs.find((j) => j.state === 'failed');
    if (failed) throw new Error(failed.why);
    await new Promise((r) => setTimeout(r, 100));
  }
});
afterAll(async () => {
  bay.close();
  await browser.close();
});

const named = async (page: Page) => {
  await page.evaluate(() => localStorage.setItem('brinefield.writer', 'C. Lead'));
  await page.reload();
};
const shot = async (page: Page, name: string) => {
  if (process.env.SHOTS) await page.screenshot({ path: `${process.env.SHOTS}/${name}.png`, fullPage: true });
};
/** stage waits for the picture, and click clicks at a pixel of the clip: (0, 0) is the centre of the top left one. */
async function stageOf(page: Page): Promise<Locator> {
  const stage = page.getByRole('application', { name: /Picture of north-pair/ });
  await stage.waitFor();
  await stage.scrollIntoViewIfNeeded();
  return stage;
}
async function click(stage: Locator, [x = 0, y = 0]: readonly number[]): Promise<void> {
  const box = (await stage.boundingBox())!;
  const position = { x: ((x + 0.5) * box.width) / size[0], y: ((y + 0.5) * box.height) / size[1] };
  await stage.click({ position });
}
const peg = (n: number) => truth.marks.find((m) => m.name === `peg ${n}`)!;

test('a camera is typed in, five marks are placed, and its height comes out', () =>
  visit(browser, bay.served, page0(), async (page) => {
    await named(page);
    await page.getByRole('button', { name: 'Add a camera' }).click();
    const field = (name: string) => page.getByRole('textbox', { name, exact: true });
    const { camera: c } = truth;
    expect(await field('Width, px').inputValue()).toBe('640');
    await page.getByRole('button', { name: 'Save camera', exact: true }).click();
    await page.getByText('A name, to choose it by.').waitFor();
    await field('Name').fill('frame camera');
    const numbers = { fx: c.fx_px, fy: c.fy_px, cx: c.cx_px, cy: c.cy_px };
    for (const [name, v] of Object.entries(numbers)) await field(`${name}, px`).fill(String(v));
    for (const k of ['k1', 'k2', 'k3', 'p1', 'p2'] as const) await field(k).fill(String(c[k]));
    await page.getByRole('checkbox', { name: /flat port/ }).check();
    await field('Air before the glass, mm').fill('14');
    await field('Thickness of the glass, mm').fill('6');
    await field('Index of the glass').fill('1.49');
    await field('Index of the water').fill('1.34');
    await legible(page, 'camera form');
    await shot(page, 'camera-form');
    await page.getByRole('button', { name: 'Save camera', exact: true }).click();
    await page.getByRole('button', { name: 'Change frame camera' }).waitFor();
    expect((await footage()).cameras[0]!.spec).toEqual(c);

    await page.getByRole('button', { name: 'Begin: click the marks' }).click();
    await field('Clicks are off by, px').fill('0.8');
    const stage = await stageOf(page);
    const add = async (n: number) => {
      await page.getByRole('button', { name: 'Add a mark of your own' }).click();
      await page.keyboard.type(`peg ${n}`);
      await page.keyboard.press('Tab');
      for (const v of peg(n).at_m.slice(0, 2)) {
        await page.keyboard.type(String(Math.round(v * 1000) / 10));
        await page.keyboard.press('Tab');
      }
    };
    for (const n of [1, 2, 4]) {
      await add(n);
      await click(stage, peg(n).pixels[0]!);
    }
    await page.getByText('One more mark and the camera’s place is told.').waitFor();
    await add(5);
    await click(stage, peg(5).pixels[0]!);
    const height = page.locator('dt:text-is("Height") + dd');
    await height.waitFor();

    // The fifth by keyboard alone: the crosshair goes to where it is expected.
    await add(7);
    await stage.focus();
    await expect.poll(() => page.locator('circle.ghost').count()).toBeGreaterThan(0);
    await page.keyboard.press('e');
    await page.keyboard.press('Shift+ArrowLeft');
    await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Enter');
    await expect.poll(() => page.locator('dt:text-is("Marks are off by") + dd').textContent()).toMatch(/of 5 marks/);

    const off = Number.parseFloat(
      /[\d.]+/.exec((await page.locator('dt:text-is("Marks are off by") + dd').textContent()) ?? '')?.[0] ?? '',
    );
    expect(off).toBeLessThan(1);
    const cm = Number.parseFloat((await height.textContent()) ?? '');
    // Four of the 0.25 cm that follow from clicks of 0.8 px.
    expect(Math.abs(cm - 100 * truth.poses[0]!.stand.centre_m[2]!)).toBeLessThan(1);
    await legible(page, 'marks placed');
    await shot(page, 'camera-marks');

    // Undo and redo with the picture in hand; then it is saved, and stands in the study.
    await page.keyboard.press('Control+z');
    await page.getByText('not clicked').first().waitFor();
    await page.keyboard.press('Control+y');
    await page.getByRole('button', { name: 'Save poses' }).click();
    await page.getByText('Saved.', { exact: true }).waitFor();
    const pose = (await footage()).clips.find((x) => x.clip === 'north-pair')!.poses[0]!;
    expect(pose.marks).toHaveLength(5);
    expect(pose.why).toBe('');
    expect(Math.abs(pose.camera_centre_m![2]! - truth.poses[0]!.stand.centre_m[2]!)).toBeLessThan(0.01);
  }));

test('a knock, light, the four themes and a tablet', () =>
  visit(
    browser,
    bay.served,
    page0(),
    async (page) => {
      await named(page);
      const stage = await stageOf(page);
      await stage.focus();
      // Light: off, the canvas holds the picture's own bytes; on, it does not, and comes back.
      const bytes = () =>
        page.evaluate(() => {
          const canvas = document.querySelector<HTMLCanvasElement>('[role=application] canvas')!;
          return Array.from(canvas.getContext('2d')!.getImageData(300, 100, 40, 40).data).join();
        });
      await expect.poll(async () => new Set((await bytes()).split(',')).size).toBeGreaterThan(5);
      const plain = await bytes();
      await page.keyboard.press('b');
      await expect.poll(bytes).not.toBe(plain);
      await page.keyboard.press('h');
      await expect.poll(bytes).toBe(plain);

      await page.getByRole('button', { name: 'One frame on', exact: false }).first().click();
      await page.getByRole('button', { name: /Camera was knocked: pose again from frame 1/ }).click();
      await page.getByText('Pose 2, from frame 1').waitFor();
      await page.getByText('4 more marks').waitFor();
      for (const theme of ['light', 'dark', 'sunlight', 'night']) {
        await page.evaluate((t) => (document.documentElement.dataset.theme = t), theme);
        await legible(page, theme);
        await shot(page, `camera-tablet-${theme}`);
      }
      await page.setViewportSize(laptop);
      await legible(page, 'laptop');
    },
    // The test reads the canvas again and again; the page does not.
    { viewport: tablet, expected: /willReadFrequently/ },
  ));

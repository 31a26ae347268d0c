// What is tapped, and what is written down.
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { chromium, type Browser, type BrowserContext, type Page } from 'playwright-core';
import { launch } from '../browser';
import { Boat } from './boat';
import { begin, log, pairUp, status } from './hands';

let boat: Boat;
let browser: Browser;
let context: BrowserContext;
let page: Page;

beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser?.close());
beforeEach(async () => {
  boat = await Boat.start();
  context = await browser.newContext({
    viewport: { width: 834, height: 1194 },
    hasTouch: true,
    reducedMotion: 'reduce',
  });
  page = await context.newPage();
});
afterEach(async () => {
  await context.close();
  boat.stop();
});

const passes = () => boat.entries.filter((e) => e.kind === 'pass' && e.act === 'record');
const lastLine = () => page.getByRole('region', { name: 'The last entry' }).locator('strong').first().innerText();

describe('on deck', () => {
  test('the fields of a pass, additions, undo; nothing of a person in the entries', async () => {
    await pairUp(page, boat);
    await begin(page);
    await page
      .getByRole('button', { name: /Unknown animal|Thornback/ })
      .first()
      .click();
    await page.getByRole('button', { name: /^Blotch/ }).click();
    await log(page, 'B', 'Bite');
    await page.getByRole('button', { name: 'Negative' }).click();
    await page.getByRole('button', { name: /^low/ }).click();
    await page.getByRole('button', { name: 'Note', exact: true }).click();
    await page.getByRole('textbox', { name: 'In words' }).fill('came from the north');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByRole('button', { name: 'Note ✓' }).waitFor();
    await log(page, 'C', 'Unscorable');
    await page.getByRole('button', { name: /^Undo/ }).click();
    await expect.poll(lastLine).toMatch(/note/);
    await expect.poll(() => status(page)).toMatch(/^(\d+) saved on this tablet · \1 safe/);
    const [bite, lost] = passes();
    expect(bite).toMatchObject({ subject: '7c1e-0001', device: 'deck-7c1e', author: 'person:' + 'ab'.repeat(32) });
    expect(bite!.body.fields).toMatchObject({
      trial: 'T002',
      pair: 'B',
      individual: 'Blotch',
      species: 'Raja clavata',
      turned: 'yes',
      bit: 'yes',
      scorer: 'person:' + 'ab'.repeat(32),
      time: expect.stringMatching(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d$/),
    });
    const about = boat.entries.filter((e) => e.subject === '7c1e-0001').slice(1);
    expect(about.map((e) => e.body.fields)).toEqual([
      { bite_electrode: 'negative' },
      { height_class: 'low' },
      { note: 'came from the north' },
    ]);
    expect(boat.entries.at(-1)).toMatchObject({ act: 'remove', subject: '7c1e-0002' });
    expect(boat.entries.at(-1)!.undoes).toBe((lost as unknown as { id: string }).id);
    expect(JSON.stringify(boat.entries)).not.toContain('Maeve');
  });

  test('a new name goes along as a blob, and a current only as one', async () => {
    await pairUp(page, boat);
    await page.getByRole('link', { name: /Bay trials/ }).click();
    await page.getByRole('textbox', { name: 'Another name' }).fill('Ines Duarte');
    await page.getByRole('button', { name: 'Log under this name' }).click();
    await page.getByRole('button', { name: 'Trial', exact: true }).click();
    await page.getByRole('button', { name: 'Current before' }).click();
    await page.keyboard.type('9.1');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByRole('button', { name: 'Current before: noted' }).waitFor();
    await expect.poll(() => boat.blobs.size).toBe(2);
    const [reading] = boat.entries;
    const guarded = boat.blobs.get(reading!.body.fields!.ref!)!;
    expect(guarded.kind).toBe('guarded');
    expect(Buffer.from(guarded.data, 'base64').toString()).toBe('{"current_uA":"9.1"}');
    expect(Buffer.from(guarded.salt, 'base64')).toHaveLength(32);
    const person = [...boat.blobs.values()].find((b) => b.kind === 'person')!;
    expect(Buffer.from(person.data, 'base64').toString()).toBe('Ines Duarte');
    expect(reading!.author).toBe(`person:${person.ref}`);
    expect(await page.locator('body').innerText()).not.toContain('9.1');
    await page.reload();
    await page.getByRole('button', { name: /saved on this tablet/ }).waitFor();
    expect(await page.locator('body').innerText()).not.toContain('9.1');
  });

  test('a scorer has no place for currents', async () => {
    boat.view.role = 'scorer';
    await pairUp(page, boat);
    await begin(page);
    await page.getByRole('button', { name: 'Trial', exact: true }).click();
    await page.getByRole('button', { name: 'End T002' }).waitFor();
    expect(await page.getByRole('button', { name: /Current/ }).count()).toBe(0);
  });

  test('two quick taps on one button are one, and it is said', async () => {
    await pairUp(page, boat);
    await begin(page);
    const tap = (name: string) =>
      page.evaluate((name) => {
        const b = [...document.querySelectorAll('button')].find((x) => x.textContent?.trim() === name)!;
        b.click();
        b.click();
      }, name);
    await tap('B');
    await tap('Turn');
    await page.getByText('Two quick taps were taken as one pass').waitFor();
    await expect.poll(() => passes().length).toBe(1);
    await page.getByRole('button', { name: 'Log it again' }).click();
    await expect.poll(() => passes().length).toBe(2);
    expect(passes()[1]!.body.fields).toMatchObject({ pair: 'B', turned: 'yes' });
  });

  test('by keyboard alone', async () => {
    await pairUp(page, boat);
    await begin(page);
    await page.keyboard.press('d');
    await page.keyboard.press('2');
    await expect.poll(() => passes().length).toBe(1);
    expect(passes()[0]!.body.fields).toMatchObject({ pair: 'D', turned: 'yes', bit: 'no' });
    await page.keyboard.press('Backspace');
    await expect.poll(() => boat.entries.at(-1)!.act).toBe('remove');
  });

  test('a photo is kept byte for byte, a huge one is drawn again', async () => {
    await pairUp(page, boat);
    await begin(page);
    await log(page, 'A', 'Turn');
    const png = await page.screenshot();
    await page.locator('input[type=file]').setInputFiles({ name: 'a.png', mimeType: 'image/png', buffer: png });
    await page.getByRole('button', { name: 'Photo (1)' }).waitFor();
    await expect.poll(() => [...boat.blobs.values()].filter((b) => b.kind === 'photo').length).toBe(1);
    const kept = [...boat.blobs.values()].find((b) => b.kind === 'photo')!;
    expect(Buffer.from(kept.data, 'base64').equals(png)).toBe(true);
    const entry = boat.entries.find((e) => e.kind === 'attachment')!;
    expect(entry.body.fields).toMatchObject({
      kind: 'photo',
      ref: kept.ref,
      about: 'pass/7c1e-0001',
      type: 'image/png',
      bytes: String(png.length),
    });
    // Noise does not pack: 3100 × 900 pixels of it are over 8 MB.
    await page.evaluate(async () => {
      const c = document.createElement('canvas');
      [c.width, c.height] = [3100, 900];
      const g = c.getContext('2d')!;
      const noise = g.createImageData(c.width, c.height);
      for (let i = 0; i < noise.data.length; i += 65536) crypto.getRandomValues(noise.data.subarray(i, i + 65536));
      for (let i = 3; i < noise.data.length; i += 4) noise.data[i] = 255;
      g.putImageData(noise, 0, 0);
      const file = await new Promise<Blob>((done) => c.toBlob((b) => done(b!), 'image/png'));
      const field = document.querySelector<HTMLInputElement>('input[type=file]')!;
      const list = new DataTransfer();
      list.items.add(new File([file], 'large.png', { type: 'image/png' }));
      field.files = list.files;
      field.dispatchEvent(new Event('change', { bubbles: true }));
    });
    await page.getByRole('button', { name: 'Photo (2)' }).waitFor({ timeout: 30_000 });
    await expect.poll(() => boat.blobs.size, { timeout: 30_000 }).toBe(2);
    expect(await page.locator('.wrong').count()).toBe(0);
    const large = boat.entries.filter((e) => e.kind === 'attachment')[1]!.body.fields!;
    expect(large.type).toBe('image/jpeg');
    expect(Number(large.bytes)).toBeLessThanOrEqual(8_000_000);
  });

  test('a voice note from the microphone', async () => {
    const speaking = await chromium.launch({
      executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
      args: ['--headless', '--no-sandbox', '--use-fake-device-for-media-stream', '--use-fake-ui-for-media-stream'],
    });
    try {
      const p = await speaking.newPage({ viewport: { width: 390, height: 844 } });
      await pairUp(p, boat);
      await begin(p);
      await log(p, 'A', 'Turn');
      await p.getByRole('button', { name: 'Voice', exact: true }).click();
      await p.getByText(/^0:01/).waitFor();
      await p.getByRole('button', { name: 'Stop and save' }).click();
      await p.getByRole('button', { name: 'Voice (1)' }).waitFor();
      await expect.poll(() => [...boat.blobs.values()].filter((b) => b.kind === 'voice').length).toBe(1);
      const fields = boat.entries.find((e) => e.kind === 'attachment')!.body.fields!;
      expect(fields).toMatchObject({
        kind: 'voice',
        about: 'pass/7c1e-0001',
        type: expect.stringMatching(/^audio\/(mp4|webm|ogg)$/),
      });
      expect(Number(fields.bytes)).toBeGreaterThan(100);
    } finally {
      await speaking.close();
    }
  });
});

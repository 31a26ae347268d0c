// Every state in every size and colour: nothing that axe-core calls serious, no
// scrolling sideways, targets for wet fingers, and at night no light but red.
// BRINEFIELD_SHOTS=folder keeps pictures of all of it.
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Browser, Page } from 'playwright-core';
import { audit } from '../audit';
import { launch } from '../browser';
import { Boat } from './boat';
import { looks, sizes, walk } from './walk';

const shots = process.env.BRINEFIELD_SHOTS;
let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser?.close());

/** lightOf is the strongest red, green and blue in a picture. */
async function lightOf(page: Page, png: Buffer): Promise<number[]> {
  return page.evaluate(
    async (url) => {
      const img = new Image();
      img.src = url;
      await img.decode();
      const c = document.createElement('canvas');
      c.width = img.width;
      c.height = img.height;
      const g = c.getContext('2d')!;
      g.drawImage(img, 0, 0);
      const { data } = g.getImageData(0, 0, c.width, c.height);
      const most = [0, 0, 0];
      for (let i = 0; i < data.length; i += 4) for (let k = 0; k < 3; k++) most[k] = Math.max(most[k]!, data[i + k]!);
      return most;
    },
    `data:image/png;base64,${png.toString('base64')}`,
  );
}

/** small are buttons and links under 64 px, or nearer to another than 8 px where both stand alone. */
const small = (page: Page): Promise<string[]> =>
  page.evaluate(() =>
    [
      ...(document.querySelector('dialog[open]') ?? document).querySelectorAll(
        'button, a, textarea, input:not([type=file])',
      ),
    ]
      .map((e) => ({ e, r: e.getBoundingClientRect() }))
      .filter(({ r }) => r.width > 0 && (r.height < 63.5 || r.width < 63.5))
      .map(({ e, r }) => `${e.textContent?.trim().slice(0, 30)} ${Math.round(r.width)}×${Math.round(r.height)}`),
  );

describe.each(Object.entries(sizes))('%s', (size, viewport) => {
  test.each(looks)(
    '%s',
    async (theme) => {
      const boat = await Boat.start();
      const context = await browser.newContext({ viewport, hasTouch: true, reducedMotion: 'reduce' });
      await context.addInitScript((t) => localStorage.setItem('brinefield.theme', t), theme);
      const page = await context.newPage();
      const aside = await browser.newPage();
      const complaints: string[] = [];
      page.on('pageerror', (e) => complaints.push(String(e)));
      page.on('console', (m) => {
        const brought = /ERR_EMPTY_RESPONSE|ERR_CONNECTION|status of 401/.test(m.text());
        if ((m.type() === 'error' || m.type() === 'warning') && !brought) complaints.push(m.text());
      });
      const wrong: string[] = [];
      try {
        await walk(page, boat, async (name) => {
          const png = await page.screenshot(shots ? { path: join(shots, `${size}-${theme}-${name}.png`) } : {});
          if (theme === 'night') {
            const [red, green, blue] = await lightOf(aside, png);
            if (!red || green || blue) wrong.push(`${name}: light of ${red}, ${green}, ${blue}`);
          }
          // The rules of axe-core do not depend on size: once for each colour is enough.
          if (size === 'portrait') wrong.push(...(await audit(page)).map((f) => `${name}: ${f}`));
          wrong.push(...(await small(page)).map((f) => `${name}: ${f}`));
          const sideways = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
          if (sideways > 0) wrong.push(`${name}: scrolls sideways by ${sideways}`);
        });
        expect([...new Set(wrong)]).toEqual([]);
        expect(complaints).toEqual([]);
      } finally {
        await context.close();
        await aside.close();
        boat.stop();
      }
    },
    240_000,
  );
});

// Figures of the tablet's pages for docs/performance.md: the first paint, and a
// day of doing nothing. Runs where BRINEFIELD_MEASURED_DECK names the file to
// write (make bench); no speed is asserted elsewhere.
import { writeFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, inject, test } from 'vitest';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { launch } from '../browser';
import { Boat } from './boat';
import { begin, beginBeside, log, pairUp, status } from './hands';
import { Program } from './program';

const out = process.env.BRINEFIELD_MEASURED_DECK;
const lines: string[] = [];
const median = (v: number[]): number => [...v].sort((a, b) => a - b)[Math.floor(v.length / 2)]!;

describe.skipIf(!out)('the first paint', () => {
  const runs = 5;
  let program: Program;
  beforeAll(async () => {
    program = await Program.start(inject('binary'), inject('seasonFolder'));
  });
  afterAll(() => program?.end());

  /** paint is the first contentful paint and when the named text stood there, in ms after the navigation. */
  async function paint(context: BrowserContext, path: string, text: RegExp): Promise<{ first: number; whole: number }> {
    const page = await context.newPage();
    const devtools = await context.newCDPSession(page);
    await devtools.send('Emulation.setCPUThrottlingRate', { rate: 4 });
    // Looked for in the page itself: asking from outside would be part of the time.
    await page.addInitScript((source) => {
      const text = new RegExp(source);
      new MutationObserver((_all, me) => {
        if (!text.test(document.body?.innerText ?? '')) return;
        me.disconnect();
        (window as { whole?: number }).whole = performance.now();
      }).observe(document, { childList: true, subtree: true, characterData: true });
    }, text.source);
    await page.goto(program.serving.base + path, { waitUntil: 'commit' });
    await page.waitForFunction(() => (window as { whole?: number }).whole !== undefined);
    const whole = await page.evaluate(() => (window as { whole?: number }).whole!);
    const first = await page.evaluate(() => performance.getEntriesByName('first-contentful-paint')[0]!.startTime);
    return { first, whole };
  }

  test('cold, over HTTPS, and without the laptop', async () => {
    const cold: number[] = [];
    const coldWhole: number[] = [];
    for (let i = 0; i < runs; i++) {
      const context = await program.browser(`cold-${i}`);
      const p = await paint(context, '/deck', /Pair this tablet/);
      cold.push(p.first);
      coldWhole.push(p.whole);
      await context.close();
    }
    const first = await program.browser('tablet');
    const page = await first.newPage();
    await pairUp(page, program.serving, program.serving.code, /Tank trials/);
    await beginBeside(page);
    for (let i = 0; i < 200; i++) await log(page, 'ABCD'[i % 4]!, 'Turn');
    await expect.poll(() => status(page), { timeout: 60_000 }).toMatch(/^(\d+) saved on this tablet · \1 safe/);
    await first.close();
    await program.kill();
    const kept: number[] = [];
    const keptWhole: number[] = [];
    const study: number[] = [];
    const studyWhole: number[] = [];
    for (let i = 0; i < runs; i++) {
      for (const [path, text, f, w] of [
        ['/deck', /Tank trials/, kept, keptWhole],
        ['/deck/bay', /saved on this tablet/, study, studyWhole],
      ] as const) {
        const context = await program.browser('tablet');
        const p = await paint(context, path, text);
        f.push(p.first);
        w.push(p.whole);
        await context.close();
      }
    }
    const row = (what: string, f: number[], w: number[]) =>
      lines.push(
        `| ${what} | ${(median(f) / 1000).toFixed(2)} s (worst ${(Math.max(...f) / 1000).toFixed(2)} s) | ${(median(w) / 1000).toFixed(2)} s | under 1 s | ${median(f) < 1000 ? 'yes' : '**no**'} |`,
      );
    row('`/deck` of a tablet that was never here, over HTTPS', cold, coldWhole);
    row('`/deck` without the laptop, from the service worker', kept, keptWhole);
    row('`/deck/STUDY` without the laptop, 200 passes in its log', study, studyWhole);
    expect(Math.max(median(cold), median(kept), median(study))).toBeLessThan(1000);
  }, 400_000);
});

describe.skipIf(!out)('a day of doing nothing', () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launch();
  });
  afterAll(() => browser?.close());

  const hours = 8;
  async function idle(what: string, prepare: (page: Page, boat: Boat) => Promise<void>): Promise<void> {
    const boat = await Boat.start();
    const context = await browser.newContext({
      viewport: { width: 834, height: 1194 },
      hasTouch: true,
      reducedMotion: 'reduce',
    });
    try {
      const page = await context.newPage();
      await page.addInitScript(() => {
        const w = window as unknown as { woken: number };
        w.woken = 0;
        for (const name of ['setTimeout', 'setInterval'] as const) {
          const real = window[name] as (f: () => void, ms?: number, ...args: unknown[]) => number;
          (window as unknown as Record<string, unknown>)[name] = (
            f: (...a: unknown[]) => void,
            ms?: number,
            ...args: unknown[]
          ) => real(() => (w.woken++, f(...args)), ms);
        }
      });
      await pairUp(page, boat);
      await prepare(page, boat);
      const devtools = await context.newCDPSession(page);
      const heap = async () => {
        await devtools.send('HeapProfiler.collectGarbage');
        // Not performance.memory: that is rounded to steps of many megabytes.
        return (await devtools.send('Runtime.getHeapUsage')).usedSize;
      };
      const advance = async (ms: number) => {
        const over = new Promise((done) => devtools.once('Emulation.virtualTimeBudgetExpired', done));
        await devtools.send('Emulation.setVirtualTimePolicy', { policy: 'pauseIfNetworkFetchesPending', budget: ms });
        await over;
      };
      await devtools.send('HeapProfiler.enable');
      await advance(10 * 60_000); // what is only made once is made
      const before = {
        heap: await heap(),
        asked: boat.asked.length,
        woken: await page.evaluate(() => (window as unknown as { woken: number }).woken),
        ms: await page.evaluate(() => Date.now()),
      };
      await advance(hours * 3_600_000);
      const after = {
        heap: await heap(),
        asked: boat.asked.length,
        woken: await page.evaluate(() => (window as unknown as { woken: number }).woken),
        ms: await page.evaluate(() => Date.now()),
      };
      const passed = (after.ms - before.ms) / 60_000;
      lines.push(
        `| ${what} | ${((after.woken - before.woken) / passed).toFixed(1)} | ${after.asked - before.asked} | ${((after.heap - before.heap) / 1e6).toFixed(2)} MB of ${(before.heap / 1e6).toFixed(1)} MB | ${(passed / 60).toFixed(1)} h |`,
      );
    } finally {
      await context.close();
      boat.stop();
    }
  }

  test('open all day', async () => {
    lines.push(
      '',
      '| the page is open, and … | wake-ups a minute | requests | heap | for |',
      '| --- | --- | --- | --- | --- |',
    );
    const open = async (page: Page) => {
      await page.getByRole('link', { name: /Bay trials/ }).click();
      await page.getByRole('button', { name: 'Maeve Kinsella' }).click();
      await page.getByText('No trial runs: passes').waitFor();
    };
    await idle('nothing is to be sent, the laptop answers', open);
    await idle('nothing is to be sent, the laptop is away', async (page, boat) => {
      await open(page);
      boat.down = true;
    });
    await idle('entries wait, the laptop is away', async (page, boat) => {
      await open(page);
      boat.down = true;
      await page.getByRole('button', { name: 'More', exact: true }).click();
      await page.getByRole('button', { name: 'One animal more' }).click();
      await expect.poll(() => status(page)).toMatch(/^1 saved/);
    });
    await idle('a trial that was forgotten runs', async (page) => begin(page));
  }, 400_000);

  afterAll(() => writeFileSync(out!, lines.join('\n') + '\n'));
});

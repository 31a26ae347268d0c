// A browser for the tests, and the two rules that every page must keep: no
// request leaves this machine, and nothing is reported on the console.
import { existsSync } from 'node:fs';
import { chromium, type Browser, type Page } from 'playwright-core';
import { expect } from 'vitest';
import type { Served } from './serve';

export const laptop = { width: 1366, height: 768 };
export const tablet = { width: 820, height: 1180 };

/** The engine without its own windows takes half the work, where it is installed. Kills, updates of the shell and the laptop's own authority are tested with the whole browser. */
const without = '/usr/bin/chromium-headless-shell';
const program = process.env.CHROMIUM ?? (existsSync(without) ? without : '/usr/bin/chromium');

export const launch = (): Promise<Browser> =>
  chromium.launch({
    executablePath: program,
    args: [
      '--headless',
      '--no-sandbox',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  });

interface Choices {
  viewport?: { width: number; height: number };
  touch?: boolean;
  dark?: boolean;
  /** Console errors that the test brings about itself. */
  expected?: RegExp;
}

/** visit opens a page signed in, lets the test act, and then checks both rules. */
export async function visit(
  browser: Browser,
  served: Served,
  path: string,
  act: (page: Page) => Promise<void>,
  choices: Choices = {},
): Promise<void> {
  const context = await browser.newContext({
    viewport: choices.viewport ?? laptop,
    hasTouch: choices.touch ?? false,
    colorScheme: choices.dark ? 'dark' : 'light',
    reducedMotion: 'reduce',
  });
  const [name = '', value = ''] = served.cookie.split('=');
  if (name) await context.addCookies([{ name, value, url: served.base }]);
  const page = await context.newPage();
  const complaints: string[] = [];
  const strangers: string[] = [];
  page.on('console', (m) => {
    if ((m.type() === 'error' || m.type() === 'warning') && !choices.expected?.test(m.text()))
      complaints.push(m.text());
  });
  page.on('pageerror', (e) => complaints.push(String(e)));
  page.on('request', (r) => {
    const url = new URL(r.url());
    if (!['data:', 'blob:'].includes(url.protocol) && url.origin !== served.base) strangers.push(r.url());
  });
  try {
    await page.goto(served.base + path);
    await act(page);
    expect(complaints, 'console').toEqual([]);
    expect(strangers, 'requests to other hosts').toEqual([]);
  } finally {
    await context.close();
  }
}

// The whole of it: the program serves tablets over HTTPS with its own authority,
// a browser that has the authority installed pairs, logs while the program is
// dead, and brings all of it once.
import { spawn, spawnSync, type ChildProcess } from 'node:child_process';
import { copyFileSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import { chromium, type BrowserContext, type Page } from 'playwright-core';
import { enter, type Served } from '../serve';
import { log, pairUp, status } from './hands';

const home = mkdtempSync(join(tmpdir(), 'brinefield-boat-'));
const studies = join(home, 'studies');
const keys = join(home, 'keys');
const binary = inject('binary');

interface Serving {
  child: ChildProcess;
  /** The address by the laptop's own name. */
  base: string;
  code: string;
  link: string;
}

let serving: Serving;
let context: BrowserContext;
let page: Page;

function serve(listen: string): Promise<Serving> {
  const flags = ['--studies', studies, '--keys', keys, '--no-browser', '--listen', listen, '--code', 'bay:operator'];
  const child = spawn(binary, ['serve', ...flags], { env: { ...process.env, HOME: home, XDG_CACHE_HOME: home } });
  return new Promise((done, failed) => {
    let said = '';
    const timer = setTimeout(() => failed(new Error(`no address:\n${said}`)), 60_000);
    const read = (chunk: Buffer) => {
      said += chunk.toString();
      const base = /(https:\/\/[a-z0-9-]+\.local:\d+)\/deck/.exec(said)?.[1];
      const code = /Code for one tablet.*: (\S+)/.exec(said)?.[1];
      const link = /http:\/\/127\.0\.0\.1:\d+\/enter\?token=\S+/.exec(said)?.[0];
      if (!base || !code || !link) return;
      clearTimeout(timer);
      done({ child, base, code, link });
    };
    child.stdout.on('data', read);
    child.stderr.on('data', read);
    child.on('exit', (code) => failed(new Error(`the program ended with ${code}:\n${said}`)));
  });
}

async function kill(): Promise<void> {
  const ended = new Promise((r) => serving.child.once('exit', r));
  serving.child.kill('SIGKILL');
  await ended;
}

function run(program: string, ...args: string[]): void {
  const { status, stdout, stderr } = spawnSync(program, args, {
    env: { ...process.env, HOME: home },
    encoding: 'utf8',
  });
  if (status !== 0) throw new Error(`${program} ${args.join(' ')}: ${stdout}${stderr}`);
}

beforeAll(async () => {
  run(binary, 'import', inject('seasonFolder'), 'bay', '--studies', studies, '--yes');
  serving = await serve('127.0.0.1:0');
  copyFileSync(join(keys, 'authority', 'authority.crt'), join(home, 'authority.crt'));
  for (const store of [join(home, '.pki', 'nssdb'), join(home, '.local', 'share', 'pki', 'nssdb')]) {
    mkdirSync(store, { recursive: true });
    run('certutil', '-d', `sql:${store}`, '-N', '--empty-password');
    run('certutil', '-d', `sql:${store}`, '-A', '-t', 'C,,', '-n', 'boat', '-i', join(home, 'authority.crt'));
  }
  const name = new URL(serving.base).hostname;
  context = await chromium.launchPersistentContext(join(home, 'profile'), {
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--headless', '--no-sandbox', '--disable-quic', `--host-resolver-rules=MAP ${name} 127.0.0.1`],
    env: { ...process.env, HOME: home, XDG_CONFIG_HOME: home, XDG_DATA_HOME: join(home, '.local', 'share') } as Record<
      string,
      string
    >,
    viewport: { width: 834, height: 1194 },
    hasTouch: true,
    reducedMotion: 'reduce',
  });
  page = await context.newPage();
});
afterAll(async () => {
  await context?.close();
  if (serving) await kill();
  rmSync(home, { recursive: true, force: true, maxRetries: 5 });
});

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
  const laptop: Served = await enter(serving.link);
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
  const port = new URL(serving.base).port;
  await page.goto(`${serving.base}/`);
  expect(new URL(page.url()).pathname).toBe('/deck');
  expect(await page.evaluate(() => isSecureContext)).toBe(true);
  await page.getByText('shows the same words').waitFor();
  await pairUp(page, serving, serving.code, /bay|Tank trials/);
  await page.getByRole('link', { name: /Tank trials/ }).click();
  await page.getByRole('textbox', { name: 'Another name' }).fill('Ines Duarte');
  await page.getByRole('button', { name: 'Log under this name' }).click();
  await page.getByRole('button', { name: 'Trial', exact: true }).click();
  await page
    .getByRole('button', { name: /^Begin without the list|^Begin T/ })
    .last()
    .click();
  const why = page.getByRole('button', { name: 'Looked at by the divers' });
  if (await why.isVisible()) {
    await why.click();
    await page
      .getByRole('dialog')
      .getByRole('button', { name: /^Begin / })
      .click();
  }
  await page.getByRole('button', { name: /Tap to choose the species/ }).click();
  await page.getByRole('button', { name: 'Thornback ray', exact: true }).click();
  await page.getByRole('button', { name: /^Unknown No mark/ }).click();
  await expect.poll(() => status(page), { timeout: 20_000 }).toMatch(/^(\d+) saved on this tablet · \1 safe/);
  const before = Number.parseInt(await status(page));

  await kill();
  for (let i = 0; i < 30; i++) await log(page, 'ABCD'[i % 4]!, i % 3 ? 'Turn' : 'No turn');
  await page.reload();
  await expect.poll(() => status(page)).toBe(`${before + 30} saved on this tablet · ${before} safe on the laptop`);
  await log(page, 'A', 'Turn');

  serving = await serve(`127.0.0.1:${port}`);
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

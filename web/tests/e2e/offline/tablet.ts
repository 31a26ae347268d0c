// A server and a browser of their own for the tests of a tablet's log: the
// server sends the headers of the program (internal/httpapi/guard.go), the
// browser keeps its profile in a folder and can be killed.
import { spawn, type ChildProcess } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createServer, type IncomingMessage, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { extname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium, type Browser, type Page } from 'playwright-core';
import { build } from 'vite';
import { serviceWorker, workers } from '../../../service-worker-plugin';

const here = fileURLToPath(new URL('.', import.meta.url));
const types: Record<string, string> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript',
  '.css': 'text/css',
};

/** The policy of the program, so that what it forbids is forbidden here. */
const policy = /"Content-Security-Policy", "([^"]+)"/.exec(
  readFileSync(new URL('../../../../internal/httpapi/guard.go', import.meta.url), 'utf8'),
)![1]!;

export class Laptop {
  base = '';
  /** What the page was told is saved: number and hash. */
  acknowledged = new Map<number, string>();
  onAck: (n: number) => void = () => undefined;
  /** Entries and blobs that the laptop took in. */
  taken: string[] = [];
  blobs: string[] = [];
  batches: number[] = [];
  /** After how many batches the connection is cut before the answer. */
  cutAt = new Set<number>();
  asked: string[] = [];
  down = false;
  #server: Server;
  #dist = mkdtempSync(join(tmpdir(), 'brinefield-deck-dist-'));

  private constructor() {
    this.#server = createServer((q, a) => {
      const path = new URL(q.url ?? '/', 'http://x').pathname;
      this.asked.push(path);
      if (this.down) return q.socket.destroy();
      a.setHeader('Content-Security-Policy', policy);
      if (path.startsWith('/api/')) {
        a.setHeader('Cache-Control', 'no-store');
        void bodyOf(q).then((body) => {
          const answer = this.#answer(path, body);
          if (answer === undefined) q.socket.destroy();
          else a.end(answer);
        });
        return;
      }
      // As Go's file server does.
      if (path === '/index.html') return a.writeHead(301, { Location: './' }).end();
      const file = extname(path) === '' ? 'index.html' : path.slice(1);
      try {
        const bytes = readFileSync(join(this.#dist, file));
        a.setHeader('Content-Type', types[extname(file)] ?? 'application/octet-stream');
        a.setHeader('Cache-Control', 'no-cache');
        a.end(bytes);
      } catch {
        a.writeHead(404).end();
      }
    });
  }

  static async start(): Promise<Laptop> {
    const l = new Laptop();
    await l.build('1');
    await new Promise<void>((done) => l.#server.listen(0, '127.0.0.1', done));
    l.base = `http://127.0.0.1:${(l.#server.address() as AddressInfo).port}`;
    return l;
  }

  /** build puts a version of the page there. */
  async build(version: string): Promise<void> {
    await build({
      configFile: false,
      root: here,
      publicDir: false,
      logLevel: 'error',
      define: { 'import.meta.env.VITE_TEST_VERSION': JSON.stringify(version) },
      resolve: { alias: { $lib: fileURLToPath(new URL('../../../src/lib', import.meta.url)) } },
      plugins: [serviceWorker()],
      worker: workers,
      build: {
        target: 'es2022',
        outDir: this.#dist,
        emptyOutDir: true,
        assetsInlineLimit: 0,
        modulePreload: { polyfill: false },
      },
    });
  }

  #answer(path: string, body: string): string | undefined {
    if (path === '/api/ack') {
      const [seq, hash] = body.split(' ');
      this.acknowledged.set(Number(seq), hash!);
      this.onAck(Number(seq));
      return '';
    }
    if (path !== '/api/take') return '{}';
    const { entries, blobs } = JSON.parse(body) as { entries: string[]; blobs: string[] };
    this.batches.push(entries.length);
    this.taken.push(...entries);
    this.blobs.push(...blobs);
    if (this.cutAt.has(this.batches.length)) return undefined;
    const heads: Record<string, { seq: number; hash: string }> = {};
    for (const text of this.taken) {
      const { device, seq } = JSON.parse(text) as { device: string; seq: number };
      if (seq > (heads[device]?.seq ?? 0))
        heads[device] = { seq, hash: createHash('sha256').update(text).digest('hex') };
    }
    return JSON.stringify({ heads, blobs });
  }

  stop(): void {
    this.#server.closeAllConnections();
    this.#server.close();
    rmSync(this.#dist, { recursive: true, force: true });
  }
}

async function bodyOf(q: IncomingMessage): Promise<string> {
  const parts: Buffer[] = [];
  for await (const part of q) parts.push(part as Buffer);
  return Buffer.concat(parts).toString();
}

/** Tablet is a browser with a profile of its own. */
export class Tablet {
  readonly profile: string;
  #child: ChildProcess;
  #browser: Browser;

  private constructor(profile: string, child: ChildProcess, browser: Browser) {
    this.profile = profile;
    this.#child = child;
    this.#browser = browser;
  }

  static async start(profile = mkdtempSync(join(tmpdir(), 'brinefield-deck-')), tries = 3): Promise<Tablet> {
    const child = spawn(
      process.env.CHROMIUM ?? '/usr/bin/chromium',
      [
        '--headless',
        '--no-sandbox',
        '--disable-quic',
        '--no-first-run',
        '--disable-background-networking',
        '--disable-component-update',
        '--disable-sync',
        '--remote-debugging-port=0',
        `--user-data-dir=${profile}`,
        'about:blank',
      ],
      // A group of its own, so that all of its processes can be killed at once.
      { detached: true, stdio: ['ignore', 'ignore', 'pipe'] },
    );
    const address = await new Promise<string>((done, failed) => {
      let said = '';
      child.stderr!.on('data', (d: Buffer) => {
        said += d.toString();
        const at = /DevTools listening on (ws:\S+)/.exec(said)?.[1];
        if (at) done(at);
      });
      child.once('exit', () => failed(new Error(`the browser ended:\n${said}`)));
    });
    try {
      return new Tablet(profile, child, await chromium.connectOverCDP(address, { timeout: 10_000 }));
    } catch (e) {
      process.kill(-child.pid!, 'SIGKILL');
      await new Promise((r) => child.once('exit', r));
      // Now and then a browser does not answer when the machine is busy.
      if (tries > 1) return Tablet.start(profile, tries - 1);
      throw e;
    }
  }

  async page(laptop: Laptop, path = '/'): Promise<Page> {
    const page = await this.#browser.contexts()[0]!.newPage();
    await page.goto(laptop.base + path);
    await page.waitForFunction(() => 'deck' in window);
    return page;
  }

  /** kill ends the browser as the system does when memory runs out. */
  async kill(): Promise<void> {
    const ended = new Promise((r) => this.#child.once('exit', r));
    process.kill(-this.#child.pid!, 'SIGKILL');
    await ended;
    await this.#browser.close().catch(() => undefined);
  }

  async remove(): Promise<void> {
    if (this.#child.exitCode === null && this.#child.signalCode === null) await this.kill();
    rmSync(this.profile, { recursive: true, force: true, maxRetries: 5 });
  }
}

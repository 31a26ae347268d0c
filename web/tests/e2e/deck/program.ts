// The program that serves tablets, and a browser that trusts it.
import { spawn, spawnSync, type ChildProcess } from 'node:child_process';
import { copyFileSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium, type Browser, type BrowserContext } from 'playwright-core';

interface Serving {
  child: ChildProcess;
  /** The address by the laptop's own name. */
  base: string;
  code: string;
  link: string;
}

export const tablet = { viewport: { width: 834, height: 1194 }, hasTouch: true, reducedMotion: 'reduce' } as const;

/** How it is before anybody serves it. */
interface Beginning {
  /** The active pairs are sealed. */
  blind?: boolean;
  /** A second copy of the study, by backup and restore; tablets reach the first alone. */
  copy?: string;
}

export class Program {
  readonly home = mkdtempSync(join(tmpdir(), 'brinefield-boat-'));
  serving!: Serving;
  #binary: string;
  #only: string[] = [];
  #open: (Browser | BrowserContext)[] = [];

  private constructor(binary: string) {
    this.#binary = binary;
  }

  /** start imports a season as the study bay, serves it, and makes browsers of this home trust it. */
  static async start(binary: string, season: string, o: Beginning = {}): Promise<Program> {
    const p = new Program(binary);
    const blind = o.blind ? ['--blind'] : [];
    p.#run(binary, 'import', season, 'bay', '--studies', join(p.home, 'studies'), '--yes', ...blind);
    if (o.copy) {
      const backup = join(p.home, 'bay.zip');
      p.#run(binary, 'backup', 'bay', backup, '--studies', join(p.home, 'studies'));
      p.#run(binary, 'restore', backup, o.copy, '--studies', join(p.home, 'studies'));
      p.#only = ['bay'];
    }
    await p.serve('127.0.0.1:0');
    const authority = join(p.home, 'authority.crt');
    copyFileSync(join(p.home, 'keys', 'authority', 'authority.crt'), authority);
    for (const store of [join(p.home, '.pki', 'nssdb'), join(p.home, '.local', 'share', 'pki', 'nssdb')]) {
      mkdirSync(store, { recursive: true });
      p.#run('certutil', '-d', `sql:${store}`, '-N', '--empty-password');
      p.#run('certutil', '-d', `sql:${store}`, '-A', '-t', 'C,,', '-n', 'boat', '-i', authority);
    }
    return p;
  }

  async serve(listen: string): Promise<void> {
    const folders = ['--studies', join(this.home, 'studies'), '--keys', join(this.home, 'keys')];
    const child = spawn(
      this.#binary,
      ['serve', ...this.#only, ...folders, '--no-browser', '--listen', listen, '--code', 'bay:operator'],
      { env: { ...process.env, HOME: this.home, XDG_CACHE_HOME: this.home } },
    );
    this.serving = await new Promise((done, failed) => {
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

  async kill(): Promise<void> {
    const { child } = this.serving;
    if (child.exitCode !== null || child.signalCode !== null) return;
    const ended = new Promise((r) => child.once('exit', r));
    child.kill('SIGKILL');
    await ended;
  }

  #run(program: string, ...args: string[]): void {
    const env = { ...process.env, HOME: this.home };
    const { status, stdout, stderr } = spawnSync(program, args, { env, encoding: 'utf8' });
    if (status !== 0) throw new Error(`${program} ${args.join(' ')}: ${stdout}${stderr}`);
  }

  /** browser starts one with a profile of that name. */
  async browser(profile: string): Promise<BrowserContext> {
    const context = await chromium.launchPersistentContext(join(this.home, profile), {
      ...this.#trusting(),
      ...tablet,
    });
    this.#open.push(context);
    return context;
  }

  /** launch starts one for several devices, each a context of its own. */
  async launch(): Promise<Browser> {
    const browser = await chromium.launch(this.#trusting());
    this.#open.push(browser);
    return browser;
  }

  #trusting() {
    const name = new URL(this.serving.base).hostname;
    const data = join(this.home, '.local', 'share');
    return {
      executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
      args: ['--headless', '--no-sandbox', '--disable-quic', `--host-resolver-rules=MAP ${name} 127.0.0.1`],
      env: { ...process.env, HOME: this.home, XDG_CONFIG_HOME: this.home, XDG_DATA_HOME: data } as Record<
        string,
        string
      >,
    };
  }

  async end(): Promise<void> {
    for (const b of this.#open) await b.close();
    if (this.serving) await this.kill();
    rmSync(this.home, { recursive: true, force: true, maxRetries: 5 });
  }
}

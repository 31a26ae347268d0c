// Starts the program on the example season and on a faulty copy of it, each on
// a free port, and hands their addresses and session cookies to the tests.
import { spawn, type ChildProcess } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import type { TestProject } from 'vitest/node';

export interface Served {
  base: string;
  cookie: string;
}

declare module 'vitest' {
  export interface ProvidedContext {
    season: Served;
    faulty: Served;
    binary: string;
    seasonFolder: string;
  }
}

const waitMs = 60_000;

/** start runs `open` and gives the link that it prints. */
export function start(binary: string, folder: string, home: string): Promise<{ link: string; child: ChildProcess }> {
  const child = spawn(binary, ['open', folder, '--port', '0', '--no-browser'], {
    env: { ...process.env, HOME: home, XDG_CACHE_HOME: home, TMPDIR: home },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let said = '';
  return new Promise((done, failed) => {
    const timer = setTimeout(() => failed(new Error(`no address after ${waitMs / 1000} s:\n${said}`)), waitMs);
    const read = (chunk: Buffer) => {
      said += chunk.toString();
      const link = /http:\/\/127\.0\.0\.1:\d+\/enter\?token=\S+/.exec(said)?.[0];
      if (!link) return;
      clearTimeout(timer);
      done({ link, child });
    };
    child.stdout.on('data', read);
    child.stderr.on('data', read);
    child.on('exit', (code) => failed(new Error(`the program ended with ${code}:\n${said}`)));
  });
}

/** enter exchanges the link for a cookie and waits until the analysis is done. */
async function enter(link: string): Promise<Served> {
  const base = new URL(link).origin;
  const answer = await fetch(link);
  const cookie = answer.headers.get('set-cookie')?.split(';')[0] ?? '';
  const until = Date.now() + waitMs;
  for (;;) {
    const progress = (await (await fetch(`${base}/api/progress`, { headers: { cookie } })).json()) as { state: string };
    if (progress.state !== 'running') return { base, cookie };
    if (Date.now() > until) throw new Error('the analysis takes too long');
    await new Promise((r) => setTimeout(r, 100));
  }
}

/** makeFaulty copies the season with three faults that people make. */
function makeFaulty(from: string, to: string): void {
  cpSync(from, to, { recursive: true });
  const passes = join(to, 'passes.csv');
  const lines = readFileSync(passes, 'utf8').split('\n');
  lines[1] = lines[1]!.replace(',T001,', ',T0O1,');
  lines[4] = lines[4]!.replace(',no,no,', ',maybe,no,');
  writeFileSync(passes, lines.join('\n'));
  const study = join(to, 'study.toml');
  writeFileSync(study, readFileSync(study, 'utf8').replace('depth_m = 0.9', 'depth_m = -0.9'));
}

export default async function setup(project: TestProject): Promise<() => void> {
  const binary = resolve(process.env.BRINEFIELD_BIN ?? '../bin/brinefield');
  if (!existsSync(binary)) throw new Error(`${binary} is missing: run make build, or set BRINEFIELD_BIN`);
  const home = mkdtempSync(join(tmpdir(), 'brinefield-e2e-'));
  const seasonFolder = resolve('../testdata/season-a');
  const faultyFolder = join(home, 'faulty');
  makeFaulty(seasonFolder, faultyFolder);
  const [season, faulty] = await Promise.all([start(binary, seasonFolder, home), start(binary, faultyFolder, home)]);
  project.provide('season', await enter(season.link));
  project.provide('faulty', await enter(faulty.link));
  project.provide('binary', binary);
  project.provide('seasonFolder', seasonFolder);
  return () => {
    season.child.kill('SIGINT');
    faulty.child.kill('SIGINT');
    rmSync(home, { recursive: true, force: true });
  };
}

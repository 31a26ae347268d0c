// Starts the program on the example season, on a faulty copy of it and on an
// empty folder for studies, each on a free port, and hands their addresses and
// session cookies to the tests.
import { spawn, type ChildProcess } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import type { TestProject } from 'vitest/node';

export interface Served {
  base: string;
  cookie: string;
}

/** Addresses below the season that the window shows. */
export const seasonPath = '/season-a';

declare module 'vitest' {
  export interface ProvidedContext {
    season: Served;
    faulty: Served;
    /** Folders of the example season as people would choose them. */
    folders: { whole: string; corrected: string; faulty: string };
    binary: string;
    seasonFolder: string;
  }
}

const waitMs = 60_000;

/** start runs `open` and gives the link that it prints; without a folder it shows the studies in home. */
export function start(binary: string, folder: string, home: string): Promise<{ link: string; child: ChildProcess }> {
  const what = folder ? [folder] : ['--studies', join(home, 'studies')];
  const child = spawn(binary, ['open', ...what, '--port', '0', '--no-browser'], {
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

/** enter exchanges the link for a cookie; of a named study or season it waits until the analysis is done. */
export async function enter(link: string, study = ''): Promise<Served> {
  const base = new URL(link).origin;
  const answer = await fetch(link);
  const cookie = answer.headers.get('set-cookie')?.split(';')[0] ?? '';
  const until = Date.now() + waitMs;
  while (study) {
    const about = `${base}/api/studies/${encodeURIComponent(study)}/results`;
    const results = (await (await fetch(about, { headers: { cookie } })).json()) as { state: string };
    if (results.state === 'current' || results.state === 'incomplete') break;
    if (Date.now() > until) throw new Error(`the analysis takes too long: ${JSON.stringify(results)}`);
    await new Promise((r) => setTimeout(r, 100));
  }
  return { base, cookie };
}

/** shelf opens a window on an empty folder for studies. */
export async function shelf(binary: string): Promise<{ served: Served; close: () => void }> {
  const home = mkdtempSync(join(tmpdir(), 'brinefield-shelf-'));
  const { link, child } = await start(binary, '', home);
  const close = () => {
    child.once('exit', () => rmSync(home, { recursive: true, force: true }));
    child.kill('SIGINT');
  };
  return { served: await enter(link), close };
}

/** makeCorrected changes one value, blanks another, and leaves the last pass out. */
function makeCorrected(from: string, to: string): void {
  cpSync(from, to, { recursive: true });
  edit(join(to, 'passes.csv'), (lines) => {
    const column = (name: string) => lines[0]!.split(',').indexOf(name);
    const cells = lines[1]!.split(',');
    cells[column('watched_s')] = '3.5';
    cells[column('total_length_cm')] = '';
    return [lines[0]!, cells.join(','), ...lines.slice(2).filter((l) => !l.startsWith('P00646,'))];
  });
  edit(join(to, 'tracks.csv'), (lines) => lines.filter((l) => !l.startsWith('P00646,')));
  writeFileSync(join(to, 'notes.txt'), 'not part of the season');
}

function edit(file: string, change: (lines: string[]) => string[]): void {
  writeFileSync(file, change(readFileSync(file, 'utf8').split('\n')).join('\n'));
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
  const correctedFolder = join(home, 'corrected');
  makeCorrected(seasonFolder, correctedFolder);
  const [season, faulty] = await Promise.all([start(binary, seasonFolder, home), start(binary, faultyFolder, home)]);
  project.provide('season', await enter(season.link, 'season-a'));
  project.provide('faulty', await enter(faulty.link, 'faulty'));
  project.provide('binary', binary);
  project.provide('seasonFolder', seasonFolder);
  project.provide('folders', { whole: seasonFolder, corrected: correctedFolder, faulty: faultyFolder });
  return () => {
    season.child.kill('SIGINT');
    faulty.child.kill('SIGINT');
    rmSync(home, { recursive: true, force: true });
  };
}

// How long a step takes from the key to the painted picture, and whether memory
// stays flat, in the whole program:
//
//   make build && node web/tests/measure/footage.mjs CLIP [MINUTES]
//
// CLIP is any recording; steps are made on its small copy where the program makes
// one. MINUTES (2 unless told) of playing at 8 × and of jumps at random follow, with
// the memory of the browser's page process and of the program each 10 s. Run it on a
// machine at rest; a clip of two hours: ffmpeg -f lavfi -i
// testsrc2=size=1280x720:rate=30:duration=7200 -c:v libx264 -g 12 -bf 0 two-hours.mp4
import { spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';

const [clip, minutes = '2'] = process.argv.slice(2);
if (!clip || !existsSync(clip)) {
  console.error('Name a clip: node web/tests/measure/footage.mjs CLIP [MINUTES]');
  process.exit(2);
}
const root = resolve(dirname(fileURLToPath(import.meta.url)), '../../..');
const binary = process.env.BRINEFIELD_BIN ?? join(root, 'bin/brinefield');
const home = mkdtempSync(join(tmpdir(), 'brinefield-measure-'));
const program = spawn(binary, ['demo', '--port', '0', '--no-browser'], {
  env: { ...process.env, HOME: home, TMPDIR: home },
  stdio: ['ignore', 'pipe', 'inherit'],
});
const link = await new Promise((done) => {
  let said = '';
  program.stdout.on('data', (chunk) => {
    said += chunk;
    const found = /http:\S+token=\S+/.exec(said);
    if (found) done(found[0]);
  });
});
const base = new URL(link).origin;
const cookie = (await fetch(link, { redirect: 'manual' })).headers.get('set-cookie').split(';')[0];
const ask = async (path, body) => {
  const answer = await fetch(`${base}/api/studies/demo/footage${path}`, {
    method: body ? 'POST' : 'GET',
    headers: { cookie, 'Content-Type': 'application/json' },
    body: body && JSON.stringify(body),
  });
  if (!answer.ok) throw new Error(await answer.text());
  return answer.json();
};
const wait = (ms) => new Promise((r) => setTimeout(r, ms));

/** Resident memory of a process and all below it, MB. */
function memoryMB(pid) {
  const parents = {};
  const size = {};
  for (const p of readdirSync('/proc').filter((n) => /^\d+$/.test(n)))
    try {
      const status = readFileSync(`/proc/${p}/status`, 'utf8');
      parents[p] = /PPid:\s+(\d+)/.exec(status)?.[1];
      size[p] = Number(/VmRSS:\s+(\d+)/.exec(status)?.[1] ?? 0) / 1024;
    } catch {
      // it has ended
    }
  const below = (p) =>
    (size[p] ?? 0) +
    Object.keys(parents)
      .filter((c) => parents[c] === String(p))
      .reduce((n, c) => n + below(c), 0);
  return below(pid);
}

const quantiles = (times) => {
  const t = times.toSorted((a, b) => a - b);
  const at = (q) => t[Math.min(t.length - 1, Math.floor(q * t.length))].toFixed(1);
  return `median ${at(0.5)} ms, 95 % ${at(0.95)} ms, worst ${at(1)} ms (${t.length})`;
};

const server = await chromium.launchServer({
  executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
  args: ['--headless', '--no-sandbox', '--disable-quic', '--no-first-run'],
});
const browser = await chromium.connect(server.wsEndpoint());
try {
  const path = resolve(clip);
  await ask('/import', { author: '', clip: 'measured', files: [path], copy: false, start: '2026-01-01T12:00:00Z' });
  for (;;) {
    const view = await ask('');
    const failed = view.jobs.find((j) => j.state === 'failed');
    if (failed) throw new Error(failed.why);
    const made = view.clips.find((c) => c.clip === 'measured');
    if (made?.frames > 0 && view.jobs.length === 0) {
      console.log(
        `${basename(path)}: ${made.frames} frames, ${made.width_px} × ${made.height_px}, small copy: ${made.chapters[0].proxy.state}`,
      );
      break;
    }
    await wait(300);
  }
  const context = await browser.newContext({ viewport: { width: 1280, height: 800 } });
  const [name, value] = cookie.split('=');
  await context.addCookies([{ name, value, url: base }]);
  const page = await context.newPage();
  await page.goto(`${base}/demo/footage/clips?clip=measured`);
  await page.locator('.stage[data-frame="0"]').waitFor({ timeout: 120_000 });

  /** From the key to the picture: the frame's number stands on the stage when it is painted, then comes the next paint. */
  const steps = (key, shift, times) =>
    page.evaluate(
      async ([key, shift, times]) => {
        const stage = document.querySelector('.stage');
        const took = [];
        for (let i = 0; i < times; i++) {
          const before = stage.dataset.frame;
          const began = performance.now();
          const painted = new Promise((done) => {
            const watch = new MutationObserver(() => {
              watch.disconnect();
              requestAnimationFrame(() => done());
            });
            watch.observe(stage, { attributes: true, attributeFilter: ['data-frame'] });
          });
          stage.dispatchEvent(new KeyboardEvent('keydown', { key, shiftKey: shift, bubbles: true, cancelable: true }));
          await Promise.race([painted, new Promise((r) => setTimeout(r, 5000))]);
          if (stage.dataset.frame !== before) took.push(performance.now() - began);
          await new Promise((r) => setTimeout(r, 60)); // a hand's pace
        }
        return took;
      },
      [key, shift, times],
    );
  const seek = async (frame) => {
    const began = performance.now();
    await page.getByRole('textbox', { name: /^Frame/ }).evaluate((field, f) => {
      field.value = String(f);
      field.dispatchEvent(new Event('change', { bubbles: true }));
    }, frame);
    await page.locator(`.stage[data-frame="${frame}"]`).waitFor({ timeout: 60_000 });
    return performance.now() - began;
  };
  const count = (await ask('')).clips.find((c) => c.clip === 'measured').frames;
  await seek(Math.floor(count / 2));
  console.log('a frame on:   ', quantiles(await steps('ArrowRight', false, 150)));
  console.log('a frame back: ', quantiles(await steps('ArrowLeft', false, 150)));
  console.log('ten on:       ', quantiles(await steps('ArrowRight', true, 30)));
  console.log('ten back:     ', quantiles(await steps('ArrowLeft', true, 30)));
  const jumps = [];
  for (let i = 1; i <= 40; i++) jumps.push(await seek((i * 7919 * 13) % count));
  console.log('anywhere:     ', quantiles(jumps));

  const tell = (what) =>
    console.log(
      `${what}: browser ${memoryMB(server.process().pid).toFixed(0)} MB, program ${memoryMB(program.pid).toFixed(0)} MB`,
    );
  const half = (Number(minutes) * 60_000) / 2;
  await seek(0);
  await page.getByRole('combobox', { name: 'Speed' }).selectOption('8');
  await page.locator('.stage').focus();
  await page.keyboard.press(' ');
  for (let until = Date.now() + half; Date.now() < until; await wait(10_000)) tell('playing');
  await page.keyboard.press('k');
  for (let until = Date.now() + half, i = 1, told = 0; Date.now() < until; i++) {
    await seek((i * 104_729) % count);
    if (Date.now() - told > 10_000) {
      tell('jumping');
      told = Date.now();
    }
  }
} finally {
  await browser.close();
  await server.close();
  program.kill('SIGINT');
  program.once('exit', () => rmSync(home, { recursive: true, force: true }));
}

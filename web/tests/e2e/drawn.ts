// A study with a sealed schedule, four of its six trials run and three passes,
// of which one is not scored. All of it is invented.
import { readdirSync, readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import type { Locator, Page } from 'playwright-core';
import type { Schedule } from '../../src/lib/api/schedule';
import type { Bay } from './bay';

export interface Drawn {
  study: string;
  /** Text of the two secret keys; the first has a passphrase. */
  keys: [string, string];
  passphrase: string;
  view(): Promise<Schedule>;
}

const folder = resolve('tests/fixtures/cast-season');
const rows = ['passes.csv', 'tracks.csv', 'trials.csv', 'individuals.csv'];
const species = 'Scyliorhinus canicula';
const author = 'N. Example';

export async function drawStudy(bay: Bay, study: string): Promise<Drawn> {
  const { ask } = bay;
  const files = readdirSync(folder).map((name) => {
    const text = readFileSync(resolve(folder, name), 'utf8');
    const kept = rows.includes(name) ? text.split('\n')[0]! + '\n' : text;
    return { name, data: Buffer.from(kept).toString('base64') };
  });
  const { plan } = await ask<{ plan: string }>('imports/plan', { study: '', files });
  await ask('imports', { plan, study, blind: true, author });
  const passphrase = 'squid and sand eel';
  const mine = await ask<{ public: string; secret: string }>('schedule/key', { passphrase });
  const safe = await ask<{ public: string; secret: string }>('schedule/key', { passphrase: '' });
  await ask(`studies/${study}/schedule/seal`, {
    plan: {
      ...{ pairs: ['A', 'B'], currents_uA: [6, 9], trials: 6, silent: 2, sham: 0, odour_off: 0 },
      ...{ draw_polarity: true, repeats: 1, most_alike: 0, spare: 3 },
    },
    per_day: 3,
    keys: [
      { public: mine.public, holder: author },
      { public: safe.public, holder: 'the safe' },
    ],
    author,
    reason: '',
  });
  const trial = (n: number) => ({
    ...{ kind: 'trial', id: `T00${n}` },
    fields: { start: `2025-05-1${n}T09:00:00`, end: `2025-05-1${n}T09:50:00`, bait: 'squid' },
  });
  await ask(`studies/${study}/edits`, { author, add: [1, 2, 3, 4].map(trial) });
  await ask(`studies/${study}/edits`, { author, add: [{ kind: 'individual', id: 'SC01', fields: { species } }] });
  const pass = (n: number) => ({
    ...{ kind: 'pass', id: `P000${n}` },
    fields: {
      ...{ trial: `T00${n}`, time: `2025-05-1${n}T09:05:00`, individual: 'SC01', species, pair: 'A' },
      ...{ watched_s: '2.4', scorer: 'P. Sample' },
      ...(n < 3 ? { turned: 'no', bit: 'no' } : {}),
    },
  });
  await ask(`studies/${study}/edits`, { author, add: [1, 2, 3].map(pass) });
  return {
    study,
    keys: [mine.secret, safe.secret],
    passphrase,
    view: () => ask<Schedule>(`studies/${study}/schedule`),
  };
}

/** give fills in a secret key as its file. */
export async function give(form: Page | Locator, secret: string, passphrase: string): Promise<void> {
  await form.locator('input[type=file]').setInputFiles({
    name: 'key.txt',
    mimeType: 'text/plain',
    buffer: Buffer.from(secret),
  });
  await form.locator('input[type=password]').fill(passphrase);
}

// The invented bay with casts, imported into a study of its own as another
// window would do it.
import { readdirSync, readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import type { Entry, Water } from '../../src/lib/api/studies';
import { shelf, type Served } from './serve';

export interface Bay {
  served: Served;
  /** Name of the study; of the same one with its active pairs sealed. */
  study: string;
  sealed: string;
  ask<T>(path: string, body?: object): Promise<T>;
  edit(kind: string, id: string, field: string, from: string, to: string): Promise<{ entries: Entry[] }>;
  water(): Promise<Water>;
  close: () => void;
}

const folder = resolve('tests/fixtures/cast-season');

export async function openBay(binary: string): Promise<Bay> {
  const { served, close } = await shelf(binary);
  const ask = async <T>(path: string, body?: object): Promise<T> => {
    const answer = await fetch(`${served.base}/api/${path}`, {
      method: body ? 'POST' : 'GET',
      headers: { cookie: served.cookie, 'Content-Type': 'application/json' },
      body: body && JSON.stringify(body),
    });
    if (!answer.ok) throw new Error(`${path}: ${answer.status} ${await answer.text()}`);
    return (await answer.json()) as T;
  };
  const files = readdirSync(folder).map((name) => ({
    name,
    data: readFileSync(resolve(folder, name)).toString('base64'),
  }));
  const bring = async (study: string, blind: boolean) => {
    const { plan } = await ask<{ plan: string }>('imports/plan', { study: '', files });
    await ask('imports', { plan, study, blind, author: 'N. Example' });
  };
  const [study, sealed] = ['inner-bay', 'inner-bay-sealed'];
  await bring(study, false);
  await bring(sealed, true);
  return {
    served,
    study,
    sealed,
    ask,
    edit: (kind, id, field, from, to) =>
      ask(`studies/${study}/edits`, { author: 'P. Sample', changes: [{ kind, id, field, from, to }] }),
    water: () => ask(`studies/${study}/water`),
    close,
  };
}

/** Sentences that the browser itself writes when the program refuses an edit. */
export const refusals = /status of (409|422|503)/;

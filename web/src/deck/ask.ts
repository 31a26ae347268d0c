// What the tablet asks of the laptop. A laptop that is not there is the usual
// case on a boat, and no error.
import type { DeckAnswer, TabletSelf } from '$lib/api/types';
import { LogError } from '$lib/offline/errors';
import type { Answer, Batch } from '$lib/offline/outbox';
import { tablet as words } from '$lib/words/en-tablet';
import { readSelf, readView } from './view';

/** status 0: the laptop did not answer. */
export class AskError extends Error {
  constructor(
    readonly status: number,
    message: string,
  ) {
    super(message);
    this.name = 'AskError';
  }
}

/** A laptop out of reach must not keep a request for minutes. */
const patienceMs = 15_000;
/** A photo over the net of a boat takes its time. */
const sendingMs = 180_000;

async function ask(path: string, patience: number, init: RequestInit = {}): Promise<unknown> {
  const signals = [AbortSignal.timeout(patience), ...(init.signal ? [init.signal] : [])];
  const stop = new AbortController();
  for (const s of signals) s.addEventListener('abort', () => stop.abort(s.reason), { once: true });
  let answer: Response;
  let body: unknown;
  try {
    answer = await fetch(path, { ...init, signal: stop.signal, cache: 'no-store' });
    body = await answer.json().catch(() => undefined);
  } catch {
    throw new AskError(0, words.ask.gone);
  }
  if (answer.ok && body !== undefined) return body;
  const detail = (body as { detail?: unknown } | undefined)?.detail;
  throw new AskError(answer.status, typeof detail === 'string' && detail ? detail : words.ask.refused(answer.status));
}

const post = (body: unknown): RequestInit => ({
  method: 'POST',
  headers: { 'Content-Type': 'application/json' },
  body: JSON.stringify(body),
});

export const fetchSelf = async (): Promise<TabletSelf> => readSelf(await ask('/api/deck/me', patienceMs));

export const pair = async (code: string, name: string, was: readonly string[]): Promise<TabletSelf> =>
  readSelf(await ask('/api/deck/pair', patienceMs, post({ code, name, was })));

export const fetchView = async (study: string) =>
  readView(await ask(`/api/studies/${encodeURIComponent(study)}/deck`, patienceMs));

export async function fetchPicture(study: string, ref: string): Promise<Blob> {
  const answer = await fetch(`/download/${encodeURIComponent(study)}/attachment/${ref}`, {
    signal: AbortSignal.timeout(sendingMs),
    cache: 'no-store',
  });
  if (!answer.ok) throw new AskError(answer.status, words.ask.refused(answer.status));
  return answer.blob();
}

const chunk = 0x8000;

function base64(bytes: Uint8Array): string {
  const parts: string[] = [];
  for (let i = 0; i < bytes.length; i += chunk) parts.push(String.fromCharCode(...bytes.subarray(i, i + chunk)));
  return btoa(parts.join(''));
}

/** send brings a batch to the laptop. Errors: AskError; 'forked' where it has other entries under these numbers. */
export async function send(study: string, identity: string, batch: Batch, signal: AbortSignal): Promise<Answer> {
  const body = {
    identity,
    entries: batch.entries,
    blobs: batch.blobs.map((b) => ({ ref: b.ref, kind: b.kind, salt: base64(b.salt), data: base64(b.data) })),
    now_ms: Date.now(),
  };
  const path = `/api/studies/${encodeURIComponent(study)}/deck/sync`;
  try {
    const answer = (await ask(path, sendingMs, { ...post(body), signal })) as DeckAnswer;
    return { heads: answer.heads ?? {}, blobs: answer.blobs ?? [], missing: answer.missing ?? [] };
  } catch (e) {
    if (e instanceof AskError && e.status === 409) throw new LogError('forked', e.message, e);
    throw e;
  }
}

// The changes of a log's database. Each is one transaction, on the disc when it
// is done or not there at all.
import type { Linked } from './chain';
import { headOf, linkFault, readLine, type Line } from './chain';
import { strict, type Database, type KeptEntry, type State } from './database';
import { noHead, type Head } from './entry';
import { LogError, storageError } from './errors';
import { intact, type KeptBlob } from './hash';
import { noteOf } from './mirror';

export async function changeState(db: Database, otherwise: State, change: (s: State) => State): Promise<State> {
  try {
    const tx = db.transaction('state', 'readwrite', strict);
    const state = change((await tx.store.get('log')) ?? otherwise);
    await Promise.all([tx.store.put(state, 'log'), tx.done]);
    return state;
  } catch (e) {
    throw storageError(e, 'the state of the log');
  }
}

export interface Put {
  state: State;
  /** The blobs that were not there before. */
  fresh: KeptBlob[];
  /** Another tab wrote meanwhile: nothing was put, and state is how it is now. */
  stale: boolean;
}

/** put writes entries and blobs after the state that they were made for. */
export async function put(
  db: Database,
  before: State,
  entries: readonly KeptEntry[],
  blobs: readonly KeptBlob[],
  heads: Map<string, Head>,
): Promise<Put> {
  const tx = db.transaction(['entries', 'blobs', 'data', 'state'], 'readwrite', strict);
  const fresh: KeptBlob[] = [];
  try {
    const now = (await tx.objectStore('state').get('log')) ?? before;
    const endOf = (s: State) => `${s.count} ${s.device} ${s.heads.get(s.device)?.hash ?? ''}`;
    if (endOf(now) !== endOf(before)) {
      await tx.done;
      return { state: now, fresh, stale: true };
    }
    const there = await Promise.all(blobs.map((b) => tx.objectStore('blobs').getKey(b.ref)));
    const writes: Promise<unknown>[] = entries.map((e) => tx.objectStore('entries').add(e));
    for (const [i, b] of blobs.entries()) {
      if (there[i] !== undefined || fresh.some((f) => f.ref === b.ref)) continue;
      fresh.push(b);
      writes.push(tx.objectStore('blobs').add(noteOf(b)));
      writes.push(tx.objectStore('data').add({ ref: b.ref, salt: b.salt, data: b.data }));
    }
    const state = { ...now, heads, count: now.count + entries.length };
    writes.push(tx.objectStore('state').put(state, 'log'));
    await Promise.all([...writes, tx.done]);
    return { state, fresh, stale: false };
  } catch (e) {
    // Whatever was refused, nothing of it may stay.
    try {
      tx.abort();
    } catch {
      // it was aborted already
    }
    await tx.done.catch(() => undefined);
    throw storageError(e, entries.length === 1 ? 'this entry' : 'these entries');
  }
}

/** noteSafe notes what the laptop has, and of the blobs what it lacks. */
export async function noteSafe(
  db: Database,
  otherwise: State,
  upTo: ReadonlyMap<string, number>,
  refs: readonly string[],
  lacking: readonly string[],
): Promise<State> {
  try {
    const tx = db.transaction(['blobs', 'state'], 'readwrite', strict);
    const now = (await tx.objectStore('state').get('log')) ?? otherwise;
    const safe = new Map(now.safe);
    for (const [device, seq] of upTo) safe.set(device, seq);
    const state = { ...now, safe };
    const told = [...refs, ...lacking];
    const notes = await Promise.all(told.map((r) => tx.objectStore('blobs').get(r)));
    const writes: Promise<unknown>[] = [tx.objectStore('state').put(state, 'log')];
    for (const [i, n] of notes.entries())
      if (n) writes.push(tx.objectStore('blobs').put({ ...n, safe: i < refs.length }));
    await Promise.all([...writes, tx.done]);
    return state;
  } catch (e) {
    throw storageError(e, 'what the laptop has');
  }
}

export async function checkBlobs(blobs: readonly KeptBlob[]): Promise<void> {
  for (const b of blobs)
    if (!(await intact(b)))
      throw new LogError('draft', `A blob of kind ${b.kind} is not what its reference says: nothing was kept.`);
}

export const keptEntry = (n: number, l: Linked): KeptEntry => ({
  n,
  device: l.entry.device,
  seq: l.entry.seq,
  id: l.entry.id,
  text: l.text,
  hash: l.hash,
});

/** fitting are the lines that are not here yet. Errors: 'broken' or 'forked' where one does not go on from what is here. */
export async function fitting(here: readonly KeptEntry[], state: State, lines: readonly Line[]) {
  const read = await Promise.all(lines.map(readLine));
  const hashes = new Map(here.map((e) => [`${e.seq} ${e.device}`, e.hash]));
  const heads = new Map(state.heads);
  const added: KeptEntry[] = [];
  for (const l of read) {
    const { device, seq } = l.entry;
    const known = hashes.get(`${seq} ${device}`);
    if (known === l.hash) continue;
    if (known !== undefined)
      throw new LogError(
        'forked',
        `Entry ${seq} of device ${device} is here already, and is another one: nothing was taken in.`,
      );
    const wrong = linkFault(heads.get(device) ?? noHead, l.entry);
    if (wrong) throw new LogError('broken', `Nothing was taken in: of device ${device} ${wrong}.`);
    heads.set(device, headOf(l));
    hashes.set(`${seq} ${device}`, l.hash);
    added.push(keptEntry(state.count + added.length + 1, l));
  }
  return { added, heads, there: read.length - added.length };
}

// Opens a log: puts database and second copy together, and makes both whole again.
import type { Line, Linked } from './chain';
import { blobLine, entryLine, readBlobLine, readEntryLine } from './lines';
import type { Copy } from './copy';
import { strict, type BlobNote, type Database, type KeptEntry, type State } from './database';
import { storageError } from './errors';
import { intact, type KeptBlob } from './hash';
import { merge, type Merged } from './merge';

/** Report says in which state the log was found. */
export interface Report {
  /** Which of the two copies had what the other lacked. */
  better: Merged['better'];
  fromCopy: number;
  fromDatabase: number;
  /** Lines that fitted no chain; they are kept in the table damaged. */
  damaged: number;
  blobsFromCopy: number;
  /** Blobs of which neither copy is intact. */
  blobsMissing: string[];
  /**
   * The tablet writes as a new device from now on: entries that it had
   * acknowledged may be missing, and the laptop may have them, so that the old
   * numbers must not be given out again.
   */
  newDevice: boolean;
}

export interface Wishes {
  device: string;
  nextDevice: (before: string, times: number) => string;
  nowMs: number;
}

/** readAll reads what can be read: one unreadable value must not hide the others. */
async function readAll(db: Database): Promise<KeptEntry[]> {
  try {
    return await db.getAll('entries');
  } catch {
    const out: KeptEntry[] = [];
    for (const key of await db.getAllKeys('entries')) {
      const e = await db.get('entries', key).catch(() => undefined);
      if (e) out.push(e);
    }
    return out;
  }
}

const lineOf = (e: Partial<KeptEntry>): Line => ({ text: String(e.text), hash: String(e.hash) });

export async function recover(
  db: Database,
  copy: Copy | undefined,
  w: Wishes,
): Promise<{ state: State; report: Report }> {
  const kept = await readAll(db);
  const before = await db.get('state', 'log').catch(() => undefined);
  const copied = copy?.lines ?? [];
  const merged = await merge(kept.map(lineOf), copied.filter((l) => !readBlobLine(l)).map(readEntryLine));

  const lost = [...(before?.heads ?? [])].some(([device, h]) => (merged.heads.get(device)?.seq ?? 0) < h.seq);
  const harmed = lost || merged.fromCopy > 0 || merged.unfit.some((u) => u.where === 'database');
  let device = before?.device ?? deviceOfLast(merged) ?? w.device;
  const newDevice = harmed && merged.heads.has(device);
  for (let times = 2; newDevice && merged.heads.has(device); times++) device = w.nextDevice(w.device, times);

  const state: State = {
    device,
    heads: merged.heads,
    count: merged.entries.length,
    safe: new Map([...(before?.safe ?? [])].map(([d, n]) => [d, Math.min(n, merged.heads.get(d)?.seq ?? 0)])),
  };
  if (before?.persistence) state.persistence = before.persistence;
  const same =
    before && !harmed && merged.unfit.length === 0 && before.count === state.count && kept.length === state.count;
  if (!same) await rewrite(db, merged, state, w.nowMs);
  const { found, missing } = await mergeBlobs(db, copy, copied);
  await completeCopy(db, copy, copied, (same ? kept : merged.entries).map(entryLine), merged);
  const report: Report = {
    better: merged.better,
    fromCopy: merged.fromCopy,
    fromDatabase: merged.fromDatabase,
    damaged: merged.unfit.length,
    blobsFromCopy: found,
    blobsMissing: missing,
    newDevice,
  };
  return { state, report };
}

/** deviceOfLast is the device that wrote last: where the database is gone, nothing else says who this was. */
function deviceOfLast(m: Merged): string | undefined {
  return m.fromCopy > 0 ? (m.entries.at(-1) as Linked).entry.device : undefined;
}

async function rewrite(db: Database, merged: Merged, state: State, nowMs: number): Promise<void> {
  const tx = db.transaction(['entries', 'damaged', 'state'], 'readwrite', strict);
  try {
    const entries = tx.objectStore('entries');
    const writes: Promise<unknown>[] = [entries.clear()];
    for (const [i, l] of merged.entries.entries()) {
      const { device, seq, id } = l.entry;
      writes.push(entries.put({ n: i + 1, device, seq, id, text: l.text, hash: l.hash }));
    }
    for (const u of merged.unfit) writes.push(tx.objectStore('damaged').add({ ...u, foundMs: nowMs }));
    writes.push(tx.objectStore('state').put(state, 'log'));
    await Promise.all([...writes, tx.done]);
  } catch (e) {
    throw storageError(e, 'the log that was put together again');
  }
}

/** mergeBlobs fetches from the copy what the database lacks. */
async function mergeBlobs(db: Database, copy: Copy | undefined, copied: readonly string[]) {
  const notes = new Map((await db.getAll('blobs')).map((n) => [n.ref, n]));
  const there = new Set(await db.getAllKeys('data'));
  for (const line of copied) {
    const b = readBlobLine(line);
    if (b && !notes.has(b.ref)) notes.set(b.ref, { ...b, safe: false });
  }
  let found = 0;
  const missing: string[] = [];
  for (const note of notes.values()) {
    if (there.has(note.ref)) continue;
    const blob = await blobOfCopy(copy, note);
    if (blob) {
      await putBlob(db, note, blob);
      found++;
    } else if (!note.safe) missing.push(note.ref);
  }
  return { found, missing };
}

/** blobOfCopy is the blob in the second copy if it is there and intact. */
export async function blobOfCopy(copy: Copy | undefined, note: BlobNote): Promise<KeptBlob | undefined> {
  if (!copy?.refs.has(note.ref)) return undefined;
  const bytes = await copy.blob(note.ref).catch(() => undefined);
  if (!bytes) return undefined;
  const blob: KeptBlob = { kind: note.kind, ref: note.ref, ...bytes };
  return (await intact(blob)) ? blob : undefined;
}

async function putBlob(db: Database, note: BlobNote, b: KeptBlob): Promise<void> {
  const tx = db.transaction(['blobs', 'data'], 'readwrite', strict);
  try {
    await Promise.all([
      tx.objectStore('blobs').put(note),
      tx.objectStore('data').put({ ref: b.ref, salt: b.salt, data: b.data }),
      tx.done,
    ]);
  } catch (e) {
    throw storageError(e, 'a photo or name of the second copy');
  }
}

/** completeCopy brings the second copy up to the database. A copy that cannot be written is no reason not to open. */
async function completeCopy(
  db: Database,
  copy: Copy | undefined,
  copied: readonly string[],
  lines: readonly string[],
  merged: Merged,
): Promise<void> {
  if (!copy) return;
  try {
    const had = new Set(copied);
    for (const note of await db.getAll('blobs')) {
      const line = blobLine(note);
      if (copy.refs.has(note.ref) && had.has(line)) continue;
      const data = await db.get('data', note.ref);
      if (data) await copy.append([line], [{ kind: note.kind, ...data }]);
    }
    if (merged.unfit.some((u) => u.where === 'copy'))
      await copy.rewrite([...(await db.getAll('blobs')).map(blobLine), ...lines]);
    else await copy.append(lines.filter((l) => !had.has(l)));
    copy.complete = true;
  } catch {
    copy.complete = false;
  }
}

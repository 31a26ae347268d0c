// The second copy of the log, in the private file system of the browser. Only a
// worker may write there at once and flush. log.txt holds a line for each
// entry, after its hash; files/REF is the salt and the data of a blob, as in files/ of a study.
import type { CopyAnswer, CopyRequest } from './copy';

/** What the DOM types of TypeScript leave out: only workers have it. */
interface Handle {
  read(into: Uint8Array, at: { at: number }): number;
  write(from: Uint8Array, at: { at: number }): number;
  getSize(): number;
  truncate(size: number): void;
  flush(): void;
  close(): void;
}
type SyncFile = FileSystemFileHandle & { createSyncAccessHandle(): Promise<Handle> };
type Listing = FileSystemDirectoryHandle & { keys(): AsyncIterable<string> };

let folder: FileSystemDirectoryHandle;
let files: FileSystemDirectoryHandle;
let log: Handle | undefined;

const utf8 = new TextEncoder();
const lineFeed = 10;

async function handle(dir: FileSystemDirectoryHandle, name: string, create: boolean): Promise<Handle> {
  return ((await dir.getFileHandle(name, { create })) as SyncFile).createSyncAccessHandle();
}

/** put writes all of the bytes or throws: a full disc may take some of them. */
function put(h: Handle, bytes: Uint8Array, at: number): void {
  if (h.write(bytes, { at }) !== bytes.length)
    throw new DOMException('The disc took only a part.', 'QuotaExceededError');
}

function readAll(h: Handle): Uint8Array {
  const bytes = new Uint8Array(h.getSize());
  if (h.read(bytes, { at: 0 }) !== bytes.length) throw new Error('A file could not be read to its end.');
  return bytes;
}

async function open(dir: string): Promise<CopyAnswer> {
  const root = await navigator.storage.getDirectory();
  folder = await root.getDirectoryHandle(dir, { create: true });
  files = await folder.getDirectoryHandle('files', { create: true });
  log = await handle(folder, 'log.txt', true);
  const bytes = readAll(log);
  // What follows the last line feed was cut off while it was written.
  const end = bytes.lastIndexOf(lineFeed) + 1;
  if (end < bytes.length) log.truncate(end);
  const refs: string[] = [];
  for await (const name of (files as Listing).keys()) refs.push(name);
  return { text: new TextDecoder('utf-8', { ignoreBOM: true }).decode(bytes.subarray(0, end)), refs };
}

async function writeFile(name: string, bytes: Uint8Array): Promise<void> {
  const h = await handle(files, name, true);
  let whole = false;
  try {
    h.truncate(0);
    put(h, bytes, 0);
    h.flush();
    whole = true;
  } finally {
    h.close();
    // A part of a photo must not look like the photo.
    if (!whole) await files.removeEntry(name).catch(() => undefined);
  }
}

async function append(text: string, blobs: { ref: string; bytes: Uint8Array }[], from: 'end' | 'start'): Promise<void> {
  if (!log) throw new Error('The second copy is not open.');
  for (const b of blobs) await writeFile(b.ref, b.bytes);
  if (from === 'start') log.truncate(0);
  const size = log.getSize();
  try {
    put(log, utf8.encode(text), size);
  } catch (e) {
    log.truncate(size);
    throw e;
  } finally {
    log.flush();
  }
}

async function read(ref: string): Promise<Uint8Array> {
  const h = await handle(files, ref, false);
  try {
    return readAll(h);
  } finally {
    h.close();
  }
}

async function answer(r: CopyRequest): Promise<CopyAnswer> {
  switch (r.do) {
    case 'open':
      return open(r.dir);
    case 'append':
      await append(r.text, r.blobs, 'end');
      return {};
    case 'rewrite':
      await append(r.text, [], 'start');
      return {};
    case 'read':
      return { bytes: await read(r.ref) };
    case 'close':
      log?.close();
      log = undefined;
      return {};
  }
}

// One after the other: a message must not overtake the one before it.
let before: Promise<unknown> = Promise.resolve();
self.onmessage = (m: MessageEvent<{ id: number; request: CopyRequest }>) => {
  const { id, request } = m.data;
  before = before
    .then(() => answer(request))
    .then(
      (result) => self.postMessage({ id, result }),
      (e: unknown) => {
        const { name, message } = e as Error;
        self.postMessage({ id, failed: { name, message } });
      },
    );
};

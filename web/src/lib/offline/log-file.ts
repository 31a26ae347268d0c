// A log saved as a file (docs/formats/deck-log.md): JSON lines that a person can
// open, with the entries byte for byte as they are in the journal.
import { canonical } from './canonical';
import { checkLog, describe, type Checked, type Line } from './chain';
import { LogError, wordsOf } from './errors';
import { blobKinds, hashOf, intact, type BlobKind, type KeptBlob } from './hash';
import { startsWith } from './lines';
import type { DeckLog } from './store';

const format = 'brinefield deck log';
const version = 1;

type Source = Pick<DeckLog, 'name' | 'device' | 'entries' | 'notes' | 'blob' | 'count'>;

export interface FileOptions {
  savedMs: number;
  /** Kinds of blobs to leave out, such as which pair was active. */
  without?: readonly BlobKind[];
}

/** saveLog is the whole log as a file. What neither copy has intact is counted in the last line. */
export async function saveLog(log: Source, o: FileOptions): Promise<Blob> {
  const parts: string[] = [];
  const entries = await log.entries();
  parts.push(line({ deck: { device: log.device, format, name: log.name, version } }));
  for (const e of entries) parts.push(e.text + '\n');
  let blobs = 0;
  let missing = 0;
  for (const n of await log.notes()) {
    if (o.without?.includes(n.kind)) continue;
    const b = await log.blob(n.ref);
    if (!b) {
      missing++;
      continue;
    }
    blobs++;
    parts.push(line({ blob: { data: base64(b.data), kind: b.kind, ref: b.ref, salt: base64(b.salt) } }));
  }
  // Of the entries only, so that it can be checked with any program after the other lines were taken out.
  const sha256 = await hashOf(entries.map((e) => e.text + '\n').join(''));
  const saved = new Date(o.savedMs).toISOString();
  parts.push(line({ end: { blobs, entries: entries.length, missing, saved, sha256 } }));
  return new Blob(parts, { type: 'application/x-ndjson' });
}

const line = (v: Parameters<typeof canonical>[0]): string => canonical(v) + '\n';

/** fileNameOf is what the file is called: of which log and device, and when. */
export const fileNameOf = (log: Pick<DeckLog, 'name' | 'device'>, savedMs: number): string =>
  `${log.name}-${log.device}-${new Date(savedMs).toISOString().replace(/[:.]/g, '-')}`.replace(/[^\w.-]+/g, '_') +
  '.deck-log.jsonl';

export interface ReadLog {
  name: string;
  device: string;
  lines: Line[];
  checked: Checked;
  blobs: KeptBlob[];
  /** All that is wrong with the file, each with its line. Entries and blobs that are whole are given all the same. */
  faults: string[];
}

/** readLog reads a saved log and checks it. Errors: kind 'file' where it is no such file at all. */
export async function readLog(file: Blob): Promise<ReadLog> {
  let text: string;
  try {
    text = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(await file.arrayBuffer());
  } catch (e) {
    throw new LogError('file', 'This file is no saved log: it is not text in UTF-8.', e);
  }
  const all = text.split('\n');
  const first = headerOf(all[0] ?? '');
  const faults: string[] = [];
  const lines: Line[] = [];
  const places: number[] = [];
  const blobs: KeptBlob[] = [];
  let end: { entries: number; blobs: number; sha256: string } | undefined;
  for (const [i, l] of all.entries()) {
    if (i === 0 || l === '') continue;
    if (end) faults.push(`line ${i + 1}: stands after the end`);
    else if (startsWith(l, 'blob')) {
      try {
        blobs.push(await readBlob(l));
      } catch (e) {
        faults.push(`line ${i + 1}: ${wordsOf(e)}`);
      }
    } else if (startsWith(l, 'end')) {
      try {
        end = (JSON.parse(l) as { end: typeof end }).end;
      } catch {
        faults.push(`line ${i + 1}: cannot be read`);
      }
    } else {
      lines.push({ text: l });
      places.push(i + 1);
    }
  }
  const checked = await checkLog(lines);
  for (const f of checked.faults) faults.push(describe({ ...f, line: places[f.line - 1]! }));
  if (!end) faults.push('the file has no last line: it was cut off');
  else {
    if (end.entries !== lines.length)
      faults.push(`the last line counts ${end.entries} entries, and ${lines.length} are there`);
    if (end.blobs !== blobs.length)
      faults.push(`the last line counts ${end.blobs} blobs, and ${blobs.length} whole ones are there`);
    if (end.sha256 !== (await hashOf(lines.map((l) => l.text + '\n').join(''))))
      faults.push('the entries are not those of which the last line holds the hash');
  }
  return { ...first, lines: checked.whole.map(({ text, hash }) => ({ text, hash })), checked, blobs, faults };
}

function headerOf(l: string): { name: string; device: string } {
  let deck: { format?: unknown; version?: unknown; name?: unknown; device?: unknown } | undefined;
  try {
    deck = (JSON.parse(l) as { deck?: typeof deck } | null)?.deck;
  } catch {
    // no JSON
  }
  if (deck?.format !== format || typeof deck.name !== 'string' || typeof deck.device !== 'string')
    throw new LogError('file', `This file is no saved log: its first line does not say "${format}".`);
  if (deck.version !== version)
    throw new LogError(
      'file',
      `This log has version ${JSON.stringify(deck.version)}: this program reads version ${version}. Update the program.`,
    );
  return { name: deck.name, device: deck.device };
}

async function readBlob(l: string): Promise<KeptBlob> {
  const { blob } = JSON.parse(l) as { blob: { kind: BlobKind; ref: string; salt: string; data: string } };
  if (!blobKinds.includes(blob.kind)) throw new LogError('file', `${JSON.stringify(blob.kind)} is no kind of blob`);
  const b: KeptBlob = { kind: blob.kind, ref: blob.ref, salt: unbase64(blob.salt), data: unbase64(blob.data) };
  if (!(await intact(b))) throw new LogError('broken', 'the blob is not what its reference says: it was changed');
  return b;
}

const chunk = 0x8000;

function base64(bytes: Uint8Array): string {
  let binary = '';
  for (let i = 0; i < bytes.length; i += chunk) binary += String.fromCharCode(...bytes.subarray(i, i + chunk));
  return btoa(binary);
}

const unbase64 = (text: string): Uint8Array<ArrayBuffer> => Uint8Array.from(atob(text), (c) => c.charCodeAt(0));

/** hand gives the file to the person: to another program by the share sheet where there is one, else as a download. */
export async function hand(file: Blob, name: string): Promise<'shared' | 'downloaded' | 'cancelled'> {
  const shared = { files: [new File([file], name, { type: 'text/plain' })] };
  if (navigator.canShare?.(shared))
    try {
      await navigator.share(shared);
      return 'shared';
    } catch (e) {
      if ((e as Error).name === 'AbortError') return 'cancelled';
    }
  const url = URL.createObjectURL(file);
  const a = document.createElement('a');
  a.href = url;
  a.download = name;
  a.click();
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
  return 'downloaded';
}

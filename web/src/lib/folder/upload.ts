// Files to the request that carries them, in pieces: a season may hold
// hundreds of megabytes, and the page must stay alive meanwhile.
import { FolderError } from './folder';

/** Read at once; a multiple of 3, so that the base64 of pieces joins without padding. */
const pieceBytes = 3 * 256 * 1024;
/** The program takes a request of up to 1 GiB; base64 adds a third. */
export const largestBytes = 750_000_000;

export type Tell = (bytesDone: number, bytesTotal: number) => void;

/** encode gives the JSON array of the files, in parts for a Blob. */
export async function encode(files: File[], tell: Tell, signal?: AbortSignal): Promise<Blob[]> {
  const total = files.reduce((sum, f) => sum + f.size, 0);
  if (total > largestBytes) throw new FolderError('too-large', '', total);
  const parts: Blob[] = [];
  let done = 0;
  for (const [i, file] of files.entries()) {
    parts.push(new Blob([`${i === 0 ? '[' : ','}{"name":${JSON.stringify(file.name)},"data":"`]));
    for (let from = 0; from < file.size; from += pieceBytes) {
      signal?.throwIfAborted();
      const piece = await read(file, from);
      parts.push(new Blob([toBase64(piece)]));
      done += piece.length;
      tell(done, total);
    }
    parts.push(new Blob(['"}']));
  }
  parts.push(new Blob([files.length === 0 ? '[]' : ']']));
  return parts;
}

/** planRequest is the body that asks what importing the files would change. */
export const planRequest = (study: string, files: Blob[]): Blob =>
  new Blob([`{"study":${JSON.stringify(study)},"files":`, ...files, '}'], { type: 'application/json' });

async function read(file: File, from: number): Promise<Uint8Array> {
  const wanted = Math.min(pieceBytes, file.size - from);
  let bytes: Uint8Array;
  try {
    bytes = new Uint8Array(await file.slice(from, from + pieceBytes).arrayBuffer());
  } catch {
    throw new FolderError('unreadable', file.name);
  }
  if (bytes.length !== wanted) throw new FolderError('unreadable', file.name);
  return bytes;
}

const letters = new TextEncoder().encode('ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/');
const padding = 61; // =

/** toBase64 gives the letters as bytes: btoa would need the whole as text first (RFC 4648, section 4). */
function toBase64(bytes: Uint8Array): Uint8Array<ArrayBuffer> {
  const out = new Uint8Array(Math.ceil(bytes.length / 3) * 4);
  for (let i = 0, at = 0; i < bytes.length; i += 3) {
    const three = (bytes[i]! << 16) | ((bytes[i + 1] ?? 0) << 8) | (bytes[i + 2] ?? 0);
    out[at++] = letters[three >> 18]!;
    out[at++] = letters[(three >> 12) & 63]!;
    out[at++] = i + 1 < bytes.length ? letters[(three >> 6) & 63]! : padding;
    out[at++] = i + 2 < bytes.length ? letters[three & 63]! : padding;
  }
  return out;
}

// Files to the request that carries them, in pieces: a season may hold
// hundreds of megabytes, and the page must stay alive meanwhile.
import { FolderError } from './folder';

/** Read at once; a multiple of 3, so that the base64 of pieces joins without padding. */
const pieceBytes = 3 * 256 * 1024;
/** What String.fromCharCode takes as arguments without overflowing the stack. */
const argumentsAtOnce = 0x8000;
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

function toBase64(bytes: Uint8Array): string {
  let binary = '';
  for (let i = 0; i < bytes.length; i += argumentsAtOnce)
    binary += String.fromCharCode(...bytes.subarray(i, i + argumentsAtOnce));
  return btoa(binary);
}

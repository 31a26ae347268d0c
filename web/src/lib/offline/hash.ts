// SHA-256 and the references to what is kept apart from the entries.
import { canonical, type Json } from './canonical';
import { LogError } from './errors';

export const zeroHash = '0'.repeat(64);
export const saltBytes = 32;

export const hex = (bytes: Uint8Array): string => Array.from(bytes, (b) => b.toString(16).padStart(2, '0')).join('');

export async function sha256(bytes: Uint8Array<ArrayBuffer>): Promise<string> {
  // Browsers hide it from pages that came over plain HTTP.
  if (!globalThis.crypto?.subtle)
    throw new LogError('insecure', 'This page came over an insecure connection: open it by its https address.');
  return hex(new Uint8Array(await crypto.subtle.digest('SHA-256', bytes)));
}

const utf8 = new TextEncoder();

/** hashOf is the SHA-256 of a text in UTF-8, as 64 hexadecimal digits. */
export const hashOf = (text: string): Promise<string> => sha256(utf8.encode(text));

/** What a blob is. Who may read it and what can be erased depends on it. */
export type BlobKind = 'person' | 'photo' | 'voice' | 'guarded';
export const blobKinds: readonly BlobKind[] = ['person', 'photo', 'voice', 'guarded'];

/**
 * Blob is something that an entry only refers to: a name, a photo, a voice
 * note, which pair was active. Its reference is the SHA-256 of the salt (32
 * bytes of chance) and the data, which tells nothing about it.
 */
export interface KeptBlob {
  kind: BlobKind;
  ref: string;
  salt: Uint8Array<ArrayBuffer>;
  data: Uint8Array<ArrayBuffer>;
}

/** salted is the salt followed by the data: what is hashed, and what a file holds. */
export function salted(salt: Uint8Array, data: Uint8Array): Uint8Array<ArrayBuffer> {
  const all = new Uint8Array(salt.length + data.length);
  all.set(salt);
  all.set(data, salt.length);
  return all;
}

/** makeBlob refers to data. The salt is 32 bytes of chance that nothing else uses. */
export async function makeBlob(kind: BlobKind, data: Uint8Array, salt: Uint8Array): Promise<KeptBlob> {
  if (salt.length !== saltBytes) throw new LogError('draft', `A salt has ${saltBytes} bytes, not ${salt.length}.`);
  // Copies of its own: whoever keeps the originals cannot change what was referred to.
  const own = { salt: new Uint8Array(salt), data: new Uint8Array(data) };
  return { kind, ref: await sha256(salted(own.salt, own.data)), ...own };
}

/** makeText refers to a text, such as a name. */
export const makeText = (kind: BlobKind, text: string, salt: Uint8Array): Promise<KeptBlob> =>
  makeBlob(kind, utf8.encode(text), salt);

/** makeGuarded refers to a body, such as which pair was active, in its canonical form. */
export const makeGuarded = (body: Json, salt: Uint8Array): Promise<KeptBlob> =>
  makeText('guarded', canonical(body), salt);

/** intact reports whether a blob is still what its reference says. */
export const intact = async (b: KeptBlob): Promise<boolean> =>
  b.salt.length === saltBytes && (await sha256(salted(b.salt, b.data))) === b.ref;

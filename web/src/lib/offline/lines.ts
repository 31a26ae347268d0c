// The lines of the second copy and of a saved log (docs/formats/deck-log.md).
import { canonical } from './canonical';
import type { Line } from './chain';
import { blobKinds, type BlobKind } from './hash';

export interface BlobLine {
  kind: BlobKind;
  ref: string;
  bytes: number;
}

/** blobLine notes in the second copy what kind of thing a file is. */
export const blobLine = (b: BlobLine): string => canonical({ blob: { bytes: b.bytes, kind: b.kind, ref: b.ref } });

/** An entry begins with its act, so that the first key tells the kinds of line apart. */
export const startsWith = (line: string, key: string): boolean => line.startsWith(`{"${key}":`);

export function readBlobLine(line: string): BlobLine | undefined {
  if (!startsWith(line, 'blob')) return undefined;
  try {
    const b = (JSON.parse(line) as { blob: BlobLine }).blob;
    const whole = blobKinds.includes(b.kind) && /^[0-9a-f]{64}$/.test(b.ref) && Number.isSafeInteger(b.bytes);
    return whole ? { kind: b.kind, ref: b.ref, bytes: b.bytes } : undefined;
  } catch {
    return undefined;
  }
}

/** entryLine is an entry in the second copy: without its hash, a change of the last one would not show. */
export const entryLine = (e: { text: string; hash: string }): string => `${e.hash} ${e.text}`;

export function readEntryLine(line: string): Line {
  const [, hash, text] = /^([0-9a-f]{64}) (.*)$/s.exec(line) ?? [];
  return hash === undefined || text === undefined ? { text: line, hash: '' } : { text, hash };
}

// What can go wrong with a tablet's log, by kind, so that a page can say what to do.

export type Trouble =
  | 'full' // the tablet has no room: nothing of the append was kept
  | 'draft' // what was to be written down is no entry that a journal can hold
  | 'broken' // what was read is not what was written
  | 'forked' // somebody else holds other entries of this device under the same numbers
  | 'other tab' // another tab writes this log
  | 'closed'
  | 'storage' // the browser refused for another reason
  | 'insecure' // no HTTPS, so no SHA-256
  | 'file'; // a saved log that cannot be read

export class LogError extends Error {
  readonly kind: Trouble;
  constructor(kind: Trouble, message: string, cause?: unknown) {
    super(message, { cause });
    this.name = 'LogError';
    this.kind = kind;
  }
}

/** wordsOf is the message of whatever was thrown. */
export const wordsOf = (e: unknown): string => (e instanceof Error ? e.message : String(e));

/** storageError tells a full tablet from other refusals of the browser. */
export function storageError(e: unknown, doing: string): LogError {
  if (e instanceof LogError) return e;
  if ((e as { name?: string } | null)?.name === 'QuotaExceededError')
    return new LogError(
      'full',
      `The tablet is full: ${doing} was not kept. Free space on the tablet and try again.`,
      e,
    );
  return new LogError('storage', `The browser could not keep ${doing}: ${wordsOf(e)}`, e);
}

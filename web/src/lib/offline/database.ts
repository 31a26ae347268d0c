// The tables of a tablet's log in IndexedDB. Version 1.
import { openDB, type DBSchema, type IDBPDatabase } from 'idb';
import type { Head } from './entry';
import type { BlobKind } from './hash';

/** An entry as it is kept; n is its place in this log, from 1. */
export interface KeptEntry {
  n: number;
  device: string;
  seq: number;
  id: string;
  text: string;
  hash: string;
}

export interface BlobNote {
  ref: string;
  kind: BlobKind;
  /** Bytes of the data, without the salt. */
  bytes: number;
  /** The laptop has it. */
  safe: boolean;
}

/** State is one record: what changes with every append changes in one place. */
export interface State {
  /** As which this tablet writes now. */
  device: string;
  heads: Map<string, Head>;
  /** Entries in this log. */
  count: number;
  /** Of each device, up to which number the laptop has its entries. */
  safe: Map<string, number>;
  persistence?: Persistence;
}

/** Persistence is the browser's answer to the wish never to clear this storage by itself. */
export interface Persistence {
  granted: boolean;
  askedMs: number;
}

export interface Tables extends DBSchema {
  entries: { key: number; value: KeptEntry };
  blobs: { key: string; value: BlobNote };
  data: { key: string; value: { ref: string; salt: Uint8Array<ArrayBuffer>; data: Uint8Array<ArrayBuffer> } };
  state: { key: 'log'; value: State };
  /** What fitted no chain when the log was put together again, for a person to look at. */
  damaged: { key: number; value: { where: string; text: string; why: string; foundMs: number } };
}

export type Database = IDBPDatabase<Tables>;

/** strict: a transaction is complete when the system says that it is on the disc. */
export const strict = { durability: 'strict' } as const;

const generations = 5;

/**
 * openDatabase opens the log's database, or the next one of its name where it is
 * damaged so that the browser cannot open it; the damaged one stays.
 */
export async function openDatabase(name: string, gone: () => void): Promise<Database> {
  let first: unknown;
  for (let g = 1; g <= generations; g++) {
    try {
      return await openDB<Tables>(g === 1 ? name : `${name}~${g}`, 1, {
        upgrade(db) {
          db.createObjectStore('entries', { keyPath: 'n' });
          db.createObjectStore('blobs', { keyPath: 'ref' });
          db.createObjectStore('data', { keyPath: 'ref' });
          db.createObjectStore('state');
          db.createObjectStore('damaged', { autoIncrement: true });
        },
        // A newer page wants to change the tables: it must not wait for ever.
        blocking: (_now, _wanted, event) => {
          (event.target as IDBDatabase).close();
          gone();
        },
        terminated: gone,
      });
    } catch (e) {
      first ??= e;
      // A newer program wrote it, or there is no room: another database would not help.
      const name = (e as Error).name;
      if (name === 'VersionError' || name === 'QuotaExceededError') break;
    }
  }
  throw first;
}

// Where drafts lie until they are saved: in this browser, by study and pass, so
// that a crash or a reload loses nothing.
import { openDB, type DBSchema, type IDBPDatabase } from 'idb';
import type { KeptDraft } from './draft';

export interface DraftStore {
  /** The passes of the study that have a draft. */
  passes(): Promise<string[]>;
  get(pass: string): Promise<KeptDraft | undefined>;
  put(kept: KeptDraft): Promise<void>;
  drop(pass: string): Promise<void>;
}

interface Tables extends DBSchema {
  drafts: { key: [study: string, pass: string]; value: KeptDraft };
}

const opened = (): Promise<IDBPDatabase<Tables>> =>
  openDB<Tables>('brinefield-footage', 1, {
    upgrade: (db) => void db.createObjectStore('drafts'),
    blocking: (_now, _wanted, event) => (event.target as IDBDatabase).close(),
  });

/** draftStoreOf opens the store when it is first asked. */
export function draftStoreOf(study: string): DraftStore {
  let db: Promise<IDBPDatabase<Tables>> | undefined;
  const on = async <T>(act: (db: IDBPDatabase<Tables>) => Promise<T>): Promise<T> => {
    db ??= opened();
    try {
      return await act(await db);
    } catch (e) {
      db = undefined; // it may have been closed: the next one opens it again
      throw e;
    }
  };
  return {
    passes: () =>
      on(async (db) =>
        // All keys that begin with the study: an empty list sorts after every text.
        (await db.getAllKeys('drafts', IDBKeyRange.bound([study], [study, []]))).map((k) => k[1]),
      ),
    get: (pass) => on((db) => db.get('drafts', [study, pass])),
    put: async (kept) => {
      await on((db) => db.put('drafts', kept, [study, kept.draft.pass]));
    },
    drop: (pass) => on((db) => db.delete('drafts', [study, pass])),
  };
}

// What the tablet keeps beside its logs, in a database of its own: who it is,
// what it knows of its studies, pictures of animals. All of it can be fetched
// again; the logs (lib/offline) cannot, and lie elsewhere.
import { openDB, type DBSchema, type IDBPDatabase } from 'idb';
import type { TabletSelf } from '$lib/api/types';
import { readSelf, readView, type KeptView } from './view';

const name = 'brinefield-deck';
const version = 1;

/** Choices of one study on this tablet. */
export interface Choices {
  /** Who holds the tablet, and on which day at the site that was said. */
  person?: { name: string; day: string };
  /** The trial that this tablet began or joined. */
  trial?: string;
  species?: string;
  individual?: string;
}

interface Tables extends DBSchema {
  /** Keys: self; contact (Unix milliseconds); names (those under which this tablet wrote). */
  about: { key: string; value: unknown };
  views: { key: string; value: { study: string; kept: unknown } };
  choices: { key: string; value: Choices };
  pictures: { key: string; value: Blob };
}

/** The most pictures that are kept, and the largest. */
export const mostPictures = 300;
export const largestPicture = 4_000_000;

export class Keep {
  #db: IDBPDatabase<Tables>;

  private constructor(db: IDBPDatabase<Tables>) {
    this.#db = db;
  }

  static async open(): Promise<Keep> {
    let db: IDBPDatabase<Tables>;
    const later = { blocking: (_n: number, _w: number | null, e: Event) => (e.target as IDBDatabase).close() };
    try {
      db = await openDB<Tables>(name, version, {
        upgrade(db) {
          for (const store of ['about', 'views', 'choices', 'pictures'] as const)
            if (!db.objectStoreNames.contains(store)) db.createObjectStore(store);
        },
        ...later,
      });
    } catch (e) {
      if ((e as Error).name !== 'VersionError') throw e;
      // A newer app was here: what it kept is read as far as this one knows it.
      db = await openDB<Tables>(name, undefined, later);
    }
    return new Keep(db);
  }

  /** A table that another version of the app does not have is empty. */
  async #get<S extends 'about' | 'views' | 'choices' | 'pictures'>(
    store: S,
    key: string,
  ): Promise<Tables[S]['value'] | undefined> {
    if (!this.#db.objectStoreNames.contains(store)) return undefined;
    return (await this.#db.get(store, key)) as Tables[S]['value'] | undefined;
  }

  async #put<S extends 'about' | 'views' | 'choices' | 'pictures'>(
    store: S,
    key: string,
    value: Tables[S]['value'],
  ): Promise<void> {
    if (this.#db.objectStoreNames.contains(store)) await this.#db.put(store, value, key);
  }

  async self(): Promise<TabletSelf | undefined> {
    const raw = await this.#get('about', 'self');
    return raw === undefined ? undefined : readSelf(raw);
  }
  setSelf = (self: TabletSelf): Promise<void> => this.#put('about', 'self', self);

  async contactMs(): Promise<number> {
    const ms = await this.#get('about', 'contact');
    return typeof ms === 'number' ? ms : 0;
  }
  setContactMs = (ms: number): Promise<void> => this.#put('about', 'contact', ms);

  /** names are all under which this tablet ever wrote. */
  async names(): Promise<string[]> {
    const names = await this.#get('about', 'names');
    return Array.isArray(names) ? names.filter((n): n is string => typeof n === 'string') : [];
  }
  async addNames(more: readonly string[]): Promise<void> {
    const names = [...new Set([...(await this.names()), ...more])].filter(Boolean);
    await this.#put('about', 'names', names);
  }

  async view(study: string): Promise<KeptView | undefined> {
    const kept = (await this.#get('views', study))?.kept as Partial<KeptView> | undefined;
    if (!kept?.view) return undefined;
    return {
      view: readView(kept.view),
      fetchedMs: typeof kept.fetchedMs === 'number' ? kept.fetchedMs : 0,
      included: kept.included instanceof Map ? kept.included : new Map<string, number>(),
    };
  }
  setView = (study: string, kept: KeptView): Promise<void> => this.#put('views', study, { study, kept });

  choices = async (study: string): Promise<Choices> => (await this.#get('choices', study)) ?? {};
  setChoices = (study: string, c: Choices): Promise<void> => this.#put('choices', study, c);

  picture = (ref: string): Promise<Blob | undefined> => this.#get('pictures', ref);
  async keepPicture(ref: string, picture: Blob): Promise<void> {
    if (picture.size <= largestPicture) await this.#put('pictures', ref, picture);
  }
  /** dropPictures lets go of pictures that no animal has any more. */
  async dropPictures(wanted: ReadonlySet<string>): Promise<void> {
    if (!this.#db.objectStoreNames.contains('pictures')) return;
    for (const ref of await this.#db.getAllKeys('pictures'))
      if (!wanted.has(ref)) await this.#db.delete('pictures', ref);
  }

  close(): void {
    this.#db.close();
  }
}

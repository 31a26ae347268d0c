// What the page Deck asks of the program: the study's own logging, and the
// tablets that this laptop lets in.
import { client, read } from './client';
import type { components } from './schema';
import type { Deck, DeckImported, DeckLog, DeckSpec, Tablets } from './types';

type Schemas = components['schemas'];

export type DeckCheckItem = Schemas['Check'];
export type PairingCode = Schemas['PairingCode'];
export type TabletEvent = Schemas['TabletEvent'];
export type AlignRequest = Schemas['DeckAlignRequest'];
export type ReconcileRequest = Schemas['DeckReconcileRequest'];
export type TabletsRequest = Schemas['TabletsRequest'];
export type PairingRequest = Schemas['PairingRequest'];
export type TabletRoleRequest = Schemas['TabletRoleRequest'];
export type Role = PairingRequest['role'];

/** The roles in the order of what they may do. */
export const roles: readonly Role[] = ['lead', 'operator', 'scorer', 'guest'];

/** DeckProgram asks about the deck of one study. */
export interface DeckProgram {
  view(): Promise<Deck>;
  log(): Promise<DeckLog>;
  /** etag is of the spec that was changed: another one in between is told as 412. */
  setup(spec: DeckSpec, etag: string, author: string): Promise<Deck>;
  importLog(file: string, author: string): Promise<DeckImported>;
  align(body: AlignRequest): Promise<DeckLog>;
  reconcile(body: ReconcileRequest): Promise<DeckLog>;
}

export const deckProgramOf = (study: string): DeckProgram => {
  const of = { params: { path: { study } } };
  return {
    view: () => read(client.GET('/api/studies/{study}/deck', of)),
    log: () => read(client.GET('/api/studies/{study}/deck/log', of)),
    setup: (spec, etag, author) =>
      read(
        client.POST('/api/studies/{study}/deck/setup', {
          params: { path: { study }, header: { 'If-Match': etag } },
          body: { spec, author },
        }),
      ),
    importLog: (file, author) =>
      read(client.POST('/api/studies/{study}/deck/import', { ...of, body: { file, author } })),
    align: (body) => read(client.POST('/api/studies/{study}/deck/align', { ...of, body })),
    reconcile: (body) => read(client.POST('/api/studies/{study}/deck/reconcile', { ...of, body })),
  };
};

/** TabletsProgram asks about the tablets of this laptop. */
export interface TabletsProgram {
  view(): Promise<Tablets>;
  change(body: TabletsRequest): Promise<Tablets>;
  code(body: PairingRequest): Promise<PairingCode>;
  role(body: TabletRoleRequest): Promise<Tablets>;
}

export const tabletsProgram: TabletsProgram = {
  view: () => read(client.GET('/api/tablets')),
  change: (body) => read(client.POST('/api/tablets', { body })),
  code: (body) => read(client.POST('/api/tablets/code', { body })),
  role: (body) => read(client.POST('/api/tablets/role', { body })),
};

/** attachmentAt is where a photo or a voice note lies, cleaned of its position. */
export const attachmentAt = (study: string, ref: string): string =>
  `/download/${encodeURIComponent(study)}/attachment/${encodeURIComponent(ref)}`;

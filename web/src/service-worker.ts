// The shell of the tablet's pages for days without the laptop: their built files and nothing
// else. It imports nothing, so that it is built as one plain script; the Vite
// plugin service-worker-plugin.ts fills in what is to be kept. It touches
// neither IndexedDB nor the private file system: the log is not its business.
import type { Message, Precache } from './lib/offline/shell';

/** What the DOM types of TypeScript leave out: only workers have it. */
interface LifeEvent extends Event {
  waitUntil(p: Promise<unknown>): void;
}
interface FetchEvent extends Event {
  readonly request: Request;
  respondWith(answer: Promise<Response>): void;
}
interface Scope {
  addEventListener(on: 'install' | 'activate', act: (e: LifeEvent) => void): void;
  addEventListener(on: 'fetch', act: (e: FetchEvent) => void): void;
  addEventListener(on: 'message', act: (e: LifeEvent & { data: unknown }) => void): void;
  skipWaiting(): Promise<void>;
  readonly clients: { claim(): Promise<void> };
  readonly location: Location;
}
const scope = self as unknown as Scope;

const { cache, files } = JSON.parse('%PRECACHE%') as Precache;
const prefix = 'brinefield-shell-';
/** The same as in lib/offline/locks.ts: whoever writes an entry holds it together with others. */
const writingLock = 'brinefield-deck-writing';
/** A page must not come from an answer that was sent on, as / is to tablets and /index.html to everybody. */
const shell = '/deck';

scope.addEventListener('install', (e) => {
  // All files or none: half a shell would be worse than the one before.
  const requests = files.map((f) => new Request(f, { cache: 'reload' }));
  e.waitUntil(caches.open(cache).then((c) => c.addAll(requests)));
});

scope.addEventListener('activate', (e) => {
  const old = (name: string) => name.startsWith(prefix) && name !== cache;
  e.waitUntil(
    caches
      .keys()
      .then((names) => Promise.all(names.filter(old).map((n) => caches.delete(n))))
      .then(() => scope.clients.claim()),
  );
});

scope.addEventListener('fetch', (e) => {
  const { request } = e;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== scope.location.origin) return;
  if (/^\/(api|download|enter)(\/|$)/.test(url.pathname)) return;
  // All below /deck are pages, also of a study called "Bay 1.2"; a study called "deckhand" is the laptop's.
  const page = request.mode === 'navigate' && /^\/deck(\/|$)/.test(url.pathname);
  const kept = page ? shell : files.includes(url.pathname) ? url.pathname : undefined;
  if (!kept) return;
  e.respondWith(
    caches
      .open(cache)
      .then((c) => c.match(kept))
      .then((answer) => answer ?? fetch(request)),
  );
});

scope.addEventListener('message', (e) => {
  if (e.data !== ('take over' satisfies Message)) return;
  // Alone with the lock nobody is in the middle of an entry; and none can begin until the new shell is there.
  e.waitUntil(navigator.locks ? navigator.locks.request(writingLock, () => scope.skipWaiting()) : scope.skipWaiting());
});

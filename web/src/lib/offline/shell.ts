// The page's side of the service worker (src/service-worker.ts).

/** Precache is what the build fills into the service worker. */
export interface Precache {
  /** Name of the cache: it holds a hash over all files. */
  cache: string;
  files: string[];
}

/** Message asks a service worker that waits to take over. */
export type Message = 'take over';

/** Only the tablet's pages are kept: the laptop's come from the program each time. */
const scope = '/deck';

/**
 * register starts the service worker and says when a new version of the app
 * waits. Calling what it says ends when the new version has taken over: not in
 * the middle of an entry; the page then loads itself again. Does nothing where
 * the page came over an insecure connection.
 */
export async function register(updateWaits: (takeOver: () => Promise<void>) => void): Promise<void> {
  const workers = globalThis.navigator?.serviceWorker;
  if (!workers) return;
  const registration = await workers.register('/service-worker.js', { scope });
  const tell = () => {
    const { waiting } = registration;
    // Without a controller this is the first one: there is nothing to wait for.
    if (waiting && workers.controller)
      updateWaits(
        () =>
          new Promise((done) => {
            workers.addEventListener('controllerchange', () => done(), { once: true });
            waiting.postMessage('take over' satisfies Message);
          }),
      );
  };
  tell();
  registration.addEventListener('updatefound', () => {
    registration.installing?.addEventListener('statechange', tell);
  });
}

// Who writes: one tab at a time, and no update of the app in the middle of an
// entry. Where a browser has no Web Locks, the comparison inside each
// transaction (store.ts) still keeps two tabs from writing over each other.

/** The service worker takes this one alone before an update takes over; it has the same name in service-worker.ts. */
export const writingLock = 'brinefield-deck-writing';

export interface Claim {
  release(): void;
  /** Settles when another tab took the claim. */
  lost: Promise<void>;
}

const locks = (): LockManager | undefined => globalThis.navigator?.locks;

/** claim takes a lock: if it is free, when it becomes free, or from whoever has it. */
export function claim(name: string, how: 'try' | 'wait' | 'steal', signal?: AbortSignal): Promise<Claim | undefined> {
  const manager = locks();
  if (!manager) return Promise.resolve({ release: () => undefined, lost: new Promise(() => undefined) });
  return new Promise((done, failed) => {
    let taken: () => void;
    const lost = new Promise<void>((r) => (taken = r));
    let got = false;
    const options: LockOptions =
      how === 'try' ? { ifAvailable: true } : how === 'steal' ? { steal: true } : signal ? { signal } : {};
    manager
      .request(name, options, (lock) => {
        if (!lock) return done(undefined);
        got = true;
        return new Promise<void>((release) => done({ release, lost }));
      })
      .catch((e: unknown) => (got ? taken() : failed(e)));
  });
}

/** whileWriting keeps an update of the app waiting while an entry is written. */
export async function whileWriting<T>(act: () => Promise<T>): Promise<T> {
  const manager = locks();
  return manager ? ((await manager.request(writingLock, { mode: 'shared' }, act)) as T) : act();
}

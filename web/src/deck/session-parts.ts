// Parts of a session that hold no state of their own.
import type { DeckIndividual } from '$lib/api/types';
import type { KeptBlob } from '$lib/offline/hash';
import type { DeckLog, Writing } from '$lib/offline/store';
import { AskError, fetchPicture } from './ask';
import { mostPictures, type Keep } from './keep';

/** Unsaved is what the tablet could not keep: it is held until it can, or is dropped by hand. */
export interface Unsaved {
  label: string;
  writings: Writing[];
  why: string;
}

/** People are the names that this tablet made references of. */
export type People = Map<string, KeptBlob>;
export const noPeople = (): People => new Map();

/** readPeople finds in a log the names that went along with its entries. */
export async function readPeople(log: DeckLog, into: People): Promise<void> {
  for (const note of await log.notes()) {
    if (note.kind !== 'person') continue;
    const blob = await log.blob(note.ref);
    if (blob) into.set(new TextDecoder().decode(blob.data), blob);
  }
}

/** safeCount is how many entries of a log the laptop has. */
export function safeCount(log: DeckLog): number {
  let sum = 0;
  for (const [device, seq] of log.safe) sum += Math.min(seq, log.heads.get(device)?.seq ?? 0);
  return sum;
}

/** includedOf is what the laptop has now, and so what its next view holds. */
export const includedOf = (log?: DeckLog): Map<string, number> => new Map(log?.safe);

/** renewPictures fetches the newest picture of each animal and drops the others. */
export async function renewPictures(
  study: string,
  keep: Keep,
  log: DeckLog,
  animals: readonly DeckIndividual[],
): Promise<void> {
  const wanted = new Set(animals.flatMap((i) => i.pictures.slice(0, 1)).slice(0, mostPictures));
  for (const ref of wanted) {
    if ((await keep.picture(ref)) || (await log.blob(ref))) continue;
    try {
      await keep.keepPicture(ref, await fetchPicture(study, ref));
    } catch (e) {
      // One that was erased or is not there yet keeps nobody waiting; a laptop out of reach does.
      if (!(e instanceof AskError)) return;
    }
  }
  await keep.dropPictures(wanted).catch(() => undefined);
}

/** whileInFront acts when the page comes to the front, and every so often while it is there. */
export function whileInFront(comes: () => void, again: () => void, everyMs: number): () => void {
  let timer: ReturnType<typeof setInterval> | undefined;
  const seen = () => {
    clearInterval(timer);
    if (document.visibilityState !== 'visible') return;
    timer = setInterval(again, everyMs);
    comes();
  };
  document.addEventListener('visibilitychange', seen);
  seen();
  return () => {
    clearInterval(timer);
    document.removeEventListener('visibilitychange', seen);
  };
}

export function whenOnline(act: () => void): () => void {
  addEventListener('online', act);
  return () => removeEventListener('online', act);
}

// A small picture of each clip for the list, one after the other, kept while the
// window lasts.
import type { Clip } from '$lib/api/footage';
import type { FootageState } from '$lib/state/footage.svelte';
import { openSource } from './source';

const width = 288;
const made: Record<string, Promise<string>> = Object.create(null);
let turn: Promise<unknown> = Promise.resolve();

/** posterOf is the address of a picture a little into the clip; it fails where no picture can be had. */
export function posterOf(page: FootageState, clip: Clip): Promise<string> {
  const key = [
    clip.clip,
    ...clip.chapters.slice(0, 1).map((c) => `${c.sha256} ${c.proxy.state === 'ready'} ${c.place}`),
  ].join(' ');
  return (made[key] ??= turn =
    turn.then(
      () => picture(page, clip),
      () => picture(page, clip),
    ) as Promise<string>);
}

async function picture(page: FootageState, clip: Clip): Promise<string> {
  const times = await page.times(clip.clip);
  const source = await openSource(page.program, clip, times);
  try {
    // A frame that can be shown without those before it, in the first file: the others stay unopened.
    const frame = times.keyBefore(Math.floor(times.framesOf(0)[1] / 5));
    const p = await source.peek(frame);
    const canvas = document.createElement('canvas');
    canvas.width = width;
    canvas.height = Math.max(1, Math.round((width * clip.height_px) / Math.max(1, clip.width_px)));
    canvas.getContext('2d')?.drawImage(p, 0, 0, canvas.width, canvas.height);
    return canvas.toDataURL('image/jpeg', 0.8);
  } finally {
    source.close();
  }
}

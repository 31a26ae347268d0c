// Carrying a point through the pictures of a source, cutting out no more of each
// than is looked at.
import type { LoadCarrying } from '$lib/state/footage-bench.svelte';
import type { Pixel } from './draft';
import type { FramePicture } from './source';

/** loadCarrying loads what correlates when it is first used. */
export const loadCarrying: LoadCarrying = async () => {
  const [{ greyAround }, { reachOf }, { Carrier }] = await Promise.all([
    import('./grey'),
    import('./carry'),
    import('./carrier'),
  ]);
  return (picture, clipWidth, pixel) => {
    const cut = (of: FramePicture, around: Pixel) => greyAround(of, clipWidth, around, reachOf());
    const carrier = new Carrier(cut(picture, pixel), pixel);
    return {
      step: (next) => {
        const { pixel: to, why } = carrier.step(cut(next, carrier.expected()));
        return { pixel: to, why };
      },
    };
  };
};

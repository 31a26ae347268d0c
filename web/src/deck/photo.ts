// Photos are kept as the camera made them, unless they are too large to be sent.

export const largestBytes = 8_000_000;
export const longestSide = 3000;
/** What the laptop knows how to hand out without the place where it was taken. */
const known = ['image/jpeg', 'image/png', 'image/webp'];

/** fit is the size within the longest side, never larger than it was. */
export function fit(width: number, height: number, most = longestSide): { width: number; height: number } {
  const scale = Math.min(1, most / Math.max(width, height, 1));
  return { width: Math.max(1, Math.round(width * scale)), height: Math.max(1, Math.round(height * scale)) };
}

export interface Photo {
  data: Uint8Array;
  type: string;
  /** It was too large, or of a kind that the laptop does not know, and was drawn again. */
  smaller: boolean;
}

/** takePhoto reads what the camera gave. One that cannot be drawn again is kept as it is. */
export async function takePhoto(file: Blob): Promise<Photo> {
  const original = async (): Promise<Photo> => ({
    data: new Uint8Array(await file.arrayBuffer()),
    type: file.type || 'application/octet-stream',
    smaller: false,
  });
  if (file.size <= largestBytes && known.includes(file.type)) return original();
  const picture = await createImageBitmap(file).catch(() => undefined);
  if (!picture) return original();
  for (const side of [longestSide, 2000]) {
    const { width, height } = fit(picture.width, picture.height, side);
    const canvas = document.createElement('canvas');
    canvas.width = width;
    canvas.height = height;
    canvas.getContext('2d')!.drawImage(picture, 0, 0, width, height);
    const jpeg = await new Promise<Blob | null>((done) => canvas.toBlob(done, 'image/jpeg', 0.9));
    if (!jpeg || (jpeg.size > largestBytes && side !== 2000)) continue;
    picture.close();
    return { data: new Uint8Array(await jpeg.arrayBuffer()), type: 'image/jpeg', smaller: true };
  }
  return original();
}

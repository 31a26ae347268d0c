// Grey cuttings of pictures, in which points are looked for. Coordinates are
// always those of the clip; a cutting knows where it lies in it, and how many of
// the clip's pixels one of its own is (a small copy has fewer than the clip).

export interface Grey {
  width: number;
  height: number;
  /** Luma, row after row, 0 to 255. */
  data: Float32Array;
  /** Of the cutting's first pixel in the picture that it was cut from. */
  left: number;
  top: number;
  /** Pixels of the clip for one of the picture. */
  scale: number;
}

export type Pixel = readonly [number, number];

/** Sized is any picture that a canvas can draw. */
export type Sized = CanvasImageSource & { readonly width: number; readonly height: number };

/** toClip gives a place of the picture in pixels of the clip: both count from the centre of their top left pixel. */
export const toClip = (grey: Pick<Grey, 'scale'>, [x, y]: Pixel): [number, number] => [
  (x + 0.5) * grey.scale - 0.5,
  (y + 0.5) * grey.scale - 0.5,
];

/** toPicture is the way back. */
export const toPicture = (grey: Pick<Grey, 'scale'>, [x, y]: Pixel): [number, number] => [
  (x + 0.5) / grey.scale - 0.5,
  (y + 0.5) / grey.scale - 0.5,
];

/** greyOfBytes makes a cutting of RGBA bytes; weights of ITU-R BT.601, as a camera's luma. */
export function greyOfBytes(
  bytes: Uint8ClampedArray,
  width: number,
  height: number,
  at: Pick<Grey, 'left' | 'top' | 'scale'> = { left: 0, top: 0, scale: 1 },
): Grey {
  const data = new Float32Array(width * height);
  for (let i = 0, j = 0; i < data.length; i++, j += 4)
    data[i] = 0.299 * bytes[j]! + 0.587 * bytes[j + 1]! + 0.114 * bytes[j + 2]!;
  return { width, height, data, ...at };
}

type Pen = CanvasRenderingContext2D | OffscreenCanvasRenderingContext2D;

let pen: Pen | null | undefined;

function penOf(width: number, height: number): Pen {
  if (pen === undefined) {
    const canvas =
      typeof OffscreenCanvas === 'undefined' ? document.createElement('canvas') : new OffscreenCanvas(1, 1);
    pen = canvas.getContext('2d', { willReadFrequently: true, alpha: false }) as Pen | null;
  }
  if (!pen) throw new Error('This browser gives no access to the bytes of a picture.');
  // Setting the size clears the canvas and is slow; a larger one does as well.
  if (pen.canvas.width < width) pen.canvas.width = width;
  if (pen.canvas.height < height) pen.canvas.height = height;
  return pen;
}

/**
 * greyAround cuts out what lies within reach (pixels of the picture) around a
 * place of the clip, as far as the picture goes; clipWidth is the clip's own.
 */
export function greyAround(picture: Sized, clipWidth: number, around: Pixel, reach: number): Grey {
  const scale = clipWidth / picture.width;
  const [x, y] = toPicture({ scale }, around);
  const left = Math.max(0, Math.floor(x - reach));
  const top = Math.max(0, Math.floor(y - reach));
  const width = Math.min(picture.width, Math.ceil(x + reach) + 1) - left;
  const height = Math.min(picture.height, Math.ceil(y + reach) + 1) - top;
  if (!(width > 0 && height > 0)) return { width: 0, height: 0, data: new Float32Array(0), left, top, scale };
  const ink = penOf(width, height);
  ink.drawImage(picture, left, top, width, height, 0, 0, width, height);
  const bytes = ink.getImageData(0, 0, width, height).data as Uint8ClampedArray;
  return greyOfBytes(bytes, width, height, { left, top, scale });
}

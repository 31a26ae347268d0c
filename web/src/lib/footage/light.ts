// How the picture is shown: lifted for night, cleared for murky water, grey. What
// is seen changes, never where it is.
import type { Sized } from './grey';
import { LightCard } from './light-card';
import { applied, blended, countsOf, curvesOf, isPlain } from './tone';

export interface Light {
  /** 0 to 1: dark parts are lifted. */
  lift: number;
  /** 0 to 1: the haze of murky water is taken away. */
  clear: number;
  /** 0 to 1. */
  contrast: number;
  grey: boolean;
}

export const plainLight: Light = { lift: 0, clear: 0, contrast: 0, grey: false };

/** Grey values are counted on a copy so wide: enough for the curves, and its averages hold less noise. */
const countedWidth = 160;

/** LightPainter draws pictures of one clip, one after the other. */
export class LightPainter {
  #counts: Float32Array | undefined;
  #grey = false;
  #last: Sized | undefined;
  #small: CanvasRenderingContext2D | undefined;
  #work: CanvasRenderingContext2D | undefined;
  /** null: there is none. */
  #card: LightCard | null | undefined;

  /** cards: whether the graphics card is used; any: though it be imitated by the processor. */
  constructor(private readonly cards: boolean | 'any' = true) {}

  /** paint makes the target as large as the picture and draws on it; the target is drawn in two dimensions. */
  paint(target: HTMLCanvasElement, picture: Sized, light: Light): void {
    const { width, height } = picture;
    if (target.width !== width) target.width = width;
    if (target.height !== height) target.height = height;
    const context = target.getContext('2d');
    if (!context) return;
    if (isPlain(light) || !(width > 0 && height > 0)) {
      context.drawImage(picture, 0, 0);
      return;
    }
    const curves = curvesOf(this.#counted(picture, light.grey), light);
    const card = this.#ready();
    if (card) {
      card.paint(picture, curves, light.grey);
      context.drawImage(card.canvas, 0, 0);
      return;
    }
    // A canvas of its own is read back: that is quick only where it is known beforehand.
    this.#work = readable(this.#work, width, height);
    if (!this.#work) return;
    this.#work.drawImage(picture, 0, 0);
    const image = this.#work.getImageData(0, 0, width, height);
    applied(image.data as Uint8ClampedArray, width, height, curves, light.grey);
    context.putImageData(image, 0, 0);
  }

  /** close gives the graphics card back: a browser has only a few to give. */
  close(): void {
    this.#card?.close();
    this.#card = undefined;
    this.#counts = undefined;
    this.#last = undefined;
    this.#small = this.#work = undefined;
  }

  #ready(): LightCard | undefined {
    if (!this.cards) return undefined;
    if (this.#card?.lost) this.#card = undefined;
    this.#card ??= LightCard.make(this.cards === 'any') ?? null;
    return this.#card ?? undefined;
  }

  /** counted joins the picture to those before it, so that the light does not flicker; the same picture counts once. */
  #counted(picture: Sized, grey: boolean): Float32Array {
    if (grey !== this.#grey) this.#counts = this.#last = undefined;
    if (this.#counts && picture === this.#last && picture instanceof ImageBitmap) return this.#counts;
    this.#grey = grey;
    this.#last = picture;
    const width = Math.min(countedWidth, picture.width);
    const height = Math.max(1, Math.round((width * picture.height) / picture.width));
    const small = (this.#small = readable(this.#small, width, height));
    if (!small) return (this.#counts ??= countsOf(new Uint8ClampedArray(4), 1, 1, grey));
    small.drawImage(picture, 0, 0, width, height);
    const bytes = small.getImageData(0, 0, width, height).data as Uint8ClampedArray;
    this.#counts = blended(this.#counts, countsOf(bytes, width, height, grey));
    return this.#counts;
  }
}

/** readable is a canvas of that size whose bytes are read often. */
function readable(
  before: CanvasRenderingContext2D | undefined,
  width: number,
  height: number,
): CanvasRenderingContext2D | undefined {
  const context =
    before ??
    document.createElement('canvas').getContext('2d', { willReadFrequently: true, alpha: false }) ??
    undefined;
  if (context && context.canvas.width !== width) context.canvas.width = width;
  if (context && context.canvas.height !== height) context.canvas.height = height;
  return context;
}

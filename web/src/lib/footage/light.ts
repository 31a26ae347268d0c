// How the picture is shown: lifted for night, cleared for murky water, grey. What
// is seen changes, never where it is.

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

/** LightPainter draws a picture as it is. */
export class LightPainter {
  /** paint makes the target as large as the picture and draws on it; the target is drawn in two dimensions. */
  paint(target: HTMLCanvasElement, picture: CanvasImageSource & { width: number; height: number }, _: Light): void {
    if (target.width !== picture.width) target.width = picture.width;
    if (target.height !== picture.height) target.height = picture.height;
    target.getContext('2d')?.drawImage(picture, 0, 0);
  }
}

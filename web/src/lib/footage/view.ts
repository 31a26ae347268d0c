// Where the pixels of a clip lie on the screen. Pixels are those of the clip as
// it is shown, upright, whatever copy the picture comes from; (0, 0) is the centre
// of the top left one.

export type Pixel = [number, number];

/** PictureView is handed to what is drawn over a picture. */
export interface PictureView {
  /** Screen pixels per pixel of the clip. */
  scale: number;
  /** Width and height on the screen of the frame that the picture is seen through. */
  size: Pixel;
  /** The clip's own. */
  clip: Pixel;
  toScreen(pixel: Readonly<Pixel>): Pixel;
  toPixel(screen: Readonly<Pixel>): Pixel;
}

/** Pan is the scale, and where the top left corner of the picture lies in its frame. */
export interface Pan {
  scale: number;
  x: number;
  y: number;
}

/** A pixel of the clip is never larger on the screen. */
export const largest = 40;

export function fitted([w, h]: Readonly<Pixel>, [cw, ch]: Readonly<Pixel>): Pan {
  const scale = Math.min(w / Math.max(1, cw), h / Math.max(1, ch)) || 1;
  return { scale, x: (w - cw * scale) / 2, y: (h - ch * scale) / 2 };
}

/** held keeps the picture in its frame: no empty edge where the picture could fill it. */
export function held(pan: Pan, size: Readonly<Pixel>, clip: Readonly<Pixel>): Pan {
  const one = (at: number, room: number, length: number): number =>
    length <= room ? (room - length) / 2 : Math.min(0, Math.max(room - length, at));
  return {
    scale: pan.scale,
    x: one(pan.x, size[0], clip[0] * pan.scale),
    y: one(pan.y, size[1], clip[1] * pan.scale),
  };
}

/** zoomed changes the scale and leaves what is at that place of the frame where it is. */
export function zoomed(
  pan: Pan,
  factor: number,
  at: Readonly<Pixel>,
  size: Readonly<Pixel>,
  clip: Readonly<Pixel>,
): Pan {
  const least = fitted(size, clip).scale;
  const scale = Math.max(least, Math.min(Math.max(least, largest), pan.scale * factor));
  const by = scale / pan.scale;
  return held({ scale, x: at[0] - (at[0] - pan.x) * by, y: at[1] - (at[1] - pan.y) * by }, size, clip);
}

export const viewOf = (pan: Pan, size: Readonly<Pixel>, clip: Readonly<Pixel>): PictureView => ({
  scale: pan.scale,
  size: [size[0], size[1]],
  clip: [clip[0], clip[1]],
  toScreen: ([px, py]) => [pan.x + (px + 0.5) * pan.scale, pan.y + (py + 0.5) * pan.scale],
  toPixel: ([x, y]) => [(x - pan.x) / pan.scale - 0.5, (y - pan.y) / pan.scale - 0.5],
});

/** inside is the nearest place within the picture. */
export const inside = ([x, y]: Readonly<Pixel>, [w, h]: Readonly<Pixel>): Pixel => [
  Math.min(w - 0.5, Math.max(-0.5, x)),
  Math.min(h - 0.5, Math.max(-0.5, y)),
];

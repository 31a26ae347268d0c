// Hands a file to the browser to save, and turns pictures into files.
import type { Figure, Paint, Picture } from '$lib/draw/picture';
import { fileName, toCsv } from './csv';
import { toSvg, type Ink } from './svg';

export type FileKind = 'svg' | 'png' | 'csv';

/** How many pixels of a PNG stand for one of the screen: enough for print. */
const pngScale = 3;
/** Browsers refuse canvases above this many pixels a side. */
const pngLargest = 16000;

/** paperInk reads the colours of the light theme, whichever is on the screen: files are for paper. */
export function paperInk(): { ink: Ink; done: () => void } {
  const probe = document.createElement('span');
  probe.dataset.theme = 'light';
  probe.hidden = true;
  document.body.append(probe);
  const style = getComputedStyle(probe);
  return { ink: (paint: Paint) => style.getPropertyValue(`--${paint}`).trim(), done: () => probe.remove() };
}

function pictureSvg(picture: Picture): string {
  const { ink, done } = paperInk();
  try {
    return toSvg(picture, ink);
  } finally {
    done();
  }
}

/** saveFigure saves the picture as seen, or its data, and gives the name of the file. */
export async function saveFigure(figure: Figure, kind: FileKind): Promise<string> {
  const name = fileName(figure.name, kind);
  switch (kind) {
    case 'csv':
      save(name, new Blob([toCsv(figure.columns, figure.rows)], { type: 'text/csv;charset=utf-8' }));
      break;
    case 'svg':
      save(name, new Blob([pictureSvg(figure.picture)], { type: 'image/svg+xml' }));
      break;
    case 'png':
      save(name, await rasterise(figure.picture));
  }
  return name;
}

export function saveCsv(stem: string, columns: readonly string[], rows: Figure['rows']): string {
  const name = fileName(stem, 'csv');
  save(name, new Blob([toCsv(columns, rows)], { type: 'text/csv;charset=utf-8' }));
  return name;
}

async function rasterise(picture: Picture): Promise<Blob> {
  const url = URL.createObjectURL(new Blob([pictureSvg(picture)], { type: 'image/svg+xml' }));
  try {
    const image = new Image();
    image.src = url;
    await image.decode();
    const scale = Math.min(pngScale, pngLargest / picture.width, pngLargest / picture.height);
    const canvas = document.createElement('canvas');
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext('2d')?.drawImage(image, 0, 0, canvas.width, canvas.height);
    return await new Promise((resolve, reject) =>
      canvas.toBlob((blob) => (blob ? resolve(blob) : reject(new Error('no image'))), 'image/png'),
    );
  } finally {
    URL.revokeObjectURL(url);
  }
}

export function save(name: string, blob: Blob): void {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  // The browser has begun to read by then; at once would be too early for some.
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

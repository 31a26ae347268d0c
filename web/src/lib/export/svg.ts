// A picture as the text of an SVG file that needs nothing else.
import type { Mark, Paint, Picture } from '$lib/draw/picture';

/** Ink tells the colour of a token. */
export type Ink = (paint: Paint) => string;

const escapes: Record<string, string> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' };
const escaped = (text: string): string =>
  // Control characters have no place in XML, not even escaped.
  // eslint-disable-next-line no-control-regex
  text.replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g, '').replace(/[&<>"]/g, (c) => escapes[c] ?? c);

const fonts = "'Helvetica Neue', Arial, 'Liberation Sans', sans-serif";

export function toSvg(picture: Picture, ink: Ink): string {
  const { width, height } = picture;
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${height}" viewBox="0 0 ${width} ${height}" font-family="${escaped(fonts)}" font-size="14">`,
    `<title>${escaped(picture.title)}</title>`,
    `<desc>${escaped(picture.description)}</desc>`,
    `<rect width="${width}" height="${height}" fill="${ink('paper')}"/>`,
    ...picture.marks.map((m) => markSvg(m, ink)),
    '</svg>',
    '',
  ].join('\n');
}

function markSvg(mark: Mark, ink: Ink): string {
  if (mark.kind === 'text') {
    const attributes = [
      `x="${round(mark.x)}" y="${round(mark.y)}" fill="${ink(mark.fill)}"`,
      mark.size ? `font-size="${mark.size}"` : '',
      mark.anchor && mark.anchor !== 'start' ? `text-anchor="${mark.anchor}"` : '',
      mark.bold ? 'font-weight="600"' : '',
      mark.italic ? 'font-style="italic"' : '',
      mark.rotate ? `transform="rotate(${mark.rotate} ${round(mark.x)} ${round(mark.y)})"` : '',
      mark.halo ? `stroke="${ink('paper')}" stroke-width="3" stroke-linejoin="round" paint-order="stroke"` : '',
    ];
    return `<text ${attributes.filter(Boolean).join(' ')}>${escaped(mark.text)}</text>`;
  }
  const attributes = [
    `d="${mark.d}" fill="${mark.fill ? ink(mark.fill) : 'none'}"`,
    mark.stroke ? `stroke="${ink(mark.stroke)}" stroke-width="${mark.width ?? 1}" stroke-linejoin="round"` : '',
    mark.dash?.length ? `stroke-dasharray="${mark.dash.join(' ')}"` : '',
    mark.opacity !== undefined ? `opacity="${mark.opacity}"` : '',
  ];
  const title = mark.title ? `<title>${escaped(mark.title)}</title>` : '';
  return title
    ? `<path ${attributes.filter(Boolean).join(' ')}>${title}</path>`
    : `<path ${attributes.filter(Boolean).join(' ')}/>`;
}

const round = (v: number): number => Math.round(v * 100) / 100;

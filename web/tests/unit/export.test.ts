import { describe, expect, test } from 'vitest';
import { line, path, text, type Picture } from '$lib/draw/picture';
import { fileName, toCsv } from '$lib/export/csv';
import { toSvg } from '$lib/export/svg';

describe('CSV', () => {
  test('numbers keep all their digits', () => {
    expect(toCsv(['a'], [[0.1 + 0.2], [1e-9], [32.385087461687]])).toBe(
      'a\r\n0.30000000000000004\r\n1e-9\r\n32.385087461687\r\n',
    );
  });
  test('quotes what needs it, and nothing else', () => {
    expect(toCsv(['x'], [['a,b'], ['say "no"'], ['two\nlines'], ['plain']])).toBe(
      'x\r\n"a,b"\r\n"say ""no"""\r\n"two\nlines"\r\nplain\r\n',
    );
  });
  test('what is not known, and what is no number, is blank', () => {
    expect(toCsv(['a', 'b', 'c', 'd'], [[null, undefined, NaN, Infinity]])).toBe('a,b,c,d\r\n,,,\r\n');
  });
  test('yes and no as in a season', () => expect(toCsv(['a'], [[true], [false]])).toBe('a\r\nyes\r\nno\r\n'));
});

test.each([
  ['thresholds of Raja clavata', 'thresholds-of-raja-clavata.svg'],
  ['../../etc/passwd', 'etc-passwd.svg'],
  ['Hâl é', 'ha-l-e.svg'],
  ['***', 'brinefield.svg'],
])('file name of %j', (stem, expected) => expect(fileName(stem, 'svg')).toBe(expected));

describe('SVG', () => {
  const picture: Picture = {
    width: 100,
    height: 50,
    title: 'A & B',
    description: 'x < y',
    marks: [
      line(0, 0, 10, 10, { stroke: 'ink', width: 2, dash: [4, 2] }),
      path('M0 0z', { fill: 'accent', opacity: 0.5, title: '"quoted"' }),
      text(5, 5, '<b>\u0000name', { anchor: 'middle', bold: true, halo: true }),
    ],
  };
  const svg = toSvg(picture, (paint) => `#${paint}`);

  test('stands alone, escaped, with its colours in place', () => {
    expect(svg).toMatchInlineSnapshot(`
      "<svg xmlns="http://www.w3.org/2000/svg" width="100" height="50" viewBox="0 0 100 50" font-family="'Helvetica Neue', Arial, 'Liberation Sans', sans-serif" font-size="14">
      <title>A &amp; B</title>
      <desc>x &lt; y</desc>
      <rect width="100" height="50" fill="#paper"/>
      <path d="M0 0L10 10" fill="none" stroke="#ink" stroke-width="2" stroke-linejoin="round" stroke-dasharray="4 2"/>
      <path d="M0 0z" fill="#accent" opacity="0.5"><title>&quot;quoted&quot;</title></path>
      <text x="5" y="5" fill="#ink" text-anchor="middle" font-weight="600" stroke="#paper" stroke-width="3" stroke-linejoin="round" paint-order="stroke">&lt;b&gt;name</text>
      </svg>
      "
    `);
  });
});

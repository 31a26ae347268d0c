// How numbers are written for people. Full digits are for the CSV files.

const thin = '\u202f';
const superscripts = '⁰¹²³⁴⁵⁶⁷⁸⁹';

/** sig writes v with so many significant digits: 32.385 → "32.4". */
export function sig(v: number, digits = 3): string {
  if (!Number.isFinite(v)) return '';
  if (v === 0) return '0';
  const rounded = Number(v.toPrecision(digits));
  const exponent = Math.floor(Math.log10(Math.abs(rounded)));
  if (exponent < -4 || exponent > 8) return scientific(rounded, digits, exponent);
  const decimals = Math.max(0, digits - 1 - exponent);
  return group(minus(rounded.toFixed(decimals)));
}

function scientific(v: number, digits: number, exponent: number): string {
  const mantissa = (v / 10 ** exponent).toFixed(Math.max(0, digits - 1));
  const raised = [...String(exponent)].map((c) => (c === '-' ? '⁻' : superscripts[Number(c)])).join('');
  return `${minus(mantissa)}${thin}×${thin}10${raised}`;
}

/** group parts thousands from 10 000 on. */
function group(text: string): string {
  const [whole = '', rest] = text.split('.');
  if (whole.replace('−', '').length < 5) return text;
  const parted = whole.replace(/(\d)(?=(\d{3})+$)/g, `$1${thin}`);
  return rest === undefined ? parted : `${parted}.${rest}`;
}

const minus = (text: string): string => text.replace('-', '−');

/** tickText labels an axis: no zeros beyond what is needed. */
export const tickText = (v: number): string => {
  const text = sig(v, 3);
  return text.includes('.') && !text.includes('×') ? text.replace(/\.?0+$/, '') : text;
};

/** whole writes a count. */
export const whole = (n: number): string => group(String(n));

/** percent writes a share of one: 0.1112 → "11 %". */
export function percent(share: number): string {
  const v = share * 100;
  if (v !== 0 && Math.abs(v) < 1) return `${sig(v, 1)}${thin}%`;
  return `${minus(v.toFixed(0))}${thin}%`;
}

/** pValue never writes 0. */
export function pValue(p: number): string {
  return p < 0.0001 ? `<${thin}0.0001` : tickText(Number(p.toPrecision(2)));
}

/** ratio writes how many times as large: "1.3 ×". */
export const ratio = (r: number): string => `${sig(r, 2)}${thin}×`;

/** plural joins a count and its noun. */
export const plural = (n: number, one: string, many: string): string => `${whole(n)} ${n === 1 ? one : many}`;

/** sentenceCase makes a remark of the program stand alone. */
export const sentenceCase = (text: string): string => {
  const begun = text.charAt(0).toUpperCase() + text.slice(1);
  return /[.?]$/.test(begun) ? begun : `${begun}.`;
};

/** clock shortens an ISO 8601 time as it was recorded; the zone stays the site's. */
export const clock = (iso: string): string => iso.slice(0, 19).replace('T', ' ');

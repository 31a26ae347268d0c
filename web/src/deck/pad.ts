// A number as it is tapped in. Pure.

const longest = 9;

/** padKey is the text after a key: a digit, the point, ± or ⌫. */
export function padKey(text: string, key: string): string {
  if (key === '⌫') return text.slice(0, -1);
  if (key === '±') return text.startsWith('-') ? text.slice(1) : `-${text}`;
  if (text.length >= longest) return text;
  if (key === '.') return text.includes('.') ? text : /\d/.test(text) ? `${text}.` : `${text}0.`;
  return /^-?0$/.test(text) ? text.replace('0', key) : text + key;
}

/** padReads says whether a text is a number already. */
export const padReads = (text: string): boolean => /^-?\d+(\.\d+)?$/.test(text);

// Sentences of the catalogue carry a little emphasis: *italic*, **strong**,
// _{below} and ^{above}. phrase takes them apart for drawing.

export type Voice = 'plain' | 'em' | 'strong' | 'sub' | 'sup';

export interface Part {
  voice: Voice;
  text: string;
}

const marks = /\*\*([^*]+)\*\*|\*([^*]+)\*|_\{([^}]+)\}|\^\{([^}]+)\}/g;

export function phrase(words: string): Part[] {
  const parts: Part[] = [];
  let from = 0;
  for (const m of words.matchAll(marks)) {
    if (m.index > from) parts.push({ voice: 'plain', text: words.slice(from, m.index) });
    const voice: Voice = m[1] ? 'strong' : m[2] ? 'em' : m[3] ? 'sub' : 'sup';
    parts.push({ voice, text: m[1] ?? m[2] ?? m[3] ?? m[4] ?? '' });
    from = m.index + m[0].length;
  }
  if (from < words.length) parts.push({ voice: 'plain', text: words.slice(from) });
  return parts;
}

/** bare is the sentence without its emphasis, for titles and files. */
export const bare = (words: string): string =>
  phrase(words)
    .map((p) => p.text)
    .join('');

/** em sets a name that came from the season in italics, whatever it holds. */
export const em = (name: string): string => `*${name.replace(/[*{}]/g, ' ')}*`;

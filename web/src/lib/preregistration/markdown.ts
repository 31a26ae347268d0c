// The little of Markdown that a preregistration is written in: headings,
// paragraphs, lists and indented text. Everything else stays as it was typed.

export type Block =
  | { kind: 'heading'; level: 1 | 2; text: string }
  | { kind: 'paragraph'; lines: string[] }
  | { kind: 'list'; items: string[] }
  | { kind: 'code'; text: string };

/** blocksOf takes a document apart. A backslash at the beginning of a line keeps what follows from being a mark. */
export function blocksOf(markdown: string): Block[] {
  const out: Block[] = [];
  for (const part of markdown.split(/\n{2,}/)) {
    let run: Block | undefined;
    for (const line of part.split('\n').filter((l) => l.trim() !== '')) {
      const next = blockOf(line);
      if (run?.kind === 'paragraph' && next.kind === 'paragraph') run.lines.push(...next.lines);
      else if (run?.kind === 'list' && next.kind === 'list') run.items.push(...next.items);
      else if (run?.kind === 'list' && next.kind === 'paragraph' && line.startsWith(' '))
        run.items.push(`${run.items.pop() ?? ''} ${next.lines.join(' ')}`);
      else out.push((run = next));
    }
  }
  return out;
}

function blockOf(line: string): Block {
  const heading = /^(#{1,2}) (.*)$/.exec(line);
  if (heading) return { kind: 'heading', level: heading[1] === '#' ? 1 : 2, text: heading[2]! };
  const indented = /^ {4}(.*)$/.exec(line);
  if (indented) return { kind: 'code', text: indented[1]! };
  const bare = line.trim();
  const item = /^[-*+] (.*)$/.exec(bare);
  if (item) return { kind: 'list', items: [item[1]!] };
  return { kind: 'paragraph', lines: [bare.replace(/^\\/, '')] };
}

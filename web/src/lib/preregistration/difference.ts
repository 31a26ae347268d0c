// What changed between two texts, line by line.

export interface Line {
  what: 'same' | 'gone' | 'new';
  text: string;
}

/** Beyond this many pairs of lines the middle is shown as gone and new at once: no such document is read by anybody. */
const mostPairs = 4_000_000;

/** differenceOf is the shortest way from one text to the other that keeps whole lines (longest common subsequence). */
export function differenceOf(before: string, after: string): Line[] {
  const [a, b] = [before.split('\n'), after.split('\n')];
  let top = 0;
  while (top < a.length && top < b.length && a[top] === b[top]) top++;
  let foot = 0;
  while (foot < a.length - top && foot < b.length - top && a[a.length - 1 - foot] === b[b.length - 1 - foot]) foot++;
  const line = (what: Line['what']) => (text: string) => ({ what, text });
  return [
    ...a.slice(0, top).map(line('same')),
    ...middle(a.slice(top, a.length - foot), b.slice(top, b.length - foot)),
    ...a.slice(a.length - foot).map(line('same')),
  ];
}

function middle(a: string[], b: string[]): Line[] {
  const gone = (text: string): Line => ({ what: 'gone', text });
  const fresh = (text: string): Line => ({ what: 'new', text });
  if (a.length * b.length > mostPairs) return [...a.map(gone), ...b.map(fresh)];
  // common[i][j]: the most lines that a from i and b from j have in common.
  const common = Array.from({ length: a.length + 1 }, () => new Uint32Array(b.length + 1));
  for (let i = a.length - 1; i >= 0; i--) {
    for (let j = b.length - 1; j >= 0; j--) {
      common[i]![j] = a[i] === b[j] ? common[i + 1]![j + 1]! + 1 : Math.max(common[i + 1]![j]!, common[i]![j + 1]!);
    }
  }
  const out: Line[] = [];
  let [i, j] = [0, 0];
  while (i < a.length && j < b.length) {
    if (a[i] === b[j]) {
      out.push({ what: 'same', text: a[i]! });
      i++;
      j++;
    } else if (common[i + 1]![j]! >= common[i]![j + 1]!) out.push(gone(a[i++]!));
    else out.push(fresh(b[j++]!));
  }
  return [...out, ...a.slice(i).map(gone), ...b.slice(j).map(fresh)];
}

/** near keeps the lines that changed with those beside them; null stands for lines that are left out. */
export function near(lines: readonly Line[], beside = 2): (Line | null)[] {
  const shown = lines.map((_, i) =>
    lines.slice(Math.max(0, i - beside), i + beside + 1).some((l) => l.what !== 'same'),
  );
  const out: (Line | null)[] = [];
  lines.forEach((line, i) => {
    if (shown[i]) out.push(line);
    else if (out.at(-1) !== null) out.push(null);
  });
  return out;
}

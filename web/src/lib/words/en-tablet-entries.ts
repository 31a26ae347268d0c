// How the tablet's pages name what was written down.

export const plural = (n: number, one: string, many: string): string => `${n} ${n === 1 ? one : many}`;
export const lower = (s: string): string => s.charAt(0).toLowerCase() + s.slice(1);

interface Answer {
  word: string;
  label: string;
  turned: string;
  bit: string;
}
type Fields = Record<string, string>;

/** responseOf is the button that a pass was logged with. */
function responseOf(f: Fields, responses: readonly Answer[]): string {
  const same = (r: Answer) => r.word === (f.response ?? '') && r.turned === (f.turned ?? '') && r.bit === (f.bit ?? '');
  return (
    responses.find(same)?.label ?? (f.response || (f.bit === 'yes' ? 'Bite' : f.turned === 'yes' ? 'Turn' : 'Pass'))
  );
}

export const waterNames: Record<string, string> = {
  temperature_C: 'Temperature',
  salinity: 'Salinity',
  water_S_per_m: 'Conductivity',
  tide_m: 'Tide, above the depth stated',
  flow_m_per_s: 'Flow',
  flow_bearing_deg: 'Flow goes to (bearing)',
  visibility_m: 'Visibility',
  sand_over_plate_mm: 'Sand over the plate',
  bait: 'Bait',
  note: 'Note on the trial',
};

const kinds: Record<string, string> = {
  pass: 'Pass',
  trial: 'Trial',
  individual: 'Animal',
  check: 'Pre-trial check',
  reading: 'Current',
  event: 'Note',
  count: 'Count',
  attachment: 'Attachment',
};

interface Entry {
  kind: string;
  subject: string;
  act: string;
  body: { fields?: Fields };
}

/** entry names an entry in a few words. A current is never among them. */
export function entry(e: Entry): string {
  const f = e.body.fields ?? {};
  switch (e.kind) {
    case 'trial':
      if (f.start) return `Trial ${e.subject} begun`;
      if (f.end) return `Trial ${e.subject} ended`;
      return `${Object.keys(f)
        .map((n) => waterNames[n] ?? n)
        .join(', ')} of ${e.subject}`;
    case 'pass': {
      if (e.act === 'record') return `Pass by ${f.pair ?? '?'}`;
      const names: Fields = { height_class: 'height class', bite_electrode: 'electrode', note: 'note' };
      return `Pass ${e.subject}: ${Object.keys(f)
        .map((n) => names[n] ?? n)
        .join(', ')}`;
    }
    case 'individual':
      return `New animal ${e.subject}`;
    case 'check':
      return f.check ? `${f.check}: ${f.state}` : `Pre-trial check: ${f.state}`;
    case 'reading':
      return `Current ${f.when} the trial`;
    case 'event':
      return f.what === 'adverse' ? `Adverse event: ${f.text}` : `Note: ${f.text}`;
    case 'count':
      return f.animals ? `${plural(Number(f.animals), 'animal', 'animals')} counted` : `${f.hours} h counted`;
    case 'attachment':
      return f.kind === 'voice' ? 'Voice note' : 'Photo';
    default:
      return kinds[e.kind] ?? e.kind;
  }
}

export const passLine = (f: Fields, responses: readonly Answer[]): string =>
  `${f.pair ?? '?'} · ${responseOf(f, responses)}`;
export const passAnimal = (f: Fields): string =>
  [f.individual || 'unknown animal', f.height_class].filter(Boolean).join(' · ');

// The addresses of the app: `/` is Home, `/{study}/{section}` a page of one
// study, `/{study}/tables/{kind}` one of its tables, `/{study}/schedule/{part}`
// a part of its schedule, `/{study}/deck/{part}` one of its deck, `/{study}/footage/{part}`
// one of its footage, `/{study}/dossier/{part}` one of its dossier. `/deck` and
// what is below it is the tablets' own page. Names are encoded.

/** The sections of a study, in the order of the work; the tables are beside it. */
export const sections = [
  'question',
  'water',
  'stimulus',
  'rig',
  'background',
  'schedule',
  'deck',
  'footage',
  'exposures',
  'findings',
  'dossier',
  'tables',
] as const;
export type Section = (typeof sections)[number];

/** The parts of the page Schedule, in the order of the work. */
export const scheduleParts = ['plan', 'seal', 'cards', 'blinding', 'preregistration'] as const;
export type SchedulePart = (typeof scheduleParts)[number];

/** The parts of the page Deck: what came in, what is doubtful, then how the day is set up. */
export const deckParts = ['log', 'reconcile', 'setup', 'tablets', 'paper', 'sheet'] as const;
export type DeckPart = (typeof deckParts)[number];

/** The parts of the page Footage: the recordings, where the camera was, and what was measured in them. */
export const footageParts = ['clips', 'camera', 'measure'] as const;
export type FootagePart = (typeof footageParts)[number];

/** The parts of the page Dossier: what is read, what is handed over, and what others hand over. */
export const dossierParts = ['report', 'figures', 'package', 'compare'] as const;
export type DossierPart = (typeof dossierParts)[number];

export type Address =
  { page: 'home' } | { page: 'study'; study: string; section: Section; part: string } | { page: 'unknown' };

const unknown: Address = { page: 'unknown' };

/** readAddress says what a path shows; part is a table or a part of the schedule, the deck, the footage or the dossier, "" where none is named. */
export function readAddress(path: string): Address {
  const parts = path.split('/').slice(1);
  if (parts.at(-1) === '') parts.pop();
  if (parts.length === 0) return { page: 'home' };
  const [study, word, part = ''] = parts.map(decode);
  const section = sections.find((s) => s === word);
  if (!study || !section || parts.length > 3 || (part && !hasPart(section, part))) return unknown;
  return { page: 'study', study, section, part };
}

/** Which tables there are depends on the study. */
const hasPart = (section: Section, part: string): boolean =>
  section === 'tables' ||
  (section === 'schedule' && scheduleParts.some((p) => p === part)) ||
  (section === 'deck' && deckParts.some((p) => p === part)) ||
  (section === 'footage' && footageParts.some((p) => p === part)) ||
  (section === 'dossier' && dossierParts.some((p) => p === part));

export const addressOf = (study: string, section: Section, part = ''): string =>
  ['', study, section, part].map(encodeURIComponent).join('/').replace(/\/$/, '');

/** Paths that the program uses itself: a study of such a name could not be shown. */
const taken = ['api', 'assets', 'deck', 'dossier', 'download', 'enter', 'media', 'upload'];
export const nameTaken = (study: string): boolean => taken.includes(study.trim().toLowerCase());

function decode(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return ''; // a stray %
  }
}

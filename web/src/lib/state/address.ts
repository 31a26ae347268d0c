// The addresses of the app: `/` is Home, `/{study}/{section}` a page of one
// study, `/{study}/tables/{kind}` one of its tables. Names are encoded.

/** The sections of a study, in the order of the work; the tables are beside it. */
export const sections = [
  'question',
  'water',
  'stimulus',
  'rig',
  'background',
  'exposures',
  'findings',
  'tables',
] as const;
export type Section = (typeof sections)[number];

export type Address =
  { page: 'home' } | { page: 'study'; study: string; section: Section; table: string } | { page: 'unknown' };

const unknown: Address = { page: 'unknown' };

/** readAddress says what a path shows; "" as the table where none is named. */
export function readAddress(path: string): Address {
  const parts = path.split('/').slice(1);
  if (parts.at(-1) === '') parts.pop();
  if (parts.length === 0) return { page: 'home' };
  const [study, word, table = ''] = parts.map(decode);
  const section = sections.find((s) => s === word);
  if (!study || !section || parts.length > 3 || (table && section !== 'tables')) return unknown;
  return { page: 'study', study, section, table };
}

export const addressOf = (study: string, section: Section, table = ''): string =>
  ['', study, section, table].map(encodeURIComponent).join('/').replace(/\/$/, '');

/** Paths that the program uses itself: a study of such a name could not be shown. */
const taken = ['api', 'assets', 'download', 'enter'];
export const nameTaken = (study: string): boolean => taken.includes(study.trim().toLowerCase());

function decode(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return ''; // a stray %
  }
}

// What a study says of its dossiers, as it is typed and as it is written down;
// and small readings of what the program answers.
import type { DossierMade, DossierPerson, DossierSpec, DossierText } from '$lib/api/dossier';
import type { Detail } from '$lib/api/client';
import { deckParts, dossierParts, footageParts, scheduleParts, sections, type Section } from './address';

/** The licences that a package can be given under, the one that most journals ask for first. */
export const licences = ['CC-BY-4.0', 'CC0-1.0', 'CC-BY-NC-4.0', 'ODC-By-1.0'] as const;

/** Edges of the square that coordinates are moved to the middle of, km. */
export const coarse: readonly number[] = [0, 1, 5, 10, 25, 50];

/** withinKm is how far from the middle of such a square the true place can lie: half its diagonal. */
export const withinKm = (edgeKm: number): number => (edgeKm * Math.SQRT2) / 2;

/** The largest package that the program takes in, as internal/httpapi has it. */
export const mostBytes = 2 ** 30;

export const roles = ['author', 'contributor', 'contact'] as const;

const tidy = (text: string | undefined): string => (text ?? '').replace(/\r\n?/g, '\n').trim();

/** plainChoices leaves out what says nothing, so that the same choices are always the same text. */
export function plainChoices(spec: DossierSpec): DossierSpec {
  const kept: Record<string, unknown> = {};
  for (const [key, value] of Object.entries(spec).sort(([a], [b]) => (a < b ? -1 : 1))) {
    if (typeof value === 'string') {
      if (tidy(value)) kept[key] = key === 'doi' ? plainDoi(value) : tidy(value);
    } else if (Array.isArray(value)) {
      const words = [...new Set(value.map(tidy).filter(Boolean))];
      if (words.length > 0) kept[key] = words;
    } else if (value) kept[key] = value;
  }
  return kept as DossierSpec;
}

/** plainPeople leaves out rows in which nothing is written. */
export function plainPeople(people: readonly DossierPerson[]): DossierPerson[] {
  return people.flatMap((p) => {
    const kept: DossierPerson = { given: tidy(p.given), family: tidy(p.family) };
    if (tidy(p.orcid)) kept.orcid = plainOrcid(p.orcid ?? '');
    if (tidy(p.affiliation)) kept.affiliation = tidy(p.affiliation);
    if (tidy(p.email)) kept.email = tidy(p.email);
    if (p.role && p.role !== 'author') kept.role = p.role;
    return kept.given || kept.family || kept.orcid || kept.affiliation || kept.email ? [kept] : [];
  });
}

/** specText is how the choices are written down; "" where nothing is chosen. */
export const specText = (spec: DossierSpec): string => {
  const plain = plainChoices(spec);
  return Object.keys(plain).length > 0 ? JSON.stringify(plain) : '';
};

export const peopleText = (people: readonly DossierPerson[]): string => {
  const plain = plainPeople(people);
  return plain.length > 0 ? JSON.stringify(plain) : '';
};

/** plainOrcid takes what people paste: the address, blanks, no hyphens. */
export function plainOrcid(text: string): string {
  const bare = text
    .trim()
    .replace(/^https?:\/\/(www\.)?orcid\.org\//i, '')
    .replace(/[\s-]/g, '')
    .toUpperCase();
  return /^[0-9]{15}[0-9X]$/.test(bare) ? bare.replace(/(.{4})(?=.)/g, '$1-') : text.trim();
}

/** orcidHolds checks the last character, ISO 7064 MOD 11-2, as ORCID iDs carry it. */
export function orcidHolds(text: string): boolean {
  const figures = plainOrcid(text).replaceAll('-', '');
  if (!/^[0-9]{15}[0-9X]$/.test(figures)) return false;
  let total = 0;
  for (const f of figures.slice(0, 15)) total = (total + Number(f)) * 2;
  const check = (12 - (total % 11)) % 11;
  return figures[15] === (check === 10 ? 'X' : String(check));
}

/** plainDoi takes what people paste: the address or doi: before it. */
export const plainDoi = (text: string): string => text.trim().replace(/^(https?:\/\/(dx\.)?doi\.org\/|doi:\s*)/i, '');

/** readKeywords reads words parted by commas, semicolons or lines. */
export const readKeywords = (text: string): string[] =>
  text
    .split(/[,;\n]/)
    .map((k) => k.trim())
    .filter(Boolean);

/** What is wrong with what is typed, by its place: "spec/doi", "people/0/orcid". */
export type FormFault = 'orcid' | 'email' | 'doi' | 'nameless' | 'keywords';

export function formFaults(spec: DossierSpec, people: readonly DossierPerson[]): Map<string, FormFault> {
  const faults = new Map<string, FormFault>();
  const doi = plainDoi(spec.doi ?? '');
  if (doi && !/^10\.[0-9]{4,9}(\.[0-9]+)*\/\S+$/.test(doi)) faults.set('spec/doi', 'doi');
  if ((spec.keywords ?? []).length > 50) faults.set('spec/keywords', 'keywords');
  people.forEach((p, i) => {
    const [orcid, email] = [tidy(p.orcid), tidy(p.email)];
    if (orcid && !orcidHolds(orcid)) faults.set(`people/${i}/orcid`, 'orcid');
    if (email && !/^[^\s@]+@[^\s@]+\.[^\s@]+$/.test(email)) faults.set(`people/${i}/email`, 'email');
    if (!tidy(p.family) && plainPeople([p]).length > 0) faults.set(`people/${i}/family`, 'nameless');
  });
  return faults;
}

/** Refused are the sentences of a refusal. */
export interface Refused {
  places: ReadonlyMap<string, string>;
  rest: readonly string[];
}

/** without leaves the sentences of some places out. */
export const without = ({ places, rest }: Refused, out: (place: string) => boolean): Refused => ({
  places: new Map([...places].filter(([place]) => !out(place))),
  rest,
});

/**
 * refusedAt parts the sentences of a refusal: those about a field, by its place
 * ("spec/doi", "people/0/orcid"), and the rest. The program names the field
 * below spec or people, as dossier//spec/doi or dossier//people/0/orcid.
 */
export function refusedAt(details: readonly Detail[]): Refused {
  const places = new Map<string, string>();
  const rest: string[] = [];
  for (const { location, message } of details) {
    const found = /(?:^|[/.])(spec|people)[/.](.+)$/.exec(location.replaceAll('[', '/').replaceAll(']', ''));
    if (found)
      places.set(`${found[1]}/${found[2]!.replaceAll('.', '/').replace(/^keywords\/.*/, 'keywords')}`, message);
    else rest.push(message);
  }
  return { places, rest };
}

/** numbersOf are the files of a figure's numbers in a package. */
export const numbersOf = (made: Pick<DossierMade, 'files'>, figure: string): string[] =>
  made.files.filter((f) => {
    const stem = /^figures\/(.+)\.csv$/.exec(f)?.[1];
    return stem === figure || (stem?.startsWith(`${figure}-`) === true && /^\d+$/.test(stem.slice(figure.length + 1)));
  });

export interface Heading {
  level: number;
  text: string;
  anchor: string;
}

/** anchorOf is the name of a place within the report, apart from the page's own. */
export const anchorOf = (anchor: string): string => `report-${anchor}`;

/** headingsOf are the headings of a report with a name each, in order. */
export function headingsOf(report: Pick<DossierText, 'blocks'>): (Heading | undefined)[] {
  return report.blocks.map((b, i) =>
    b.kind === 'heading'
      ? {
          level: Math.min(3, Math.max(1, b.level ?? 1)),
          text: (b.text ?? []).map((r) => r.text).join(''),
          anchor: anchorOf(b.anchor || `part-${i}`),
        }
      : undefined,
  );
}

/** linkOf is where a run of text leads; nothing but places in the report and secure addresses. */
export function linkOf(link: string | undefined): string | undefined {
  if (link?.startsWith('#')) return `#${anchorOf(link.slice(1))}`;
  return link?.startsWith('https://') ? link : undefined;
}

/** Lack is one thing that will be asked for, taken apart to be shown with a link. */
export interface Lack {
  what: string;
  /** The page, its part and its field, as the sentence names them; "" where none is named. */
  where: string;
  /** What the sentence says beside it. */
  more: string;
  place?: { section: Section; part: string };
}

const partsOf: Partial<Record<Section, readonly string[]>> = {
  schedule: scheduleParts,
  deck: deckParts,
  footage: footageParts,
  dossier: dossierParts,
};

/** What sentences call tables, by the kind of record in them. */
const tableNamed: Record<string, string> = { trials: 'trial', passes: 'pass', individuals: 'individual' };

/** readLack reads "What is missing (page Dossier, part Package: Licence, or more)." */
export function readLack(sentence: string): Lack {
  const [, what = '', body = ''] = /^(.*?)\s*\(page ([^()]+)\)\.?$/.exec(sentence) ?? [];
  const [, where = '', more = ''] = /^(.*?)(?:(?:;|,(?= or | before )|(?= says )) (.*))?$/.exec(body) ?? [];
  const [, name = '', sort, named = ''] = /^(\w+)(?:, (part|table) (\w+))?/.exec(where) ?? [];
  const section = sections.find((s) => s === name.toLowerCase());
  if (!section) return { what: sentence, where: '', more: '' };
  const word = named.toLowerCase();
  const part = sort === 'table' ? (tableNamed[word] ?? word) : word;
  const known = section === 'tables' ? sort === 'table' : (partsOf[section] ?? []).includes(part);
  return { what, where, more, place: { section, part: known ? part : '' } };
}

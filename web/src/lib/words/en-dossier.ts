import { plural, sig, whole } from './numbers';

/** The page Dossier: reading the report and its figures before they are handed over. */
export const dossier = {
  title: 'Dossier',
  lead: 'What is handed over at the end of the season: a report with its figures, a text for the paper, and one package of data that others can check, work out again and cite.',
  parts: 'Parts of the dossier',
  names: { report: 'Report', figures: 'Figures', package: 'Package', compare: 'Compare' },
  readOnly: 'This study is shown read-only: everything can be read and checked here, and nothing is saved or made.',
  loose: {
    title: 'A dossier is made of a study',
    why: 'This is a season folder, shown as it is. It has no place for a title, authors, a licence or permits, so nothing can be handed over of it from this page.',
    what: 'Start Brinefield without naming a folder and import the season into a study. Its dossier is then made here.',
    command: (season: string) => `On the command line, brinefield dossier ${season} makes one of the folder alone.`,
  },
  invented: 'Invented demo data. No animal was tested: every page and every file of this dossier says so.',
  sealed: (n: number) =>
    `${plural(n, 'trial has', 'trials have')} a sealed active pair. The dossier tells no active pair of ${n === 1 ? 'it' : 'them'}, and no estimate that rests on ${n === 1 ? 'it' : 'them'}.`,
  notReady: 'There is no report yet.',
  toFindings: 'To the findings',
  working: (seconds: string) => `Putting the report together … ${seconds} s`,
  stale: 'This is the report before the last change.',
  failed: 'The report could not be put together.',
  lacks: {
    title: (n: number) =>
      n === 0
        ? 'Nothing that is usually asked for is missing'
        : `${plural(n, 'thing', 'things')} that a journal or an archive will still ask for`,
    lead: 'Most wanted first. The report prints “not recorded” in their place.',
    none: 'All that journals and archives usually ask for is recorded.',
    on: 'Write it on ',
  },
  report: {
    contents: 'Contents',
    print: 'Print what is shown',
    authors: 'Authors not stated',
    missing: 'not recorded',
    csv: 'Numbers as CSV',
    csvOf: (table: string) => `Numbers as CSV: ${table}`,
    table: (title: string) => `Table: ${title}`,
  },
  figure: {
    none: 'There is nothing to draw.',
    broken: 'The figure could not be drawn.',
    again: 'Try again',
    save: 'Save this figure',
    widths: { single: 'One column, 88 mm', double: 'Two columns, 180 mm' },
    as: (title: string, width: string, format: string) => `Save ${title}, ${width}, as ${format}`,
    formats: { svg: 'SVG', pdf: 'PDF', png: 'PNG, 300 dpi' },
    numbers: 'Its numbers',
    numbersOf: (title: string, n: number, of: number) =>
      `Save the numbers of ${title} as ${of > 1 ? `CSV ${n}` : 'CSV'}`,
    csv: (n: number, of: number) => (of > 1 ? `CSV ${n}` : 'CSV'),
    numbersFrom: (pack: string) => `as they stand in ${pack}`,
    numbersLater: 'CSV files of the numbers are in the package, once one is made.',
  },
  figures: {
    lead: 'As they would be printed now. They are drawn so that they can be read without colour.',
    none: 'There are no figures yet.',
    width: 'Width',
    grey: 'In grey, as a printer without colour shows them',
    open: (title: string) => `Look at ${title} large`,
    large: 'Large',
    back: 'All figures',
    previous: 'Previous',
    next: 'Next',
    place: (n: number, of: number) => `Figure ${n} of ${of}`,
    keys: '← and → go from figure to figure, Escape goes back.',
  },
  bytes: (n: number): string => {
    if (n < 1000) return plural(n, 'byte', 'bytes');
    const [unit, of] = n >= 1e9 ? ['GB', 1e9] : n >= 1e6 ? ['MB', 1e6] : ['kB', 1e3];
    return `${sig(n / of, n / of < 10 ? 2 : 3)} ${unit}`;
  },
  share: (done: number, total: number) => `${whole(done)} of ${whole(total)}`,
};

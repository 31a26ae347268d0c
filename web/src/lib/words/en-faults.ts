import { plural } from './numbers';

export const faults = {
  /** The table that a file of the season folder becomes. */
  tables: {
    'trials.csv': 'trial',
    'passes.csv': 'pass',
    'individuals.csv': 'individual',
    'clips.csv': 'clip',
    'tracks.csv': 'track',
    'water.csv': 'cast',
  } as Record<string, string>,
  title: 'This season cannot be read as it stands',
  lead: (n: number, files: number) =>
    `${plural(n, 'thing needs', 'things need')} correcting in ${plural(files, 'file', 'files')}. Nothing was computed and nothing was changed: mend the files in a text editor or a spreadsheet, then run the command again.`,
  list: 'What to correct',
  place: (file: string, row: number, column: string) =>
    [file, row > 0 ? `${file.endsWith('.toml') ? 'line' : 'row'} ${row}` : '', column].filter(Boolean).join(', '),
  /** The program's sentence begins with the word that stands before it here. */
  expectedText: (text: string) => text.replace(/^expected /, ''),
  wrong: 'What is wrong',
  expected: 'What is expected',
  rows: (file: string) => `${file}, as it stands`,
  row: 'row',
  empty: '(empty)',
  more: (n: number) => `and ${plural(n, 'more', 'more')}; the command line lists them all.`,
};

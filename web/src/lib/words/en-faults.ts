import { plural } from './numbers';

export const faults = {
  title: 'This season cannot be read as it stands',
  lead: (n: number, files: number) =>
    `${plural(n, 'thing needs', 'things need')} correcting in ${plural(files, 'file', 'files')}. Nothing was computed and nothing was changed: mend the files in a text editor or a spreadsheet, then run the command again.`,
  list: 'What to correct',
  place: (file: string, row: number, column: string) =>
    [file, row > 0 ? `row ${row}` : '', column].filter(Boolean).join(', '),
  wrong: 'What is wrong',
  expected: 'What is expected',
  rows: (file: string) => `${file}, as it stands`,
  row: 'row',
  line: 'line',
  faultHere: 'fault',
  showRow: 'Show the row',
  empty: '(empty)',
  wholeFile: 'the whole file',
  more: (n: number) => `${plural(n, 'more row', 'more rows')} with faults`,
};

import { clock, plural, sig, whole } from './numbers';

/** The part Compare of the page Dossier, and what checking a package found. */
export const dossierCompare = {
  check: {
    same: 'Everything is as it should be.',
    not: (n: number) => `${plural(n, 'thing is', 'things are')} not as ${n === 1 ? 'it' : 'they'} should be:`,
    facts: (files: number, made: string, version: string) =>
      [
        plural(files, 'file', 'files'),
        made && `made ${clock(made).slice(0, 16)}`,
        version && `by Brinefield ${version}`,
      ]
        .filter(Boolean)
        .join(', '),
    parts: {
      layout: 'Names and layout',
      checksums: 'Checksums of all files',
      descriptor: 'Description of the tables',
      tables: 'Tables: types, keys and references',
      season: 'Season folder',
      seal: 'Schedule against its seal',
      results: 'Results',
      'darwin-core': 'Darwin Core Archive',
    } as Record<string, string>,
    ok: 'in order',
    differences: (n: number) => plural(n, 'difference', 'differences'),
    notes: 'To know',
  },
  again: {
    title: 'Worked out again',
    same: (numbers: number, files: number) =>
      `All ${whole(numbers)} numbers in ${plural(files, 'file', 'files')} came out the same from the raw tables.`,
    not: (n: number) => `${plural(n, 'number or text', 'numbers or texts')} did not come out the same:`,
    exact: 'The same program on the same kind of computer: every bit was compared.',
    limit: (relative: number, within: number) =>
      `Another program or another kind of computer: numbers may differ by ${sig(relative, 1)} of themselves; ${within === 0 ? 'none does' : `${whole(within)} ${within === 1 ? 'does' : 'do'}`}.`,
    columns: { file: 'File', where: 'Where', was: 'In the package', now: 'Worked out now' },
    more: (n: number) => `and ${whole(n)} more`,
    left: 'Not compared',
  },
  problem: 'This package could not be looked at:',
  compare: {
    title: 'What changed between two packages',
    lead: 'Which numbers moved, by how much, and why: other data, another choice in the analysis, or another version of the program. For that the older data are worked out again.',
    old: 'Older',
    fresh: 'Newer',
    none: 'Two packages are needed: make another one, or choose a file below.',
    same: 'Choose two different packages.',
    compare: 'Compare',
    busy: 'Working out the older package and the newer one. This takes about as long as two analyses.',
    stop: 'Stop',
  },
  sent: {
    title: 'A package that somebody sent',
    lead: 'Choose the zip file. It is looked at on this computer and kept until the study is closed; nothing of it goes into the study.',
    pick: 'Choose a file',
    drop: 'or drop it here',
    large: (most: string) =>
      `The file is larger than ${most} and is not taken in here. On the command line, brinefield verify reads it from the disc.`,
    sending: (percent: string) => `${percent} sent`,
    there: 'ready to be checked or compared',
    stop: (name: string) => `Stop: ${name}`,
    forget: (name: string) => `Take off the list: ${name}`,
    stopShort: 'Stop',
    forgetShort: 'Take off the list',
  },
  result: {
    title: 'What changed',
    sides: (passes: number, trials: number) =>
      `${plural(passes, 'pass', 'passes')} in ${plural(trials, 'trial', 'trials')}`,
    by: (version: string, commit: string) =>
      `Brinefield ${version}${/^[0-9a-f]{7,}/.test(commit) ? ` (${commit.slice(0, 10)})` : ''}`,
    nothing: 'No number of the findings changed.',
    some: (n: number, of: number) => `${whole(n)} of ${plural(of, 'number', 'numbers')} of the findings changed.`,
    unchanged: (n: number) => `Show also the ${plural(n, 'number', 'numbers')} that did not change`,
    causes: 'Why',
    cause: {
      data: 'Data',
      model: 'Choices of the analysis',
      program: 'Version of the program',
      choices: 'Words, rights and privacy',
    } as Record<string, string>,
    step: { data: 'data', model: 'analysis', program: 'program' } as Record<string, string>,
    noCause: 'Nothing differs.',
    table: 'Numbers of the findings, older and newer',
    columns: {
      what: 'Number',
      old: 'Older',
      fresh: 'Newer',
      program: 'By program',
      model: 'By analysis',
      data: 'By data',
    },
    noStep: '–',
    none: 'not estimable',
    passes: 'Passes that changed',
    noPasses: 'No pass met another field or has another role.',
    passColumns: { pass: 'Pass', what: 'What', was: 'Older', now: 'Newer', cause: 'Why' },
    morePasses: (n: number) => `and ${plural(n, 'more pass', 'more passes')}`,
    notes: 'To bear in mind',
  },
  figure: {
    name: 'what changed between two dossiers',
    title: 'What changed, by number and by cause',
    description: (n: number) =>
      `${plural(n, 'number', 'numbers')} of the findings: an open ring for the older value, a full disc for the newer one, and below them a step for each cause that moved it.`,
    caption:
      'Ring: older. Disc: newer. Steps below, one after the other: program (dotted), choices of the analysis (dashed), data (full).',
    same: 'not changed',
    was: (value: string) => `was ${value}`,
    noValue: 'not estimable',
  },
};

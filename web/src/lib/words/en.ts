// Every word that the app shows, in British English. Components hold none.
// Functions take the values and give the sentence, so that grammar stays here.
import { exposures } from './en-exposures';
import { faults } from './en-faults';
import { figures } from './en-figures';
import { findings } from './en-findings';
import { methods } from './en-methods';
import { percent, plural, whole } from './numbers';

export const en = {
  app: {
    name: 'Brinefield',
    title: (page: string, study: string) => [page, study, 'Brinefield'].filter(Boolean).join(' · '),
    skip: 'Skip to the page',
    sections: 'Sections',
    exposures: 'Exposures',
    findings: 'Findings',
    invented: 'Invented data',
    inventedWhy: 'This season was made up to show the program. No animal was tested.',
    theme: 'Theme',
    themes: {
      system: 'As the system',
      light: 'Light',
      dark: 'Dark',
      sunlight: 'Sunlight',
      night: 'Night, red',
    },
    notFound: 'There is no such page',
    notFoundWhy: (path: string) => `Nothing is shown under ${path}.`,
    toFindings: 'Go to Findings',
    build: (version: string, commit: string) =>
      `Brinefield ${version}${/^[0-9a-f]{7,}/.test(commit) ? ` (${commit.slice(0, 10)})` : ''}`,
  },
  progress: {
    opening: 'Reading the season',
    running: 'Working out what the animals met',
    runningWhy: 'The pages appear as soon as this is done.',
    stages: {
      Fields: 'Electric field of every trial',
      Exposures: 'Field along every track',
      Estimates: 'Thresholds and preference',
    } as Record<string, string>,
    share: (done: number, total: number) =>
      `${whole(done)} of ${whole(total)} (${percent(total > 0 ? done / total : 0)})`,
    failed: 'The analysis stopped',
    failedWhy: 'Nothing was changed in the season folder. The reason given:',
  },
  problem: {
    gone: 'The program does not answer',
    goneWhy: 'It may have been stopped. Start it again in the terminal and open the link that it prints.',
    refused: 'This window is not signed in',
    refusedWhy: 'Open the page from the link that the program printed when it started; each link works once.',
    other: 'This could not be read',
    again: 'Try again',
  },
  save: {
    label: 'Save',
    svg: 'SVG',
    png: 'PNG',
    csv: 'CSV',
    as: (figure: string, kind: string) => `Save ${figure} as ${kind}`,
    failed: 'The file could not be made',
    done: (file: string) => `${file} saved`,
  },
  units: {
    field: 'nV/cm',
    cm: 'cm',
    s: 's',
    uA: 'µA',
    deg: '°',
  },
  roles: { active: 'active', control: 'control', silent: 'silent' } as Record<string, string>,
  counts: {
    passes: (n: number) => plural(n, 'pass', 'passes'),
    animals: (n: number) => plural(n, 'animal', 'animals'),
    turns: (n: number) => plural(n, 'turn', 'turns'),
    bites: (n: number) => plural(n, 'bite', 'bites'),
    trials: (n: number) => plural(n, 'trial', 'trials'),
  },
  seasonNames: {
    trials: 'Trials',
    animals: 'Animals recognised',
    radius: 'Pass radius',
    zone: 'Time zone',
  },
  notEstimable: 'Not estimable',
  exposures,
  faults,
  figures,
  findings,
  methods,
} as const;

export type Words = typeof en;

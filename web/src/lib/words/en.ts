// Every word that the app shows, in British English. Components hold none.
// Functions take the values and give the sentence, so that grammar stays here.
import { calibration } from './en-calibration';
import { background } from './en-background';
import { blinding } from './en-blinding';
import { cards } from './en-cards';
import { deckPage } from './en-deck-page';
import { deckPaper } from './en-deck-paper';
import { deckSetup } from './en-deck-setup';
import { deckTablets } from './en-deck-tablets';
import { dossier } from './en-dossier';
import { dossierCompare } from './en-dossier-compare';
import { dossierPackage } from './en-dossier-package';
import { exposures } from './en-exposures';
import { faults } from './en-faults';
import { figures } from './en-figures';
import { findings } from './en-findings';
import { footage } from './en-footage';
import { footageCamera } from './en-footage-camera';
import { footageClips } from './en-footage-clips';
import { footageMeasure } from './en-footage-measure';
import { header } from './en-header';
import { home, imports } from './en-home';
import { methods } from './en-methods';
import { preregistration } from './en-preregistration';
import { question } from './en-question';
import { range } from './en-range';
import { results } from './en-results';
import { rig } from './en-rig';
import { schedule } from './en-schedule';
import { stimulus } from './en-stimulus';
import { tables } from './en-tables';
import { textbook } from './en-textbook';
import { water } from './en-water';
import { percent, plural, whole } from './numbers';

export const en = {
  app: {
    name: 'Brinefield',
    title: (page: string, study: string) => [page, study, 'Brinefield'].filter(Boolean).join(' · '),
    skip: 'Skip to the page',
    sections: 'Sections',
    theme: 'Theme',
    themes: {
      system: 'System',
      light: 'Light',
      dark: 'Dark',
      sunlight: 'Sunlight',
      night: 'Night, red',
    },
    notFound: 'There is no such page',
    notFoundWhy: (path: string) => `Nothing is shown under ${path}.`,
    noStudy: 'There is no such study',
    noStudyWhy: (study: string) => `No study named “${study}” lies among the studies that this window shows.`,
    toHome: 'Go to Home',
    build: (version: string, commit: string) =>
      `Brinefield ${version}${/^[0-9a-f]{7,}/.test(commit) ? ` (${commit.slice(0, 10)})` : ''}`,
  },
  progress: {
    opening: 'Reading the study',
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
    failedWhy: 'Nothing that was recorded is lost. The reason given:',
  },
  problem: {
    gone: 'The program does not answer',
    goneWhy: 'It may have been stopped. Start it again in the terminal and open the link that it prints.',
    refused: 'This window is not signed in',
    refusedWhy: 'Open the page from the link that the program printed when it started; each link works once.',
    other: 'This could not be read',
    /** One sentence for a failed request, shown at the place it concerns. */
    brief: (status: number, message: string) =>
      status === 0
        ? 'The program does not answer; nothing was changed. Start it again, then try again.'
        : status === 401
          ? 'This window is not signed in; nothing was changed. Open the page from the link that the program printed.'
          : message || 'The program could not do this and gave no reason.',
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
  background,
  blinding,
  calibration,
  cards,
  deckPage,
  deckPaper,
  deckSetup,
  deckTablets,
  dossier,
  dossierCompare,
  dossierPackage,
  exposures,
  faults,
  figures,
  findings,
  footage,
  footageCamera,
  footageClips,
  footageMeasure,
  header,
  home,
  imports,
  methods,
  preregistration,
  question,
  results,
  range,
  rig,
  schedule,
  stimulus,
  tables,
  textbook,
  water,
} as const;

export type Words = typeof en;

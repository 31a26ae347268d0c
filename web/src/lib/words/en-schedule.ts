import { balance, picture, plan } from './en-schedule-plan';
import { seal } from './en-schedule-seal';

export const schedule = {
  title: 'Schedule',
  lead: 'Which pair is live in which trial: drawn by chance, sealed before the season, and provable after it.',
  parts: 'Parts of the schedule',
  names: {
    plan: 'Plan',
    seal: 'Seal',
    cards: 'Cards',
    blinding: 'Blinding',
    preregistration: 'Preregistration',
  },
  warnings: 'To bear in mind',
  readOnly: 'This study is shown read-only: a plan can be tried here, and nothing is kept.',
  reading: 'Reading the schedule …',
  standing: {
    none: 'No schedule is sealed.',
    sealed: (trials: number, when: string) => `Sealed on ${when}, ${trials} trials. Nobody can see what was drawn.`,
    part: (opened: number, of: number) => `${opened} of ${of} trials are opened.`,
    opened: 'Opened: what was drawn is shown.',
  },
  plan,
  picture,
  balance,
  seal,
  gives: {
    title: 'What gives it away',
    list: [
      'Photos and films of the switch box: one of them tells which pair was live in every trial. Whoever scores must not see any.',
      'Labels and colours on cables: mark the ends with numbers that only whoever wired them can read back.',
      'Lights, clicks and hum of the supply, and of the box: they must be the same whatever is switched.',
      'Whoever wires the box knows which position is which pair, and must not score.',
      'The current that is read during a trial, if it is read per pair: write it down on the operator’s sheet, not on the scorer’s.',
    ],
  },
};

import { clock, plural, whole } from './numbers';

/** What Exposures and Findings say of their own age, and of sealed pairs. */
export const results = {
  region: 'State of these results',
  outOfDate: (since: number) =>
    since > 0
      ? `${plural(since, 'entry', 'entries')} since these results were made.`
      : 'The study is no longer as it was when these results were made.',
  made: (when: string) =>
    when ? `They were made on ${clock(when).slice(0, 10)} at ${clock(when).slice(11, 16)}.` : '',
  again: 'Work out again',
  running: 'Working out again. What you see below is from before.',
  upToDate: 'These results are up to date again.',
  failed: 'The new analysis stopped; what you see below is from before. The reason given:',
  tryAgain: 'Try again',
  incomplete: (n: number) =>
    `What you see below is from before: as it stands now the study cannot be analysed, because ${plural(n, 'thing needs', 'things need')} correcting.`,
  showFaults: 'What to correct',
  none: 'Nothing has been worked out yet',
  noneWhy:
    'From the trials, the passes and their tracks the program works out what each animal met and from which field they turn.',
  workOut: 'Work out',
  faultsTitle: 'This study cannot be analysed yet',
  faultsLead: (n: number) =>
    `${plural(n, 'thing needs', 'things need')} correcting or adding. The results appear as soon as that is done; everything recorded so far is kept.`,
  toTable: (table: string) => `Correct it in ${table}`,
  tables: 'Tables',
  sealed: 'Which pair was active is sealed.',
  sealedWhy:
    'Roles, the fields met and the estimates that need them stay out of sight until the active pairs are opened.',
  nothingSealed:
    'Preference and thresholds compare passes at the active pair with passes at the others. While nobody may see which pair was active, neither can be estimated, and nothing is shown in their place.',
  openPairs: 'Open the active pairs…',
  opening: {
    title: 'Open the active pairs',
    warning:
      'From then on everybody who works on this study can see which pair was active in each trial. This cannot be taken back. That it was done, by whom, when and why stays in the journal.',
    finish: 'Finish scoring first: whoever has seen the active pairs no longer scores blind.',
    scope: 'What to open',
    scopeAll: 'All of it',
    scopeSome: 'Chosen trials',
    someWarning:
      'The rest of their block becomes easier to guess, because each block holds every pair equally often. What is scored or changed in these trials afterwards is marked in every table.',
    trials: 'Trials to open',
    trialsMissing: 'Choose the trials to open.',
    lock: 'All scoring is finished: lock it',
    lockMissing: 'All of it is opened only once scoring is locked.',
    known: 'I have read that this cannot be taken back',
    knownMissing: 'Tick that you have read it.',
    name: 'Your name',
    reason: 'Why are they opened now?',
    reasonHint: 'For example: scoring of all passes is finished.',
    nameMissing: 'Give your name: the journal keeps who opened the active pairs.',
    reasonMissing: 'Give a reason: the journal keeps why they were opened.',
    open: 'Open the active pairs',
    openSome: (n: number) => (n === 0 ? 'Open these trials' : `Open ${plural(n, 'trial', 'trials')}`),
    reading: 'Reading how the schedule stands',
    keep: 'Keep them sealed',
  },
  progress: (stage: string, done: number, total: number) =>
    total > 0 ? `${stage}: ${whole(done)} of ${whole(total)}` : stage,
};

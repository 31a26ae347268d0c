import { clock, pValue, plural, sig } from './numbers';

const day = (when: string): string => clock(when).slice(0, 16);
const at = (when: string, by: string): string =>
  [when ? day(when) : '', by ? `by ${by}` : ''].filter(Boolean).join(', ');
const passes = (n: number): string => plural(n, 'pass', 'passes');

/** The part Blinding: how far the schedule is opened, and who could have known what. */
export const blinding = {
  title: 'Blinding',
  lead: 'Who scored without knowing, and how a reader can believe it.',
  at,
  all: 'all trials',
  steps: {
    title: 'How it stands',
    done: 'done',
    open: 'not yet',
    partly: 'partly',
    sealed: 'Sealed',
    rehearsed: 'Rehearsed',
    run: 'Trials run',
    scored: 'Scored',
    locked: 'Scoring locked',
    opened: 'Opened',
    import: 'The active pairs were sealed when the study was imported; no schedule was drawn here.',
    plain: 'No schedule is sealed in this study.',
    keys: (n: number, of: number) => `${n} of ${plural(of, 'key', 'keys')} seen to open it`,
    trials: (n: number, of: number) => (of > 0 ? `${n} of ${of}` : plural(n, 'trial', 'trials')),
    unscored: (n: number) => (n === 0 ? 'every pass' : `${passes(n)} not scored yet`),
    someOpened: (trials: string) => `Opened so far: ${trials}`,
  },
  guesses: {
    title: 'Guesses',
    lead: 'After scoring, and before the opening: which pair do you think was live? Guess from what you saw while scoring. If guesses beat chance, something gave it away.',
    scoreFirst: (n: number) => `Guess after scoring: ${passes(n)} ${n === 1 ? 'is' : 'are'} not scored yet.`,
    by: 'Who guesses',
    byMissing: 'Give your name first: each scorer guesses alone.',
    table: 'Your guesses',
    trial: 'Trial',
    guess: 'Which pair was live?',
    guessOf: (trial: string) => `Which pair was live in ${trial}?`,
    note: 'Note',
    noteOf: (trial: string) => `Note on ${trial}`,
    choose: 'no guess yet',
    none: 'none (silent or sham)',
    unknown: 'I cannot say',
    pair: (label: string) => (label === 'none' ? 'none' : label === 'unknown' ? 'cannot say' : `pair ${label}`),
    noTrials: 'No trial has been run yet, so there is nothing to guess.',
    afterOpening: 'All trials are open. A guess made now is marked late and does not count.',
    list: (n: number) => `All guesses (${n})`,
    listHint: 'Look only after you made your own.',
    empty: 'Nobody has guessed yet.',
    late: 'late, does not count',
    when: 'When',
    who: 'By',
    saved: 'Saved',
    progress: (n: number, of: number) => `${n} of ${plural(of, 'trial', 'trials')} guessed`,
  },
  hits: {
    title: 'Did guesses beat chance?',
    name: 'guesses against chance',
    pictureTitle: 'Hits of the guesses beside chance',
    description:
      'For each scorer and for all together: the hits as a filled mark, the hits expected by chance as an open mark.',
    hits: 'hits',
    expected: 'expected by chance',
    axis: 'Hits',
    all: 'all scorers',
    notEstimable: 'not estimable',
    columns: { by: 'Scorer', guesses: 'Guesses', named: 'Named a pair', hits: 'Hits', expected: 'Expected', p: 'p' },
    sentence: (who: string, hits: number, guesses: number, expected: number | null, p: number | null, why: string) => {
      const of = who === 'all' ? 'Together the scorers' : who;
      const begin = `${of} hit ${hits} of ${plural(guesses, 'guess', 'guesses')}`;
      if (expected === null || p === null)
        return `${begin}. This cannot be set against chance: ${why || 'no reason was given'}.`;
      const chance = `${begin}; chance alone gives ${sig(expected, 2)} on average, and as many or more in ${share(p)} of schedules drawn by the same rule.`;
      return p < 0.05
        ? `${chance} That is more than chance readily gives: ask what gave it away.`
        : `${chance} That is within what chance gives; it does not prove that nobody knew.`;
    },
    p: pValue,
  },
  lock: {
    title: 'Lock scoring',
    lead: 'While scoring is locked nobody changes passes or tracks. All trials can only be opened once it is locked.',
    locked: (when: string, by: string, reason: string) => `Locked ${at(when, by)}${reason ? `: ${reason}` : ''}.`,
    opened: 'The trials are open: scoring cannot be unlocked for blind work any more.',
    allScored: 'Every pass is scored.',
    unscored: (n: number) => `${passes(n)} ${n === 1 ? 'is' : 'are'} not scored.`,
    leave: (n: number) => `Lock although ${passes(n)} ${n === 1 ? 'is' : 'are'} not scored`,
    leaveMissing: 'Score them first, or tick that they are left as they are.',
    name: 'Your name',
    nameMissing: 'Give your name: the journal keeps who locked it.',
    reason: 'Why now?',
    reasonHint: 'For example: scoring of all passes is finished and checked.',
    reasonMissing: 'Give a reason: the journal keeps why.',
    open: 'Lock scoring…',
    go: 'Lock scoring',
    unlock: 'Unlock scoring…',
    unlockTitle: 'Unlock scoring',
    unlockWhy: 'Passes and tracks can be changed again. That it was unlocked, by whom and why stays in the journal.',
    unlockGo: 'Unlock scoring',
    cancel: 'Cancel',
  },
  open: {
    title: 'Open',
    lead: 'Opening tells which pair was live. It cannot be taken back.',
    button: 'Open the active pairs…',
    done: 'All trials are open.',
    none: 'Nothing is sealed in this study.',
    openings: 'Openings',
    one: (trials: string, when: string, by: string, reason: string) =>
      `${trials}: ${at(when, by)}${reason ? ` (${reason})` : ''}`,
  },
  knowers: {
    title: 'Who could have known what',
    lead: 'From what the program wrote down. It does not know what people told each other.',
    nobody: 'Nobody, as far as the program wrote down.',
    caption: 'Who could have known which pair was live',
    who: 'Who',
    trials: 'Trials',
    since: 'Since',
    how: 'How',
    ways: {
      key: 'holds a secret key of the schedule',
      rehearsal: 'opened the schedule in a rehearsal, without being shown it',
      card: 'was shown the card of the trial',
      cards: 'printed all cards',
      wiring: 'saw which pair is wired to which position',
      import: 'imported the trials in plain sight',
      opening: 'opened the active pairs',
    } as Record<string, string>,
    scored: (n: number) => `This person scored ${passes(n)} of these trials: they were not scored blind.`,
    unnamed: 'nobody named',
  },
  opened: {
    title: 'What was drawn',
    caption: 'Opened trials',
    trial: 'Trial',
    block: 'Block',
    kind: 'Kind',
    pair: 'Live pair',
    current: 'Current, µA',
    odour: 'Odour',
    recorded: 'The study holds instead',
    kinds: { active: 'active', silent: 'silent', sham: 'sham' } as Record<string, string>,
    spare: 'spare draw',
    yes: 'yes',
    no: 'no',
    sealed: 'sealed',
    differ: (n: number) =>
      n === 0
        ? 'Every opened trial is recorded as it was drawn.'
        : `${plural(n, 'trial is', 'trials are')} recorded otherwise than drawn.`,
    save: 'Save as CSV',
  },
  after: {
    title: 'Scored or changed after the opening',
    none: 'Nothing of an opened trial was scored or changed after its opening.',
    count: (n: number) =>
      `${plural(n, 'value was', 'values were')} scored or changed after the active pair of the trial was opened.`,
    more: (n: number) => `${plural(n, 'more is', 'more are')} not listed here.`,
    caption: 'Values scored or changed after the opening',
    what: 'What',
    trial: 'Trial',
    field: 'Field',
    from: 'Was',
    to: 'Became',
    when: 'When',
    by: 'By',
    reason: 'Reason',
    blank: 'blank',
    save: 'Save as CSV',
    note: (n: number) =>
      `${plural(n, 'value was', 'values were')} scored or changed after the opening, by people who could know the live pair.`,
    see: 'See which',
  },
  refused: 'This was not done.',
};

/** share of schedules: never 0. */
function share(p: number): string {
  const of = p * 100;
  return of < 0.1 ? 'fewer than 0.1 %' : `${sig(of, 2)} %`;
}

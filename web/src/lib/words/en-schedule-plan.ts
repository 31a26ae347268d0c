import { percent, plural, tickText, whole } from './numbers';

const counted = (n: number, one: string, many = `${one}s`) => plural(n, one, many);

export const plan = {
  title: 'Plan',
  lead: 'What may happen in any trial. It is public; what does happen is drawn by chance.',
  fields: {
    pairs: 'Pairs',
    currents_uA: 'Currents, µA',
    trials: 'Trials',
    silent: 'Silent trials',
    sham: 'Shams',
    odour_off: 'Without odour',
    draw_polarity: 'Draw the polarity',
    repeats: 'Each pair in a block',
    most_alike: 'Most alike in a row',
    spare: 'Spare draws',
    per_day: 'Trials a day',
    trial_min: 'Length of a trial, min',
    washout_min: 'Washout, min',
  },
  help: {
    pairs: 'The live pair is drawn among these; at least two.',
    currents_uA: 'Each pair gets each current equally often, such as 6, 10, 15.',
    trials: 'All of them, silent trials and shams among them. Spare draws come on top.',
    silent: 'Nothing is switched on. They show how often animals turn without a field.',
    sham: 'The switch is thrown as ever, to a position that nothing is wired to. It catches a click, a light or a diver’s habit.',
    odour_off: 'So many of the trials with a live pair have no odour.',
    draw_polarity: 'Which electrode is positive is drawn as well; else it is always the same.',
    repeats: 'More make the end of a block harder to guess, and the balance coarser.',
    most_alike: 'Trials with the same live pair running; 0: no limit. A limit helps guessing.',
    spare: 'For protocols that draw again after a bite. They are sealed with the rest.',
    per_day: 'Lays the trials out by days, to see the balance; 0: not known yet. The draw does not change with it.',
    trial_min: 'From the switch on to the switch off; 0: not stated.',
    washout_min:
      'Least time between the end of a trial and the start of the next, so that no animal carries one trial into another. What falls short of it is told; 0: not stated.',
  },
  noPairs: 'Labels parted by commas, such as A, B, C, D.',
  triedPairs: 'The study names no pairs yet: these are to try a plan with. Enter the pairs in Tables before you seal.',
  typed: 'Labels of the pairs',
  numberless: 'A whole number, 0 or more.',
  unreadable: 'Numbers above 0 such as 6, 10, 15.',
  busy: 'Drawing an example …',
  old: 'The example is of the plan before the last change.',
  exampleTitle: 'An example of what this plan draws',
  exampleLead:
    'Drawn with an open number, so that anybody could draw it again. The sealed schedule will be another one, and is never shown here.',
  another: 'Another example',
  number: (n: number) => `Example ${whole(n)}`,
  balanceTitle: 'How even it came out',
  longest: (n: number) =>
    n === 1
      ? 'No pair was live twice running.'
      : `The longest run with one live pair was ${counted(n, 'trial')}; between them may lie silent trials and shams.`,
  dayTakes: (trials: number, minutes: number) =>
    `${counted(trials, 'trial')} take ${whole(Math.floor(minutes / 60))} h ${whole(minutes % 60)} min of a day.`,
  perDayFirst: 'Say how many trials a day has, and the balance over days and times of day is drawn too.',
  chanceTitle: 'What can be guessed',
  blind: (share: number, pairs: number) =>
    `Somebody who knows nothing names the live pair in 1 of ${whole(pairs)} trials (${percent(share)}).`,
  blocks: (share: number, repeats: number) =>
    `Somebody who is told every trial’s pair when it is over, and knows that each block holds each pair ${
      repeats <= 1 ? 'once' : `${whole(repeats)} times`
    }, does so in ${percent(share)} at best: the end of a block is then no secret.`,
  raise: (repeats: number, alike: number) =>
    [
      `Short blocks raise it (each pair ${repeats <= 1 ? 'once' : `${whole(repeats)} times`} now), and so does telling anybody what a trial was before the season is over.`,
      alike > 0 ? `The limit of ${whole(alike)} alike in a row raises it further, which is not counted here.` : '',
    ]
      .filter(Boolean)
      .join(' '),
  rule: (block: number, alike: number) =>
    `For the season folder: rule = "blocks", block = ${whole(block)}${alike > 0 ? `, most_alike = ${whole(alike)}` : ''}. The randomisation test then draws again by the same rule.`,
  realTitle: 'What was drawn',
  realLead: (seal: string) => `The real schedule, opened. Its seal begins with ${seal}.`,
  partLead: (opened: number, of: number) =>
    `The real schedule, as far as it is opened: ${whole(opened)} of ${counted(of, 'trial')}.`,
  seasonTitle: 'The trials of the season',
  seasonLead: 'As they are recorded. No schedule was sealed for them.',
  another2: 'Try another plan',
};

export const picture = {
  example: 'Example, not the sealed schedule',
  real: 'The real schedule',
  name: 'schedule',
  exampleName: 'example of a schedule',
  title: 'The schedule: which pair is live in each trial',
  exampleTitle: 'Example of a schedule: which pair is live in each trial',
  columns: 'Trial',
  day: (n: number) => `Day ${n}`,
  more: (n: number) => `and ${counted(n, 'more row')}; the CSV file has all`,
  spare: 'Spare draws',
  pair: (label: string) => `pair ${label}`,
  silent: 'silent',
  sham: 'sham',
  noOdour: 'no odour',
  sealed: 'still sealed',
  unknown: '?',
  block: 'a new block',
  ofPair: (pair: string, n: number) => `pair ${pair} in ${n}`,
  trial: (t: { trial: string; kind: string; pair: string; currentUA: number | null; odour: boolean }) =>
    t.kind === 'sealed'
      ? `${t.trial}: still sealed`
      : [
          `${t.trial}: ${t.kind === 'active' ? `pair ${t.pair}` : t.kind === 'blank' ? 'not recorded' : t.kind}`,
          t.currentUA === null ? '' : `${tickText(t.currentUA)} µA${t.kind === 'active' ? '' : ' set, none flows'}`,
          t.odour ? '' : 'no odour',
        ]
          .filter(Boolean)
          .join(', '),
  description: (
    example: boolean,
    trials: number,
    pairs: string,
    n: { silent: number; sham: number; sealed: number; spare: number },
  ) =>
    [
      example ? 'This is an example, not the sealed schedule.' : '',
      `${counted(trials, 'trial')} in rows: ${pairs}`,
      `${n.silent} silent, ${counted(n.sham, 'sham')}, ${n.sealed} still sealed, ${counted(n.spare, 'spare draw')}.`,
    ]
      .filter(Boolean)
      .join(' ')
      .replace(/(in \d+) (\d+ silent)/, '$1; $2'),
};

export const balance = {
  name: 'balance of the schedule',
  exampleName: 'balance of an example',
  title: 'Trials of each pair over currents and days',
  exampleTitle: 'Example: trials of each pair over currents and days',
  description: (pairs: string) => `Driven trials: ${pairs}.`,
  currents: 'Over currents',
  polarity: 'Over polarity',
  forward: 'forward',
  reversed: 'reversed',
  days: 'Over days',
  times: 'Over the time of day (nth trial)',
  first: (title: string, n: number) => `${title}, the first ${n}`,
  one: (pair: string, over: string, column: string, n: number) =>
    `Pair ${pair}, ${over.charAt(0).toLowerCase()}${over.slice(1)} ${column}: ${n}`,
};

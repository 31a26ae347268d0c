// The words of the tablet's pages, apart from the others: the tablet loads no
// more than it needs.

import { entry, lower, passAnimal, passLine, plural, waterNames } from './en-tablet-entries';
import { status, troubles } from './en-tablet-status';

const seen = (hours: number): string => String(Math.round(hours * 100) / 100);

const moment = new Intl.DateTimeFormat('en-GB', {
  weekday: 'short',
  day: 'numeric',
  month: 'short',
  hour: '2-digit',
  minute: '2-digit',
});
const date = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'long', year: 'numeric' });

export const tablet = {
  title: (study: string | undefined) => [study, 'Deck · Brinefield'].filter(Boolean).join(' · '),
  close: 'Close',
  keep: 'Save',
  again: 'Try again',
  understood: 'Understood',
  keeping: 'Saving…',
  noteText: 'In words',
  when: (ms: number) => moment.format(ms),
  day: (text: string) => (Number.isNaN(Date.parse(text)) ? text : date.format(Date.parse(text))),
  plural,
  entry,
  noStorage: 'This browser keeps nothing',
  noStorageWhy:
    'Logging needs the browser’s own storage, and it refused. Leave private browsing, or free space on the tablet, and open this page again.',
  photoFailed: (why: string) => `The photo was not kept: ${why}`,
  ask: {
    gone: 'The laptop does not answer.',
    refused: (status: number) => `The laptop refused this and gave no reason (${status}).`,
  },
  open: {
    opening: 'Opening the log of this tablet…',
    cannot: (study: string) => `${study} cannot be opened`,
    never:
      'This tablet has not seen this study yet, and the laptop does not answer. Come within reach of the laptop once; from then on it is not needed.',
    stranger: 'The laptop does not know this tablet. Pair it with a code from the laptop’s screen.',
    noDevice:
      'The laptop gave this tablet no name to write under. On the laptop itself, passes are entered in the study’s section Deck, on the page Paper.',
    back: 'Back to my studies',
  },
  studies: {
    title: 'My studies',
    asName: (name: string, device: string) => `This tablet is ${name}${device ? `; it writes as ${device}` : ''}.`,
    insecure: 'This page did not come over a secure connection.',
    insecureWhy:
      'Nothing can be kept for a day without the laptop. Install the laptop’s certificate as its screen shows, and open the address that begins with https.',
    laptop: 'This is the laptop itself. Log on a tablet, or enter paper logs in the study’s section Deck.',
    none: 'This tablet has no role in any study. On the laptop: Deck, Tablets.',
    role: (role: string) =>
      (
        ({ lead: 'as lead', operator: 'as operator', scorer: 'as scorer', guest: 'as guest' }) as Record<string, string>
      )[role] ?? role,
    unreached:
      'The laptop does not answer, and this tablet was never paired with it. Bring both into one network, then try again.',
    looking: 'Looking for the laptop…',
    again:
      'The laptop no longer knows this tablet. Logging goes on; pair it again to bring what was logged to the laptop.',
    state: 'This tablet',
    contact: 'Last contact with the laptop',
    never: 'never',
    storage: 'Storage',
    unknown: 'not asked yet',
    persistent: 'The browser promised not to clear it by itself.',
    clearable:
      'The browser may clear it when the tablet is short of space: add this page to the home screen, and keep space free.',
    app: 'Without the laptop',
    installed: 'This page is installed as an app.',
    install:
      'Works from here on. Add it to the home screen (share or menu button, then “Add to Home Screen”) and open it from there, so that the browser keeps it.',
    notKept: (why: string) => `This page cannot be kept for days without the laptop: ${why}`,
    ends: 'Paired until',
    pairAgain: 'Pair again',
  },
  pairing: {
    title: 'Pair this tablet',
    steps: [
      'On the laptop: open the study, Deck, Tablets, and let it show a code.',
      'Compare the ten words here with those on the laptop’s screen. If one differs, stop: this is another laptop.',
      'Enter the code within two minutes.',
    ],
    same: (laptop: string) => `The laptop${laptop ? ` ${laptop}` : ''} shows the same words:`,
    tenWords: 'The ten words',
    code: 'Code, eight letters and digits',
    name: 'Name of this tablet',
    nameExample: 'such as Blue tablet',
    nameMissing: 'Give the tablet a name, so that the laptop can tell it from others.',
    eight: (n: number) => `The code has eight letters and digits; ${n} are there.`,
    asking: 'Asking the laptop…',
    enter: 'Pair',
  },
  update: {
    waits: 'A new version of this app is here. It takes over when you tap, and nothing that was logged is touched.',
    take: 'Take it over',
    taking: 'Taking over…',
  },
  looks: { label: 'Colours', sunlight: 'Sunlight', dark: 'Dark', night: 'Night, red' },
  status,
  troubles,
  tabs: { label: 'Pages', passes: 'Passes', trial: 'Trial', water: 'Water', more: 'More' },
  noTrial: 'No trial runs',
  nextTrial: (trial: string) => `next: ${trial}`,
  washout: 'Washout',
  timerShare: 'How much of it has gone',
  timer: (state: string, time: string, counted: boolean) =>
    state === 'over' ? `over by ${time}` : state === 'running' && !counted ? `${time} so far` : `${time} left`,
  species: (name: string, all: readonly { name: string; aliases: string[] }[]) => {
    const common = all.find((s) => s.name === name)?.aliases.find((a) => !/^[A-Z]\. ?[a-z]+$/.test(a));
    return common ? common.charAt(0).toUpperCase() + common.slice(1) : name;
  },
  passCount: (n: number) => plural(n, 'pass', 'passes'),
  sexes: [
    { word: 'female', label: 'Female' },
    { word: 'male', label: 'Male' },
  ],
  sexOf: (sex: string) => sex,
  electrodes: [
    { word: 'positive', label: 'Positive' },
    { word: 'negative', label: 'Negative' },
    { word: 'both', label: 'Both' },
  ],
  height: (h: { low_cm: number; high_cm: number }) => `${h.low_cm}–${h.high_cm} cm`,
  passLine,
  passAnimal,
  passes: {
    pair: 'Pair',
    response: 'What the animal did',
    pairFirst: 'First the pair, then what the animal did.',
    unknownAnimal: 'Unknown animal',
    unknown: 'Unknown',
    speciesFirst: 'Tap to choose the species',
    bounced: 'Two quick taps were taken as one pass.',
    logAgain: 'Log it again',
    noTrial: 'No trial runs: passes can be logged once one has begun.',
    toTrial: 'To the trial',
  },
  last: {
    label: 'The last entry',
    none: 'Nothing was logged on this tablet yet.',
    undo: 'Undo',
    undoOf: (what: string) => `Undo: ${what}`,
    electrode: 'Which electrode was bitten?',
    height: 'Height over the bottom',
    note: 'Note',
    noteKept: 'Note ✓',
    noteOf: (pass: string) => `Note on ${pass}`,
    photo: (n: number) => (n > 0 ? `Photo (${n})` : 'Photo'),
    voice: (n: number) => (n > 0 ? `Voice (${n})` : 'Voice'),
  },
  voice: {
    title: 'Voice note',
    asking: 'Asking for the microphone…',
    refused: 'The microphone cannot be used: allow it for this page in the tablet’s settings.',
    most: (time: string) => `of ${time} at most`,
    stop: 'Stop and save',
    drop: 'Drop it',
  },
  animals: {
    title: 'Which animal?',
    species: 'Species',
    unknown: 'Unknown',
    unknownWhy: 'No mark that I know',
    speciesFirst: 'First the species, above.',
    fresh: 'New animal',
    freshWhy: 'Give it a name and a mark',
    name: 'What you call it',
    mark: 'Its mark, such as: notch in the left fin',
    sex: 'Sex',
    add: 'Add it, and log it next',
    nameMissing: 'Give it a name.',
    taken: (name: string) => `There is an animal called ${name} already.`,
    photoOf: (name: string) => `Photo of ${name}`,
  },
  person: {
    none: 'Who logs?',
    title: 'Who logs today?',
    why: 'The name stands as the author of every entry of this tablet. It is asked once a day.',
    other: 'Another name',
    go: 'Log under this name',
  },
  pad: {
    keys: 'Digits',
    sign: 'Plus or minus',
    point: 'Decimal point',
    back: 'Delete the last digit',
    least: (n: number, unit: string) => `At least ${n}${unit ? ` ${unit}` : ''}.`,
    most: (n: number, unit: string) => `At most ${n}${unit ? ` ${unit}` : ''}.`,
  },
  water: {
    title: (trial: string) => `Water and bottom in ${trial}`,
    noTrial: 'Water is written down with a trial, and there is none yet.',
    names: waterNames,
    units: {
      temperature_C: '°C',
      water_S_per_m: 'S/m',
      tide_m: 'm',
      flow_m_per_s: 'm/s',
      flow_bearing_deg: '°',
      visibility_m: 'm',
      sand_over_plate_mm: 'mm',
    } as Record<string, string>,
  },
  trial: {
    runs: (t: string) => `Trial ${t}`,
    began: (time: string) => `Begun at ${time}.`,
    next: (t: string) => `Next: trial ${t}`,
    spare: 'A spare draw of the schedule.',
    spareShort: 'spare',
    beside: 'beside the schedule',
    list: 'Before the trial',
    ok: 'OK',
    notOk: 'Not OK',
    faulty: (n: number) => `${n} not OK: mend it, or begin and know it.`,
    listFirst: (n: number) => `${plural(n, 'point', 'points')} of the list not answered.`,
    withoutList: 'Begin without the list',
    reasons: ['Looked at by the divers', 'Looked at before the trial before', 'No time: animals are there'],
    passedOver: (why: string) => `Pre-trial list passed over: ${why}`,
    start: (t: string) => `Begin ${t}`,
    end: (t: string) => `End ${t}`,
    another: 'Another trial',
    goOn: (n: number) => `Not ended: ${n}`,
    openTitle: 'Trials that were not ended',
    openWhy: 'Begun on another tablet, or on another day.',
    goOnWith: 'Go on with it',
    before: 'Current before',
    beforeNoted: 'Current before: noted',
    after: 'Current after',
    afterNoted: 'Current after: noted',
    afterOf: (t: string) => `Current after ${t}`,
    afterNotedOf: (t: string) => `Current after ${t}: noted`,
    reading: (when: string, t: string) => `Current ${when} ${t}`,
    readingWhy: 'It tells which pair is active: it is shown nowhere again, until the active pairs are opened.',
  },
  more: {
    adverse: 'Something went wrong',
    kinds: ['Animal hurt', 'Animal in distress', 'Animal caught in the gear', 'Person hurt', 'Gear broken', 'Weather'],
    adverseLine: (text: string) => `Adverse: ${text}`,
    note: 'Note',
    photo: 'Photo',
    permits: 'Counted against the permit',
    oneAnimal: 'One animal more',
    hours: 'Hours',
    tablet: 'This tablet',
    who: (name: string) => (name ? `${name} logs: somebody else?` : 'Who logs?'),
    switches: {
      sound: (on: boolean) => `Sound ${on ? 'on' : 'off'}`,
      vibration: (on: boolean) => `Vibration ${on ? 'on' : 'off'}`,
      awake: (on: boolean) => (on ? 'Screen stays on in a trial' : 'Screen may go off'),
    },
  },
  permitNumber: (n: string, to: string) => [n, to && `until ${to}`].filter(Boolean).join(', '),
  over: (n: number, most: number | undefined) => most !== undefined && n > most,
  animalsLeft: (n: number, most: number | undefined) =>
    most === undefined
      ? plural(n, 'animal', 'animals')
      : n > most
        ? `${n} animals: ${n - most} over the limit of ${most}`
        : `${n} of ${most} animals; ${most - n} left`,
  hoursLeft: (n: number, most: number | undefined) =>
    most === undefined
      ? `${seen(n)} h`
      : n > most
        ? `${seen(n)} h: ${seen(n - most)} h over the limit of ${seen(most)} h`
        : `${seen(n)} of ${seen(most)} h; ${seen(most - n)} h left`,
  said: {
    pass: (pair: string, response: string) => `Saved: ${pair}, ${lower(response)}`,
    corrected: (pass: string) => `Saved: added to pass ${pass}`,
    undone: (what: string) => `Taken back: ${what}`,
    started: (t: string) => `Saved: trial ${t} begun`,
    ended: (t: string) => `Saved: trial ${t} ended`,
    checked: (check: string, state: string) => `Saved: ${check}, ${state}`,
    reading: (when: string) => `Saved: current ${when} the trial`,
    event: (what: string) => (what === 'adverse' ? 'Saved: adverse event' : 'Saved: note'),
    count: (permit: string) => `Saved: counted against ${permit}`,
    attached: (kind: string) => (kind === 'photo' ? 'Saved: photo' : 'Saved: voice note'),
    animal: (id: string) => `Saved: animal ${id}`,
    water: (what: string) => `Saved: ${lower(what)}`,
  },
} as const;

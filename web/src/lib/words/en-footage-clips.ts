import { plural, sig, whole } from './numbers';

const bytes = (n: number): string => {
  const [unit, of] = n >= 1e9 ? ['GB', 1e9] : n >= 1e6 ? ['MB', 1e6] : ['kB', 1e3];
  return `${sig(n / of, n / of < 10 ? 2 : 3)} ${unit}`;
};

/** trim leaves out zeros that say nothing: 30, 29.97. */
const trim = (v: number, digits: number): string =>
  sig(Number(v.toPrecision(digits)), digits)
    .replace(/(\.\d*?)0+$/, '$1')
    .replace(/\.$/, '');

const length = (s: number): string => {
  if (s < 60) return `${sig(s, 3)} s`;
  const all = Math.round(s);
  const [h, m, rest] = [Math.floor(all / 3600), Math.floor(all / 60) % 60, all % 60];
  return [h && `${h} h`, m && `${m} min`, rest && !h && `${rest} s`].filter(Boolean).join(' ');
};

/** Footage, part Clips: the recordings, their files and their clocks. */
export const footageClips = {
  none: 'No clip yet. Add the recordings of your passes: they can stay where they are, or be copied into the study.',
  add: 'Add a clip',
  dropHere: 'Drop files here: one clip, or the chapters that a camera split it into',
  list: 'Clips',
  bytes,
  length,
  card: {
    facts: (s: number, rate: number | null, variable: boolean) =>
      [length(s), rate === null ? '' : `${variable ? 'about ' : ''}${trim(rate, 4)} pictures/s`]
        .filter(Boolean)
        .join(', '),
    chapters: (n: number) => plural(n, 'file', 'files'),
    passes: (n: number) => plural(n, 'pass', 'passes'),
    gaps: (n: number) => plural(n, 'gap', 'gaps'),
    noFiles: 'named in the season, no file yet',
    missing: 'file missing',
    changed: 'file changed',
    noClock: 'clock not set',
    proxy: (share: number) => `small copy ${Math.floor(share * 100)} %`,
  },
  view: {
    picture: (clip: string, frame: number) => `Picture of ${clip}, frame ${whole(frame)}`,
    opening: 'Opening the clip…',
    noFile: 'No file of this clip is on this laptop. Add its files under this name, or say where they are now.',
    attach: 'Add its files',
    close: 'Close',
    facts: 'About this clip',
    size: 'Picture',
    sizeOf: (w: number, h: number, codec: string) => (w > 0 ? `${w} × ${h} px, ${codec}` : 'not looked into yet'),
    turned: (deg: number) => `turned upright by ${deg}°`,
    rate: 'Pictures per second',
    rateOf: (rate: number, variable: boolean) =>
      variable
        ? `${trim(rate, 5)} by the median interval; intervals differ, each frame keeps its own time`
        : trim(rate, 6),
    frames: 'Frames',
    length: 'Length',
    gaps: 'Gaps',
    noGaps: 'none',
    gap: (from: string, to: string) => `${from} to ${to}`,
    passes: 'Passes in it',
    noPasses: 'None names this clip, and none falls into its time by the clock.',
    measure: 'Measure them',
    notes: 'Notes',
  },
  files: {
    title: 'Files',
    file: 'File',
    size: 'Size',
    begins: 'Begins at',
    place: 'Where it is',
    copy: 'Small copy for stepping',
    places: {
      copy: 'copied into the study',
      reference: 'where it was, on this laptop',
      missing: 'not found on this laptop',
      changed: 'changed since it was taken in: its bytes are others',
    },
    proxy: {
      none: 'not needed',
      waiting: 'waits for its turn',
      running: 'being made',
      ready: 'ready',
      failed: 'failed',
    },
    make: 'Make small copies',
    makeWhy: 'Steps go quicker on a small copy; measuring uses the same frames and the same pixels of the clip.',
    find: 'Find the file…',
    findTitle: (file: string) => `Where is ${file} now?`,
    findWhy:
      'Choose the file, or the folder, card or drive that it lies on. It is known by its content: a new name does no harm.',
    findHere: 'Look in this folder',
  },
  jobs: {
    title: 'Being worked on',
    what: { import: 'Taking in', proxy: 'Small copy', find: 'Looking for' } as Record<string, string>,
    waiting: 'waits for its turn',
    failed: 'failed',
    stop: 'Stop',
    dismiss: 'Dismiss',
    again: 'Try again',
    correct: 'Correct and try again',
    of: (what: string, file: string, clip: string) => `${what} ${file || clip}`,
    share: (share: number) => `${Math.floor(share * 100)} %`,
  },
  tools: {
    title: 'ffmpeg is not there',
  },
  adding: {
    title: 'Add a clip',
    choose: 'Choose files of this laptop',
    orSend: 'Or drop files here, or',
    pick: 'pick them in the browser',
    sendWhy: 'Files that are dropped are copied into the study.',
    chosen: 'Files of the clip, in the order in which they were filmed',
    nothing: 'No file chosen yet.',
    up: (name: string) => `${name}: earlier`,
    down: (name: string) => `${name}: later`,
    remove: (name: string) => `Leave out ${name}`,
    moved: (name: string, at: number, n: number) => `${name} is now ${at} of ${n}.`,
    sending: (share: number) => `sent ${Math.floor(share * 100)} %`,
    sent: 'sent',
    name: 'Name of the clip',
    nameHint: 'Left empty: that of the first file.',
    nameKnown: (clip: string) => `The season names ${clip} already: it gets these files.`,
    start: 'First frame, by the camera’s clock',
    startHint: 'Like 2026-06-01 21:40:00. Left empty: what the file itself says. Many do not say.',
    startWrong:
      'Write it like 2026-06-01 21:40:00, with +01:00 behind it if the clock stood at another zone than the site.',
    where: 'Where the files stay',
    refer: 'Where they are. The study remembers the place on this laptop.',
    copy: (size: string) => `Copied into the study${size ? ` (${size})` : ''}, so that they go into its backups.`,
    copyForced: 'Files that were sent are in the study already.',
    go: 'Add this clip',
    cancel: 'Cancel',
  },
  look: {
    places: 'Begin from',
    up: 'Folder above',
    folder: (name: string) => `Folder ${name}`,
    empty: 'No footage in this folder.',
    reading: 'Reading the folder…',
    inClip: (clip: string) => `in ${clip}`,
    files: 'Files that may be footage, newest first',
    here: 'Folder',
    go: 'Open',
  },
  clock: {
    title: 'Clock',
    lead: 'Which time the trial’s clock showed in which frame. One event gives the offset of the camera’s clock; two far apart give its drift too.',
    practice:
      'Common practice: film the trial’s clock, or a torch that is switched on at a noted second, at the beginning and at the end.',
    start: 'First frame, by the camera’s clock',
    startHint: 'Like 2026-06-01T21:40:00+01:00.',
    offset: 'Offset',
    offsetOf: (s: number) => `${trim(s, 5)} s to be added to the camera’s clock`,
    drift: 'Drift',
    driftOf: (ppm: number) => `${sig(ppm, 3)} ppm (${sig(ppm * 3.6e-3, 2)} s per hour)`,
    notSet: 'not set',
    events: 'Events seen in this clip',
    none: 'No event marked yet.',
    frame: 'Frame',
    at: 'On the trial’s clock',
    what: 'What is seen',
    off: 'Off the line, s',
    show: (frame: number) => `Show frame ${whole(frame)}`,
    remove: (what: string) => `Remove ${what || 'the event'}`,
    add: (frame: number) => `Mark frame ${whole(frame)}`,
    time: 'Time on the trial’s clock',
    timeHint: 'Like 21:40:12.5, or with the date.',
    timeWrong:
      'Write the time like 21:40:12.5; where the clip’s start is not stated, with the date: 2026-06-01 21:40:12.5.',
    whats: ['torch switched on', 'torch switched off', 'clock filmed', 'hand on the plate'],
    save: 'Save the clock',
    saved: 'Saved.',
    notSaved: 'Not saved yet.',
    again: 'Take back what is not saved',
    passes: 'Passes by this clock',
    figure: {
      name: 'clock-of-the-clip',
      title: (clip: string) => `Events of ${clip}: seen minus the line through all`,
      seconds: 'time in the clip, s',
      minutes: 'time in the clip, min',
      residual: 'off the line, s',
      event: (what: string, s: string) => `${what}: ${s} s`,
      description: (n: number, worst: string) =>
        `${plural(n, 'event', 'events')}; the farthest is ${worst} s off the line through all of them.`,
      columns: ['frame', 'clip_s', 'clock', 'what', 'residual_s'],
    },
  },
};

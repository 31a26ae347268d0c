// The tablet's pages: what is safe, and what is wrong.
import { plural } from './en-tablet-entries';

export const status = {
  title: 'What is safe',
  saved: (n: number) => `${n} saved on this tablet`,
  safe: (n: number) => `${n} safe on the laptop`,
  meaning: 'Saved: on this tablet’s disc. Safe: on the laptop’s disc as well.',
  allSafe: 'Everything is safe on the laptop.',
  waiting: 'Waiting for the laptop.',
  sending: 'Sending…',
  unpaired: 'The laptop does not let this tablet in: pair it again.',
  forked: 'Stopped: the laptop has other entries under this tablet’s numbers.',
  now: 'Now',
  contact: 'Last contact',
  attachments: 'Names, photos, voice',
  blobsLeft: (n: number) => `${n} still to be sent`,
  device: 'Writes as',
  copy: 'Second copy',
  copied: 'complete',
  behind: (n: number) => `lacks ${plural(n, 'entry', 'entries')}`,
  roomLeft: (used: number, left: number) => `${Math.round(used)} MB used, ${Math.round(left)} MB free for this page.`,
  found: 'When it was opened',
  report: (r: { damaged: number; fromCopy: number; newDevice: boolean; blobsMissing: string[] }, device: string) =>
    [
      r.fromCopy > 0 && `${plural(r.fromCopy, 'entry was', 'entries were')} taken from the second copy.`,
      r.damaged > 0 &&
        `${plural(r.damaged, 'line', 'lines')} could not be read and ${r.damaged === 1 ? 'was' : 'were'} put aside.`,
      r.blobsMissing.length > 0 && `${plural(r.blobsMissing.length, 'photo or name is', 'photos or names are')} lost.`,
      r.newDevice && `The tablet goes on as a new device, ${device}.`,
    ]
      .filter(Boolean)
      .join(' '),
  sendNow: 'Send now',
  unsaved: (labels: string[]) => `Not saved: ${labels.join('; ')}`,
  forget: 'Let go of them',
  forkedWhy:
    'Save the log as a file first. Then this tablet can go on as a new device: its next entries get new numbers.',
  newDevice: 'Go on as a new device',
  file: 'Save the log as a file',
  fileWhy: 'The file holds the names of people, photos and voices. Hand it on as you would hand on the laptop.',
  withCurrents: (on: boolean) =>
    on ? 'With the currents: the file tells which pair was active' : 'Without the currents that were read',
  save: 'Save the file',
  handed: {
    shared: 'The file was handed on.',
    downloaded: 'The file is among the downloads.',
    cancelled: 'Not saved.',
  },
  home: 'My studies',
} as const;

export const troubles = {
  unsaved: (n: number) => `${plural(n, 'entry is', 'entries are')} not saved.`,
  details: 'Details',
  otherTab: 'Another window of this tablet is logging. Here you can look, not write.',
  takeOver: 'Log here instead',
  unpaired: 'The laptop does not let this tablet in any more. Logging goes on; pair again to send.',
  pair: 'Pair again',
  replaced:
    'The laptop now has another study under this name. What was logged here stays on this tablet: save it as a file.',
  newDevice: (device: string) =>
    `The log was damaged and has been put together again. This tablet goes on as a new device, ${device}.`,
} as const;

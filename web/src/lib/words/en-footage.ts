import { whole } from './numbers';

/** The page Footage: recordings, and looking at their frames. */
export const footage = {
  title: 'Footage',
  lead: 'Recordings of the passes: which file is which, where the camera was, and where each animal’s head was when it turned.',
  parts: 'Parts of the footage',
  names: { clips: 'Clips', camera: 'Camera', measure: 'Measure' },
  readOnly: 'This study is shown read-only: nothing can be changed here.',
  locked: 'Scoring is locked. What was measured is shown, and not changed.',
  viewer: {
    role: 'picture',
    late: 'Reading the picture…',
    problem: {
      lost: 'The picture could not be read from the file.',
      other:
        'The file shows another frame at this time than the one it lists. A small copy of the clip puts that right.',
      undecodable: 'This browser cannot decode this recording. It can be looked at when its small copy is ready.',
      closed: 'The clip was closed.',
    },
  },
  /** A moment of the clip: 12:03.480. */
  time: (s: number): string => {
    const ms = Math.round(Math.abs(s) * 1000);
    const two = (n: number): string => String(n).padStart(2, '0');
    const [h, m, sec] = [Math.floor(ms / 3600000), Math.floor(ms / 60000) % 60, Math.floor(ms / 1000) % 60];
    return `${s < 0 ? '−' : ''}${h > 0 ? `${h}:${two(m)}` : m}:${two(sec)}.${String(ms % 1000).padStart(3, '0')}`;
  },
  transport: {
    name: 'Moving in time',
    place: 'Place in the clip',
    frameAt: (frame: number, time: string) => `frame ${whole(frame)}, ${time}`,
    frameLabel: 'Frame',
    of: (count: number) => `of ${whole(count)}`,
    backTen: 'Ten frames back',
    back: 'One frame back',
    on: 'One frame on',
    onTen: 'Ten frames on',
    play: 'Play',
    pause: 'Pause',
    rate: 'Speed',
    times: (rate: number) => `${rate} ×`,
    keys: { backTen: 'Shift ←', back: '←', on: '→', onTen: 'Shift →', play: 'Space' },
    mark: {
      start: 'The pass begins to be watched here',
      onset: 'This is the first frame of the turn',
      end: 'This is the last frame that is watched',
    },
    markShort: { start: 'Start', onset: 'Onset', end: 'End' },
    markKey: { start: 'I', onset: 'O', end: 'E' },
    markLetter: { start: 'start', onset: 'onset', end: 'end' },
    sheet: 'Sheet of pictures',
    help: 'All keys',
    about: 'This browser does not decode frame by frame: the picture may be one frame beside the number.',
  },
  sheet: {
    name: 'Sheet of pictures',
    level: (depth: number, n: number) =>
      `${depth > 1 ? 'Closer: ' : ''}${n} pictures across. Press the letter of a picture; Escape goes back.`,
    frame: (frame: number) => `frame ${whole(frame)}`,
    hint: 'Press the letter of the last picture before it happens. Then look closer, the same way.',
    lastHint: 'Each picture is one frame. Press the letter of the one you want.',
    up: 'Back to the wider sheet',
    close: 'Back to the picture',
  },
  keys: {
    title: 'Keys',
    time: {
      title: 'Moving in time',
      keys: [
        ['← →', 'one frame; with the crosshair on: , and .'],
        [', .', 'one frame, always'],
        ['Shift ← →', 'ten frames'],
        ['Ctrl ← →', 'one second (also with Alt); with Shift ten seconds'],
        ['Home End', 'first and last frame of the pass, or of the clip'],
        ['Space', 'play and pause'],
        ['J K L', 'play backwards, pause, play; pressed again: faster'],
        ['G', 'type a frame number'],
      ],
    },
    marks: {
      title: 'Marks of the pass',
      keys: [
        ['I', 'it begins to be watched here'],
        ['O', 'first frame of the turn'],
        ['E', 'last frame that is watched'],
        ['Shift I O E', 'go to that mark'],
      ],
    },
    sheet: {
      title: 'Sheet of pictures: any frame in five presses',
      keys: [
        ['S', 'pictures across the pass'],
        ['A … Y', 'choose a picture, then look closer'],
        ['Esc', 'back to the wider sheet, then to the picture'],
      ],
    },
    picture: {
      title: 'The picture (click it first)',
      keys: [
        ['+ −', 'larger, smaller; the wheel does the same'],
        ['0', 'all of it'],
      ],
    },
    cross: {
      title: 'Placing without a mouse (click or Tab to the picture first)',
      keys: [
        ['X', 'crosshair on and off'],
        ['← → ↑ ↓', 'move it by one pixel'],
        ['Shift ← → ↑ ↓', 'by ten pixels'],
        ['Alt ← → ↑ ↓', 'by a tenth of a pixel'],
        ['Enter', 'place'],
        ['M', 'magnifying glass on and off'],
        ['[ ]', 'weaker, stronger glass'],
      ],
    },
  },
};

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
  transport: {
    name: 'Moving in time',
    frame: (frame: number, count: number) => `Frame ${whole(frame)} of ${whole(count)}`,
    back: 'One frame back',
    on: 'One frame on',
    play: 'Play',
    pause: 'Pause',
  },
};

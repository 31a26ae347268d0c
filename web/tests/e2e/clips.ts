// Clips whose pictures carry their number, so that a test can read which frame is
// on the screen: sixteen blocks from left to right, white for a bit that is set.
// Made by ffmpeg when they are needed, a few kilobytes each.
import { execFileSync } from 'node:child_process';
import { join } from 'node:path';

const [width, height, bits] = [320, 180, 16];

interface Kind {
  frames: number;
  /** Number of the first picture. */
  from?: number;
  codec?: 'libx264' | 'libx265';
  /** Intervals between frames that differ from each other. */
  variable?: boolean;
}

/** numbered makes a clip in the folder and gives its path. */
export function numbered(folder: string, name: string, kind: Kind): string {
  const out = join(folder, name);
  const block = `lum='if(mod(floor((N+${kind.from ?? 0})/pow(2,floor(X*${bits}/${width}))),2),235,16)':cb=128:cr=128`;
  const times = kind.variable ? ",settb=1/90000,setpts='(N/25+0.004*sin(N))/TB'" : '';
  const h265 = kind.codec === 'libx265';
  execFileSync('ffmpeg', [
    ...['-v', 'error', '-nostdin', '-y', '-threads', '1', '-f', 'lavfi'],
    ...['-i', `color=black:size=${width}x${height}:rate=30:duration=${kind.frames / 30}`],
    ...['-vf', `geq=${block}${times}`, '-frames:v', String(kind.frames), '-fps_mode', 'passthrough'],
    ...(kind.variable ? ['-enc_time_base', '1/90000', '-video_track_timescale', '90000'] : []),
    ...['-c:v', kind.codec ?? 'libx264', '-preset', 'ultrafast', '-threads', '1', '-pix_fmt', 'yuv420p'],
    // Key frames far apart and pictures that are stored before those they are shown after.
    ...(h265
      ? ['-x265-params', 'log-level=none:pools=1', '-tag:v', 'hvc1']
      : ['-g', '20', '-bf', '2', '-sc_threshold', '0']),
    out,
  ]);
  return out;
}

/** readNumber is run in the page: the number that the picture on the screen carries; -1: none. */
export function readNumber(): number {
  const shown = document.querySelector<HTMLCanvasElement>('.stage > canvas');
  const canvas = document.createElement('canvas');
  const context = canvas.getContext('2d', { willReadFrequently: true });
  if (!shown || !context || shown.width < 16) return -1;
  [canvas.width, canvas.height] = [shown.width, shown.height];
  context.drawImage(shown, 0, 0);
  let n = 0;
  for (let b = 0; b < 16; b++) {
    const x = Math.floor(((b + 0.5) * canvas.width) / 16);
    if (context.getImageData(x, canvas.height >> 1, 1, 1).data[0]! > 128) n += 2 ** b;
  }
  return n;
}

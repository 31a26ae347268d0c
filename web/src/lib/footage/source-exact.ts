// Pictures by WebCodecs: the file is read in ranges as they are needed, decoding
// begins at the key frame before, and every picture on the way is kept, so that
// the next steps in either direction find theirs waiting.
import { ALL_FORMATS, Input, UrlSource, VideoSampleSink, type VideoSample } from 'mediabunny';
import { PictureCache } from './cache';
import { PictureError, type FramePicture, type FrameSource, type SourceFile } from './source';
import type { ClipTimes } from './times';

/** So many pictures are made ready beyond the one that is shown, in the direction of travel. */
const aheadFrames = 24;
/** A file that does not answer is asked again after these. */
const againS = [0.2, 0.5, 1, 2];

interface Opened {
  input: Input;
  sink: VideoSampleSink;
}

interface Waiting {
  done: (picture: FramePicture) => void;
  failed: (why: unknown) => void;
}

export class ExactSource implements FrameSource {
  readonly way = 'exact';
  readonly cache: PictureCache;
  #files = new Map<number, Promise<Opened>>();
  #waiting = new Map<number, Waiting[]>();
  #asked = 0;
  #direction = 1;
  #running = false;
  #closed = false;

  constructor(
    private readonly files: readonly SourceFile[],
    private readonly times: ClipTimes,
    mostBytes = 400e6,
  ) {
    this.cache = new PictureCache(mostBytes);
  }

  picture(frame: number): Promise<FramePicture> {
    if (this.#closed) return Promise.reject(new PictureError('closed'));
    if (frame !== this.#asked) this.#direction = frame < this.#asked ? -1 : 1;
    this.#asked = frame;
    const found = this.cache.get(frame);
    const picture = found
      ? Promise.resolve<FramePicture>(found)
      : new Promise<FramePicture>((done, failed) => {
          const waiting = this.#waiting.get(frame) ?? [];
          waiting.push({ done, failed });
          this.#waiting.set(frame, waiting);
        });
    void this.#run();
    return picture;
  }

  close(): void {
    this.#closed = true;
    for (const [frame] of [...this.#waiting]) this.#fail(frame, new PictureError('closed'));
    for (const opened of this.#files.values())
      opened.then(
        (o) => o.input.dispose(),
        () => undefined,
      );
    this.#files.clear();
    this.cache.clear();
  }

  #open(chapter: number): Promise<Opened> {
    const known = this.#files.get(chapter);
    if (known) return known;
    const opened = open(this.files[chapter]?.url ?? '');
    this.#files.set(chapter, opened);
    opened.catch(() => this.#files.delete(chapter)); // found again meanwhile
    return opened;
  }

  /** next is the frame from which to decode now: what is waited for first, then what will be. */
  #next(): number | undefined {
    if (this.#waiting.has(this.#asked)) return this.#asked;
    for (const [frame] of this.#waiting) return frame;
    const room = Math.floor(this.cache.room(1280, 720) / 3);
    for (let n = 1; n <= Math.min(aheadFrames, room); n++) {
      const f = this.#asked + n * this.#direction;
      if (f < 0 || f >= this.times.count) return undefined;
      if (!this.cache.has(f)) return f;
    }
    return undefined;
  }

  async #run(): Promise<void> {
    if (this.#running) return;
    this.#running = true;
    try {
      for (let next = this.#next(); next !== undefined && !this.#closed; next = this.#next()) {
        const waited = this.#waiting.has(next);
        try {
          await this.#decode(next);
        } catch (e) {
          if (this.#closed) return;
          this.#fail(next, e);
          if (!waited) return; // what was only made ready is told when it is asked for
        }
      }
    } finally {
      this.#running = false;
    }
  }

  /** decode makes the pictures from the key frame before the frame to a little beyond it. */
  async #decode(frame: number): Promise<void> {
    const { chapter } = this.times.chapterOf(frame);
    const [from, to] = this.times.framesOf(chapter);
    const { sink } = await this.#open(chapter);
    let f = this.times.keyBefore(frame);
    // Of a long group only the end is kept: the cache would lose its beginning again.
    f = Math.max(f, from, frame - Math.floor(this.cache.room(1280, 720) / 3));
    const slack = this.times.intervalOf(f) / 4;
    const samples = sink.samples(this.times.chapterOf(f).ptsS - slack);
    try {
      for await (const sample of samples) {
        try {
          f = this.#frameOf(sample, f, to);
          if (f < 0 || this.#closed) break;
          await this.#keep(f, sample);
        } finally {
          sample.close();
        }
        f++;
        if (f >= to || this.#enough(frame, f)) break;
      }
    } finally {
      await samples.return();
    }
    if (this.#waiting.has(frame) && !this.#closed) throw new PictureError('other');
  }

  /** frameOf finds which frame the picture is by its time, from the one that is expected on; -1: none that is known. */
  #frameOf(sample: VideoSample, expected: number, to: number): number {
    for (let f = expected; f < to; f++) {
      const off = sample.timestamp - this.times.chapterOf(f).ptsS;
      if (Math.abs(off) < this.times.intervalOf(f) / 2) return f;
      if (off < 0) return -1;
    }
    return -1;
  }

  async #keep(frame: number, sample: VideoSample): Promise<void> {
    if (this.cache.has(frame) && !this.#waiting.has(frame)) return;
    const bitmap = await bitmapOf(sample);
    if (this.#closed) {
      bitmap.close();
      return;
    }
    this.cache.put(frame, bitmap);
    const waiting = this.#waiting.get(frame);
    this.#waiting.delete(frame);
    for (const w of waiting ?? []) w.done(bitmap);
  }

  /** enough tells whether to stop before frame f: something else is waited for, or enough is ready. */
  #enough(wanted: number, f: number): boolean {
    if (this.#waiting.has(wanted)) return false;
    for (const [other] of this.#waiting) if (other < f || other > f + aheadFrames) return true;
    if (this.#waiting.size > 0) return false;
    if (this.#direction < 0) return f > this.#asked || this.cache.has(f);
    return f > this.#asked + aheadFrames;
  }

  #fail(frame: number, why: unknown): void {
    const waiting = this.#waiting.get(frame);
    this.#waiting.delete(frame);
    for (const w of waiting ?? []) w.failed(why instanceof PictureError ? why : new PictureError('lost', String(why)));
  }
}

async function open(url: string): Promise<Opened> {
  const source = new UrlSource(url, {
    maxCacheSize: 16 << 20,
    getRetryDelay: (attempts) => againS[attempts] ?? null,
  });
  const input = new Input({ formats: ALL_FORMATS, source });
  try {
    const track = await input.getPrimaryVideoTrack();
    if (!track) throw new PictureError('undecodable');
    if (!(await track.canDecode())) throw new PictureError('undecodable');
    return { input, sink: new VideoSampleSink(track) };
  } catch (e) {
    input.dispose();
    throw e;
  }
}

/** bitmapOf copies the picture, upright, so that the decoder gets its own back. */
async function bitmapOf(sample: VideoSample): Promise<ImageBitmap> {
  if (sample.rotation === 0 && !sample.flip) {
    const frame = sample.toVideoFrame();
    try {
      return await createImageBitmap(frame);
    } finally {
      frame.close();
    }
  }
  const canvas = new OffscreenCanvas(sample.displayWidth, sample.displayHeight);
  const context = canvas.getContext('2d');
  if (!context) throw new PictureError('undecodable');
  sample.draw(context, 0, 0);
  return canvas.transferToImageBitmap();
}

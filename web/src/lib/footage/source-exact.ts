// Pictures by WebCodecs: the file is read in ranges as they are needed, decoding
// begins at the key frame before, and every picture on the way is kept, so that
// the next steps in either direction find theirs waiting.
import { ALL_FORMATS, Input, UrlSource, VideoSampleSink, type VideoSample } from 'mediabunny';
import { PictureCache } from './cache';
import { PictureError, type FramePicture, type FrameSource, type SourceFile } from './source';
import type { ClipTimes } from './times';

/** So many pictures are made ready beyond the one that is shown, in the direction of travel. */
const aheadFrames = 24;
/** So many before a frame that was jumped to are kept, for a step back. */
const behindFrames = 3;
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
  /** The frame that is looked at, and where the looking goes. */
  #asked = 0;
  #direction = 1;
  #size: [number, number] = [1280, 720];
  /** A frame that could not be made ready; not tried again until something else is asked. */
  #barren = -1;
  #running = false;
  #closed = false;
  /** Wakes the decoder that has done enough. */
  #moved: () => void = () => undefined;

  constructor(
    private readonly files: readonly SourceFile[],
    private readonly times: ClipTimes,
    mostBytes = 400e6,
  ) {
    this.cache = new PictureCache(mostBytes);
  }

  picture(frame: number): Promise<FramePicture> {
    if (frame !== this.#asked) this.#direction = frame < this.#asked ? -1 : 1;
    this.#asked = frame;
    return this.#wait(frame);
  }

  peek(frame: number, signal?: AbortSignal): Promise<FramePicture> {
    if (signal?.aborted) return Promise.reject(new PictureError('closed'));
    signal?.addEventListener('abort', () => frame !== this.#asked && this.#fail(frame, new PictureError('closed')));
    return this.#wait(frame);
  }

  #wait(frame: number): Promise<FramePicture> {
    if (this.#closed) return Promise.reject(new PictureError('closed'));
    this.#barren = -1;
    const found = this.cache.get(frame);
    const picture = found
      ? Promise.resolve<FramePicture>(found)
      : new Promise<FramePicture>((done, failed) => {
          const waiting = this.#waiting.get(frame) ?? [];
          waiting.push({ done, failed });
          this.#waiting.set(frame, waiting);
        });
    this.#moved();
    void this.#run();
    return picture;
  }

  close(): void {
    this.#closed = true;
    this.#moved();
    for (const frame of [...this.#waiting.keys()]) this.#fail(frame, new PictureError('closed'));
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

  /** ahead is how many pictures are made ready. */
  get #ahead(): number {
    return Math.min(aheadFrames, Math.floor(this.cache.room(...this.#size) / 3));
  }

  /** urgent is the frame that somebody waits for: the one that is looked at first. */
  get #urgent(): number | undefined {
    if (this.#waiting.has(this.#asked)) return this.#asked;
    for (const frame of this.#waiting.keys()) return frame;
    return undefined;
  }

  /** next is the frame to be decoded now: what is waited for, then what will be. */
  #next(): number | undefined {
    if (this.#urgent !== undefined) return this.#urgent;
    for (let n = 1; n <= this.#ahead; n++) {
      const f = this.#asked + n * this.#direction;
      if (f < 0 || f >= this.times.count || f === this.#barren) return undefined;
      if (!this.cache.has(f)) return f;
    }
    return undefined;
  }

  async #run(): Promise<void> {
    if (this.#running) return;
    this.#running = true;
    for (let next = this.#next(); next !== undefined && !this.#closed; next = this.#next()) {
      try {
        await this.#decode(next);
        if (this.#waiting.has(next) && this.#urgent === next) throw new PictureError('other');
      } catch (e) {
        this.#fail(next, e);
      }
      // What was only to be made ready is told when it is asked for.
      if (!this.cache.has(next)) this.#barren = next;
    }
    this.#running = false;
  }

  /** worth tells whether a picture on the way is kept. */
  #worth(f: number): boolean {
    if (this.#waiting.has(f)) return true;
    if (this.cache.has(f)) return false;
    const by = (f - this.#asked) * this.#direction;
    return by >= -behindFrames && by <= this.#ahead;
  }

  /** decode makes the pictures from the key frame before the frame on, as far as they are of use. */
  async #decode(frame: number): Promise<void> {
    const { chapter } = this.times.chapterOf(frame);
    const to = this.times.framesOf(chapter)[1];
    const { sink } = await this.#open(chapter);
    let f = this.times.keyBefore(frame);
    // A little within the frame's time, against rounding: what stands at that moment comes first.
    const samples = sink.samples(this.times.chapterOf(f).ptsS + this.times.intervalOf(f) / 4);
    const later: [number, VideoSample][] = [];
    try {
      for await (const sample of samples) {
        const at = this.#frameOf(sample, f, to);
        if (at < 0 || this.#closed || !this.#worth(at)) sample.close();
        // Those just before the one that is waited for are copied after it.
        else if (at < frame && this.#waiting.has(frame) && !this.#waiting.has(at)) later.push([at, sample]);
        else await this.#keep(at, sample);
        if (later.length > 0 && (!this.#waiting.has(frame) || later.length > behindFrames))
          await this.#keep(...later.shift()!);
        if (at < 0) break;
        f = at + 1;
        if (f >= to || !(await this.#goOn(frame, f))) break;
      }
      for (const [at, sample] of later.splice(0)) await this.#keep(at, sample);
    } finally {
      for (const [, sample] of later) sample.close();
      await samples.return();
    }
  }

  /** goOn tells whether frame f is decoded too; where enough is ready it waits until more is of use. */
  async #goOn(wanted: number, f: number): Promise<boolean> {
    for (;;) {
      if (this.#closed) return false;
      const urgent = this.#urgent;
      if (urgent !== undefined) return urgent >= f && (urgent === wanted || urgent <= f + this.#ahead);
      if (f <= wanted && !this.cache.has(wanted)) return true;
      if (this.#direction < 0) return f < this.#asked && !this.cache.has(f);
      if (f <= this.#asked) return false;
      if (f <= this.#asked + this.#ahead) return true;
      await new Promise<void>((moved) => (this.#moved = moved));
      this.#moved = () => undefined;
    }
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

  /** keep copies the picture, and lets the decoder have its own back. */
  async #keep(frame: number, sample: VideoSample): Promise<void> {
    try {
      const bitmap = await bitmapOf(sample);
      if (this.#closed) return bitmap.close();
      this.#size = [bitmap.width, bitmap.height];
      this.cache.put(frame, bitmap);
      const waiting = this.#waiting.get(frame);
      this.#waiting.delete(frame);
      for (const w of waiting ?? []) w.done(bitmap);
    } finally {
      sample.close();
    }
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

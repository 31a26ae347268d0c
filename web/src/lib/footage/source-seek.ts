// Where the browser does not give pictures one by one, its own player is set to
// the middle of the frame's time and what it shows is copied. It may show a frame
// beside the one that was asked for, and it does not say which.
import { PictureError, type FramePicture, type FrameSource, type SourceFile } from './source';
import type { ClipTimes } from './times';

const patienceMs = 8000;

export class SeekSource implements FrameSource {
  readonly way = 'seek';
  #video: HTMLVideoElement | undefined;
  #chapter = -1;
  #copy = document.createElement('canvas');
  #turn: Promise<unknown> = Promise.resolve();
  #closed = false;

  constructor(
    private readonly files: readonly SourceFile[],
    private readonly times: ClipTimes,
  ) {}

  picture(frame: number): Promise<FramePicture> {
    const next = this.#turn.then(() => this.#picture(frame));
    this.#turn = next.catch(() => undefined);
    return next;
  }

  peek(frame: number, signal?: AbortSignal): Promise<FramePicture> {
    const next = this.#turn.then(() => {
      if (signal?.aborted) throw new PictureError('closed');
      return this.#picture(frame);
    });
    this.#turn = next.catch(() => undefined);
    return next;
  }

  async #picture(frame: number): Promise<FramePicture> {
    if (this.#closed) throw new PictureError('closed');
    const { chapter, ptsS } = this.times.chapterOf(frame);
    const video = await this.#open(chapter);
    video.currentTime = ptsS + this.times.intervalOf(frame) / 2;
    await event(video, 'seeked');
    this.#copy.width = video.videoWidth;
    this.#copy.height = video.videoHeight;
    const context = this.#copy.getContext('2d');
    if (!context) throw new PictureError('undecodable');
    context.drawImage(video, 0, 0);
    return this.#copy;
  }

  async #open(chapter: number): Promise<HTMLVideoElement> {
    if (this.#video && this.#chapter === chapter) return this.#video;
    this.#leave();
    const video = document.createElement('video');
    video.muted = true;
    video.preload = 'auto';
    video.src = this.files[chapter]?.url ?? '';
    this.#video = video;
    this.#chapter = chapter;
    await event(video, 'loadeddata');
    return video;
  }

  #leave(): void {
    this.#video?.removeAttribute('src');
    this.#video?.load(); // lets go of the file
    this.#video = undefined;
  }

  close(): void {
    this.#closed = true;
    this.#leave();
  }
}

function event(video: HTMLVideoElement, name: string): Promise<void> {
  return new Promise((done, failed) => {
    const end = (act: () => void) => () => {
      clearTimeout(timer);
      video.removeEventListener(name, yes);
      video.removeEventListener('error', no);
      act();
    };
    const yes = end(done);
    const no = end(() => failed(new PictureError(video.error?.code === 4 ? 'undecodable' : 'lost')));
    const timer = setTimeout(no, patienceMs);
    video.addEventListener(name, yes);
    video.addEventListener('error', no);
  });
}

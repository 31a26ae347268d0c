// Pictures of a clip by the number of the frame. They are asked for by the exact
// time that the file gives for that frame, and what comes is checked against it:
// a picture of another frame is never shown under this one's number.
import type { Clip, FootageProgram } from '$lib/api/footage';
import type { ClipTimes } from './times';

export type FramePicture = CanvasImageSource & { width: number; height: number };

export interface FrameSource {
  /** picture is that of the frame, upright. It stays whole until pictures of some other frames were asked for: draw it at once. */
  picture(frame: number): Promise<FramePicture>;
  /** peek is a picture beside the one that is looked at, such as a small one in a row: it waits its turn. */
  peek(frame: number, signal?: AbortSignal): Promise<FramePicture>;
  close(): void;
  /** exact: each picture is checked to be that of its frame. seek: the browser's own player was asked for it. */
  readonly way: 'exact' | 'seek';
}

export class PictureError extends Error {
  constructor(
    readonly why: 'lost' | 'other' | 'undecodable' | 'closed',
    message = why as string,
  ) {
    super(message);
    this.name = 'PictureError';
  }
}

/** A file that is read: the chapter, and whether its small copy stands in for it. */
export interface SourceFile {
  url: string;
  chapter: number;
}

/** filesOf says which files are read: the small copies where they are ready, else the recordings themselves. */
export const filesOf = (program: Pick<FootageProgram, 'media'>, clip: Clip): SourceFile[] =>
  clip.chapters.map((c, chapter) => ({
    chapter,
    url: program.media(clip.clip, chapter, c.proxy.state === 'ready'),
  }));

/** canDecode tells whether this browser gives pictures one by one. Without a secure address it does not. */
export const canDecode = (): boolean => typeof VideoDecoder === 'function' && typeof createImageBitmap === 'function';

/** openSource opens a clip for looking at its frames; what decodes is loaded when it is needed first. */
export async function openSource(
  program: Pick<FootageProgram, 'media'>,
  clip: Clip,
  times: ClipTimes,
): Promise<FrameSource> {
  const files = filesOf(program, clip);
  if (!canDecode()) return new (await import('./source-seek')).SeekSource(files, times);
  return new (await import('./source-exact')).ExactSource(files, times);
}

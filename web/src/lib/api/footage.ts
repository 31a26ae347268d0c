// What the page Footage asks of the program: clips, cameras, and what was
// measured in them.
import { client, read } from './client';
import type { components } from './schema';

type Schemas = components['schemas'];

export type Footage = Schemas['FootageView'];
export type MediaTools = Schemas['MediaTools'];
export type Clip = Schemas['FootageClip'];
export type Chapter = Schemas['FootageChapter'];
export type MediaProxy = Schemas['MediaProxy'];
export type Job = Schemas['FootageJob'];
export type CameraSpec = Schemas['Camera'];
export type Port = Schemas['Port'];
export type FootageCamera = Schemas['FootageCamera'];
export type Sync = Schemas['FootageSync'];
export type SyncEvent = Schemas['FootageEvent'];
export type PoseSpec = Schemas['FootagePoseSpec'];
export type Pose = Schemas['FootagePose'];
export type PoseMark = Schemas['FootagePoseMark'];
export type KnownMark = Schemas['FootageKnownMark'];
export type Poses = Schemas['FootagePoses'];
export type ListedPass = Schemas['FootagePass'];
export type HeightClass = Schemas['FootageHeightClass'];
export type Heights = Schemas['FootageHeights'];
export type Fix = Schemas['FootageFix'];
export type Located = Schemas['FootageLocated'];
export type MeasuredPass = Schemas['FootagePassView'];
export type Frames = Schemas['FootageFrames'];
export type ChapterFrames = Schemas['FootageChapterFrames'];
export type Look = Schemas['FootageLook'];
export type LookFile = Schemas['FootageFile'];
export type ImportRequest = Schemas['FootageImportRequest'];
export type SyncRequest = Schemas['FootageSyncRequest'];
export type PoseRequest = Schemas['FootagePoseRequest'];
export type CameraRequest = Schemas['FootageCameraRequest'];
export type FixesRequest = Schemas['FootageFixesRequest'];

/** FootageProgram asks about the footage of one study. */
export interface FootageProgram {
  view(): Promise<Footage>;
  pass(pass: string): Promise<MeasuredPass>;
  frames(clip: string): Promise<Frames>;
  look(folder: string): Promise<Look>;
  bring(body: ImportRequest): Promise<Footage>;
  stop(job: string): Promise<Footage>;
  proxy(clip: string): Promise<Footage>;
  find(clip: string, path: string): Promise<Footage>;
  sync(body: SyncRequest): Promise<Clip>;
  poses(body: PoseRequest): Promise<Poses>;
  camera(body: CameraRequest): Promise<Footage>;
  fixes(body: FixesRequest, signal?: AbortSignal): Promise<MeasuredPass>;
  /** The address of a chapter's picture, which answers ranges of bytes. */
  media(clip: string, chapter: number, proxy: boolean): string;
  /** Where a file is sent, whole, as the body of a POST; it answers {"token": name for bring}. */
  upload(name: string): string;
}

export const footageProgramOf = (study: string): FootageProgram => {
  const at = { path: { study } };
  const of = { params: at };
  const below = (...parts: string[]): string => ['', ...parts].map(encodeURIComponent).join('/');
  return {
    view: () => read(client.GET('/api/studies/{study}/footage', of)),
    pass: (pass) => read(client.GET('/api/studies/{study}/footage/pass', { params: { ...at, query: { pass } } })),
    frames: (clip) => read(client.GET('/api/studies/{study}/footage/frames', { params: { ...at, query: { clip } } })),
    look: (folder) => read(client.POST('/api/studies/{study}/footage/look', { ...of, body: { folder } })),
    bring: (body) => read(client.POST('/api/studies/{study}/footage/import', { ...of, body })),
    stop: (job) => read(client.POST('/api/studies/{study}/footage/stop', { ...of, body: { job } })),
    proxy: (clip) => read(client.POST('/api/studies/{study}/footage/proxy', { ...of, body: { clip } })),
    find: (clip, path) => read(client.POST('/api/studies/{study}/footage/find', { ...of, body: { clip, path } })),
    sync: (body) => read(client.POST('/api/studies/{study}/footage/sync', { ...of, body })),
    poses: (body) => read(client.POST('/api/studies/{study}/footage/poses', { ...of, body })),
    camera: (body) => read(client.POST('/api/studies/{study}/footage/camera', { ...of, body })),
    fixes: (body, signal) =>
      read(client.POST('/api/studies/{study}/footage/fixes', { ...of, body, ...(signal ? { signal } : {}) })),
    media: (clip, chapter, proxy) => `${below('media', study, clip, String(chapter))}${proxy ? '?proxy=1' : ''}`,
    upload: (name) => `${below('upload', study)}?name=${encodeURIComponent(name)}`,
  };
};

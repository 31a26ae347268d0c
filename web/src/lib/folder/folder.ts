// A season folder as the browser hands it over: by dropping it, or by choosing
// it. Only study.toml and the tables at its top are taken; the rest is named.

export interface Folder {
  name: string;
  files: File[];
  /** What was not taken: files by name, folders with a closing stroke. */
  leftOut: string[];
}

/** A reason for people why a folder could not be taken. */
export class FolderError extends Error {
  constructor(
    readonly kind: 'not-one' | 'unreadable' | 'empty' | 'too-large',
    /** The folder or file that it is about. */
    readonly about: string,
    readonly bytes = 0,
  ) {
    super(`${kind}: ${about}`);
    this.name = 'FolderError';
  }
}

export const belongsToSeason = (name: string): boolean => name === 'study.toml' || name.endsWith('.csv');

/** ofChosen sorts what a folder input holds: every file below the folder, with its path. */
export function ofChosen(list: Iterable<File>): Folder {
  const files: File[] = [];
  const leftOut = new Set<string>();
  let folder = '';
  for (const file of list) {
    const [top = '', ...path] = file.webkitRelativePath.split('/');
    folder = top;
    if (path.length > 1) leftOut.add(`${path[0]}/`);
    else if (belongsToSeason(file.name)) files.push(file);
    else leftOut.add(file.name);
  }
  return complete(folder, files, leftOut);
}

/** What ofDropped needs of a dropped thing; entries are to be taken from it before anything is awaited. */
export type Entry = FileSystemEntry;

/** ofDropped reads one dropped folder, or loose files as the top of one. */
export async function ofDropped(entries: Entry[]): Promise<Folder> {
  const folders = entries.filter((e) => e.isDirectory) as FileSystemDirectoryEntry[];
  if (entries.length === 0 || folders.length > 1 || (folders.length === 1 && entries.length > 1))
    throw new FolderError('not-one', '');
  const inside = folders[0] ? await children(folders[0]) : entries;
  const files: File[] = [];
  const leftOut = new Set<string>();
  for (const entry of inside) {
    if (entry.isDirectory) leftOut.add(`${entry.name}/`);
    else if (belongsToSeason(entry.name)) files.push(await fileOf(entry as FileSystemFileEntry));
    else leftOut.add(entry.name);
  }
  return complete(folders[0]?.name ?? '', files, leftOut);
}

function complete(name: string, files: File[], leftOut: Set<string>): Folder {
  if (files.length === 0) throw new FolderError('empty', name);
  const byName = (a: string, b: string) => (a < b ? -1 : a > b ? 1 : 0);
  files.sort((a, b) => byName(a.name, b.name));
  return { name, files, leftOut: [...leftOut].sort(byName) };
}

/** A reader hands over a folder in parts; an empty part is the end. */
async function children(folder: FileSystemDirectoryEntry): Promise<FileSystemEntry[]> {
  const reader = folder.createReader();
  const all: FileSystemEntry[] = [];
  for (;;) {
    const part = await new Promise<FileSystemEntry[]>((done, failed) =>
      reader.readEntries(done, () => failed(new FolderError('unreadable', folder.name))),
    );
    if (part.length === 0) return all;
    all.push(...part);
  }
}

const fileOf = (entry: FileSystemFileEntry): Promise<File> =>
  new Promise((done, failed) => entry.file(done, () => failed(new FolderError('unreadable', entry.name))));

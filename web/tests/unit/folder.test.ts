import { describe, expect, test } from 'vitest';
import { FolderError, ofChosen, ofDropped, type Entry } from '$lib/folder/folder';
import { encode, largestBytes, planRequest } from '$lib/folder/upload';

const chosen = (path: string, text = '') => {
  const file = new File([text], path.split('/').at(-1)!);
  Object.defineProperty(file, 'webkitRelativePath', { value: path });
  return file;
};

/** A dropped file or folder as the File and Directory Entries API hands it over, in parts of two. */
function dropped(name: string, inside?: Entry[]): Entry {
  const entry = {
    name,
    isFile: !inside,
    isDirectory: !!inside,
    file: (done: (f: File) => void, failed: () => void) =>
      name.startsWith('locked') ? failed() : done(new File(['x'], name)),
    createReader: () => {
      let from = 0;
      return {
        readEntries: (done: (e: Entry[]) => void) => {
          done(inside!.slice(from, from + 2));
          from += 2;
        },
      };
    },
  };
  return entry as unknown as Entry;
}

describe('a chosen folder', () => {
  test('its top is taken, the rest is named', () => {
    const folder = ofChosen([
      chosen('bay/trials.csv'),
      chosen('bay/study.toml'),
      chosen('bay/notes.docx'),
      chosen('bay/clips/a.mp4'),
      chosen('bay/clips/passes.csv'),
    ]);
    expect(folder.name).toBe('bay');
    expect(folder.files.map((f) => f.name)).toEqual(['study.toml', 'trials.csv']);
    expect(folder.leftOut).toEqual(['clips/', 'notes.docx']);
  });
  test('a folder without a season is refused by name', () =>
    expect(() => ofChosen([chosen('holiday/a.jpg')])).toThrowError(new FolderError('empty', 'holiday')));
});

describe('a dropped folder', () => {
  const season = [
    dropped('study.toml'),
    dropped('passes.csv'),
    dropped('clips', []),
    dropped('a.txt'),
    dropped('trials.csv'),
  ];
  test('is read to its end, however many parts it comes in', async () => {
    const folder = await ofDropped([dropped('bay', season)]);
    expect(folder.files.map((f) => f.name)).toEqual(['passes.csv', 'study.toml', 'trials.csv']);
    expect(folder.leftOut).toEqual(['a.txt', 'clips/']);
  });
  test('loose files are the top of a folder', async () =>
    expect((await ofDropped([dropped('study.toml'), dropped('passes.csv')])).files).toHaveLength(2));
  test.each([
    ['nothing', []],
    ['two folders', [dropped('a', season), dropped('b', season)]],
    ['a folder beside a file', [dropped('a', season), dropped('study.toml')]],
  ])('%s is not one season', async (_, entries) => {
    await expect(ofDropped(entries)).rejects.toMatchObject({ kind: 'not-one' });
  });
  test('a file that cannot be read is named', async () =>
    expect(ofDropped([dropped('bay', [dropped('locked.csv')])])).rejects.toMatchObject({
      kind: 'unreadable',
      about: 'locked.csv',
    }));
});

describe('the request that carries the files', () => {
  // Sizes round the piece that is read at once (768 KiB): its end, and every remainder of 3.
  const sizes = [0, 1, 2, 3, 786_431, 786_432, 786_433, 1_700_000];
  test('decodes to the same bytes, as Node decodes base64', async () => {
    const files = sizes.map((n, i) => new File([bytesOf(n)], `t${i}"ø.csv`));
    const shares: number[] = [];
    const parts = await encode(files, (done, total) => shares.push(done / total));
    const body = JSON.parse(await planRequest('Bay "2025"', parts).text()) as {
      study: string;
      files: { name: string; data: string }[];
    };
    expect(body.study).toBe('Bay "2025"');
    expect(body.files.map((f) => f.name)).toEqual(files.map((f) => f.name));
    for (const [i, f] of body.files.entries())
      expect(Buffer.compare(Buffer.from(f.data, 'base64'), Buffer.from(bytesOf(sizes[i]!))), `${sizes[i]} bytes`).toBe(
        0,
      );
    expect(shares.at(-1)).toBe(1);
    expect(shares).toEqual([...shares].sort((a, b) => a - b));
  });
  test('more than the program takes is refused before anything is read', async () => {
    const file = new File([], 'tracks.csv');
    Object.defineProperty(file, 'size', { value: largestBytes + 1 });
    await expect(encode([file], () => {})).rejects.toMatchObject({ kind: 'too-large', bytes: largestBytes + 1 });
  });
  test('a file that changed while it was read is named', async () => {
    const file = new File(['abc'], 'passes.csv');
    Object.defineProperty(file, 'size', { value: 10 });
    await expect(encode([file], () => {})).rejects.toMatchObject({ kind: 'unreadable', about: 'passes.csv' });
  });
  test('stops when it is told to', async () => {
    const stop = new AbortController();
    const files = [new File([bytesOf(3_000_000)], 'tracks.csv')];
    let pieces = 0;
    const reading = encode(
      files,
      () => {
        pieces++;
        stop.abort();
      },
      stop.signal,
    );
    await expect(reading).rejects.toThrow();
    expect(pieces).toBe(1);
  });
});

function bytesOf(n: number): Uint8Array<ArrayBuffer> {
  const bytes = new Uint8Array(n);
  for (let i = 0; i < n; i++) bytes[i] = (i * 197 + (i >> 8)) & 255;
  return bytes;
}

import { describe, expect, test } from 'vitest';
import { checkLog, describe as inWords } from '$lib/offline/chain';
import { noHead, parse, seal, textOf, type Draft, type Entry } from '$lib/offline/entry';
import { merge } from '$lib/offline/merge';
import { readLog, saveLog } from '$lib/offline/log-file';
import { makeBlob, makeText } from '$lib/offline/hash';
import { draft, FakeLog, headAt, sealed } from './offline-log';
import { random } from './offline-random';

const chance = new Uint8Array(10);

describe('an entry', () => {
  const stamp = { wallMs: 1939204800000, monotonicUS: 1, run: 'run', random: chance };
  const full: Draft = { kind: 'track', subject: 'P1', act: 'correct', body: { fields: { note: 'a' } } };
  // Each as in TestSealRefuses of core/journal/canonical_test.go.
  test.each<[string, Partial<Draft>, RegExp]>([
    ['no kind', { kind: '' }, /needs a kind/],
    ['unknown act', { act: 'erase' as 'remove' }, /is no act/],
    ['corrects nothing', { body: {} }, /changes nothing/],
    ['was in a record', { act: 'record', body: { fields: { a: 'b' }, was: { a: '' } } }, /Only a correction/],
    ['removal with fields', { act: 'remove' }, /holds no values/],
    ['removal with a table', { act: 'remove', body: { table: { columns: [], rows: [] } } }, /holds no values/],
    ['blank in a record', { act: 'record', body: { fields: { note: '' } } }, /is blank/],
    ['nameless field', { body: { fields: { '': 'a' } } }, /must not be empty/],
    ['half a character', { subject: 'a\ud800' }, /half a character/],
    ['half a character in a field', { body: { fields: { note: '\udc00' } } }, /whole text/],
    ['a number in a field', { body: { fields: { note: 6 as unknown as string } } }, /whole text/],
    ['nameless column', { body: { table: { columns: ['t_s', ''], rows: [] } } }, /column/],
    ['a number for a column', { body: { table: { columns: [1 as unknown as string], rows: [] } } }, /column/],
    [
      'ragged table',
      { body: { table: { columns: ['t_s', 'x_cm'], rows: [['0', '1'], ['0']] } } },
      /Row 2 of the table has 1 cells/,
    ],
    ['record, empty table', { act: 'record', body: { table: { columns: [], rows: [] } } }, /needs columns/],
  ])('%s is refused', async (_name, change, want) => {
    await expect(seal(noHead, 'deck', { ...full, ...change }, stamp)).rejects.toThrow(want);
  });

  test.each([
    [{ run: '' }, /run of the program/],
    [{ monotonicUS: -1 }, /whole number from 0/],
    [{ monotonicUS: 2 ** 53 }, /whole number from 0/],
    [{ wallMs: -1 }, /clock/],
    [{ wallMs: Date.UTC(10000, 0) }, /1970 to 9999/],
  ])('stamp %o is refused', async (change, want) => {
    await expect(seal(noHead, 'deck', full, { ...stamp, ...change })).rejects.toThrow(want);
    await expect(seal(noHead, '', full, stamp)).rejects.toThrow(/needs a device/);
  });

  test('reads back only from its one form', async () => {
    const { text, entry } = await seal(noHead, 'deck', full, stamp);
    expect(textOf(entry)).toBe(text);
    for (const other of [
      text + ' ',
      text.replace(',"device"', ', "device"'),
      text.replace('"seq":1', '"seq":1.0'),
      text.replace('"seq":1', '"seq":"1"'),
      text.replace('{"act":"correct",', '{"act":"correct","act":"correct",'),
      text.replace('"body":{', '"body":{"extra":1,'),
      text.replace('"a"}', '"\\u0061"}'),
      text.replace('.000Z', '.000+00:00'),
      text.replace('.000Z', 'Z'),
      text.slice(0, -1),
      'null',
      '[]',
      '',
    ])
      expect(() => parse(other), other).toThrow(/canonical/);
  });

  test('keeps nothing of the draft', async () => {
    const d: Draft = { ...full, body: { fields: { note: 'a' }, table: { columns: ['t_s'], rows: [['0']] } } };
    const { entry, text } = await seal(noHead, 'deck', d, stamp);
    d.body.fields!.note = 'scribbled';
    d.body.table!.rows[0]![0] = 'scribbled';
    expect(textOf(entry as Entry)).toBe(text);
  });
});

describe('a log', () => {
  test('says which entry is wrong, and keeps the other devices', async () => {
    const a = await sealed('a', 6);
    const b = await sealed('b', 4);
    const lines = [...a.slice(0, 3), ...b.slice(0, 2), ...a.slice(3), ...b.slice(2)];
    const changed = lines.map((l, i) => (i === 5 ? { ...l, text: l.text.replace('"no"', '"yes"') } : l));
    const c = await checkLog(changed);
    expect(c.faults.map(inWords)).toEqual([
      'line 6: the journal of device a breaks at entry 4: its text was changed (its hash is not the one that was stored)',
    ]);
    expect([...c.heads].map(([d, h]) => [d, h.seq])).toEqual([
      ['a', 3],
      ['b', 4],
    ]);
    const fault = async (l: typeof lines) => (await checkLog(l)).faults[0]?.wrong;
    expect(await fault([...a.slice(0, 2), ...a.slice(4)])).toMatch(/2 entries are missing/);
    expect(await fault([...a.slice(0, 2), a[1]!])).toMatch(/doubled/);
    expect(await fault([...a.slice(0, 2), ...(await sealed('a', 3, noHead, 'x')).slice(2)])).toMatch(/not the one/);
    expect((await checkLog(a.slice(3), new Map([['a', headAt(a[2]!)]]))).faults).toEqual([]);
  });
});

describe('two copies', () => {
  test('give every entry that one of them has whole, whatever is wrong with the other', async () => {
    const { next } = random(11);
    const all = [...(await sealed('a', 8)), ...(await sealed('b', 5))];
    for (let round = 0; round < 60; round++) {
      const damage = () =>
        all.flatMap((e) => {
          const what = next();
          if (what < 0.1) return [];
          return [{ text: what < 0.2 ? e.text.replace('"no"', '"ok"') : e.text, fine: what >= 0.2, e }];
        });
      const [db, copy] = [damage(), damage()];
      const m = await merge(
        db.map((l) => ({ text: l.text, hash: l.e.hash })),
        copy.map((l) => ({ text: l.text, hash: l.e.hash })),
      );
      const has = (lines: typeof db, e: (typeof all)[0]) => lines.some((l) => l.e === e && l.fine);
      // By definition: of each device all up to the first that neither has.
      const want = ['a', 'b'].flatMap((d) => {
        const chain = all.filter((e) => e.device === d);
        const end = chain.findIndex((e) => !has(db, e) && !has(copy, e));
        return end < 0 ? chain : chain.slice(0, end);
      });
      expect(m.entries.map((e) => e.text).sort()).toEqual(want.map((e) => e.text).sort());
      expect((await checkLog(m.entries)).faults).toEqual([]);
      expect(m.fromCopy).toBe(want.filter((e) => !has(db, e)).length);
      expect(m.fromDatabase).toBe(want.filter((e) => !has(copy, e)).length);
      expect(m.better).toBe(m.fromCopy ? 'copy' : m.fromDatabase ? 'database' : 'same');
    }
  });

  test('two different entries under one number: the database keeps its own, and the other one is told', async () => {
    const first = await sealed('a', 2);
    const one = await sealed('a', 2, headAt(first[1]!), 'one');
    const two = await sealed('a', 3, headAt(first[1]!), 'two');
    const m = await merge([...first, ...one], [...first, ...two]);
    expect(m.entries.map((e) => e.text)).toEqual([...first, ...one].map((e) => e.text));
    expect(m.unfit.map((u) => u.where)).toEqual(['copy', 'copy', 'copy']);
  });
});

describe('a saved log', () => {
  const made = async () => {
    const log = new FakeLog();
    const { bytes } = random(2);
    log.add(await sealed('deck-1', 5), [
      await makeBlob('photo', bytes(70_000), bytes(32)),
      await makeText('person', 'Ana, who is invented', bytes(32)),
    ]);
    return log;
  };
  const textOfFile = async (log: FakeLog) => (await saveLog(log, { savedMs: 1939204800000 })).text();
  const read = async (text: string) => readLog(new Blob([text]));

  test('reads back as it was', async () => {
    const log = await made();
    const text = await textOfFile(log);
    const back = await read(text);
    expect(back).toMatchObject({ name: log.name, device: 'deck-1', faults: [] });
    expect(back.lines.map((l) => l.text)).toEqual(log.all.map((e) => e.text));
    expect(back.blobs.map(({ kind, ref, salt, data }) => ({ kind, ref, salt, data }))).toEqual(
      [...log.blobs.values()].map(({ kind, ref, salt, data }) => ({ kind, ref, salt, data })),
    );
    // The lines that are entries are a journal.jsonl, byte for byte.
    expect(text.split('\n').filter((l) => l.startsWith('{"act":'))).toEqual(log.all.map((e) => e.text));
    const without = await readLog(await saveLog(log, { savedMs: 0, without: ['person'] }));
    expect(without.blobs.map((b) => b.kind)).toEqual(['photo']);
    expect(without.faults).toEqual([]);
  });

  test('says where it was cut off or changed, and gives what is whole', async () => {
    const lines = (await textOfFile(await made())).split('\n');
    const cut = await read(lines.slice(0, 4).join('\n'));
    expect(cut.faults).toEqual(['the file has no last line: it was cut off']);
    expect(cut.lines).toHaveLength(3);
    const changed = await read(lines.map((l, i) => (i === 3 ? l.replace('"no"', '"yes"') : l)).join('\n'));
    expect(changed.lines).toHaveLength(3);
    expect(changed.faults).toContain(
      'line 5: the journal of device deck-1 breaks at entry 4: the entry before it is not the one that it was written after',
    );
    const blob = await read(lines.map((l) => l.replace('"data":"', '"data":"AAAA')).join('\n'));
    expect(blob.blobs).toEqual([]);
    expect(blob.faults[0]).toMatch(/^line 7: the blob is not what its reference says/);
    const torn = await read(lines.map((l) => l.replace('{"blob":', '{"blob":{')).join('\n'));
    expect(torn.faults[0]).toMatch(/^line 7: /);
  });

  test('anything else is refused', async () => {
    for (const bad of ['', 'a,b\n1,2', '{}', '{"deck":{"format":"other"}}', 'null', '\xff'])
      await expect(read(bad)).rejects.toThrow(/no saved log/);
    await expect(readLog(new Blob([Uint8Array.of(0xff, 0xfe)]))).rejects.toThrow(/UTF-8/);
    const newer = '{"deck":{"device":"a","format":"brinefield deck log","name":"b","version":2}}';
    await expect(read(newer)).rejects.toThrow(/Update the program/);
  });
});

test('drafts of the tests are entries', async () => {
  await expect(
    seal(noHead, 'd', draft(1), { wallMs: 0, monotonicUS: 0, run: 'r', random: chance }),
  ).resolves.toBeTruthy();
});

// The same entries in Go and in TypeScript (core/journal/vectors_test.go).
import { readFileSync, writeFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { checkLog } from '$lib/offline/chain';
import { noHead, parse, seal, type Act, type Draft, type Head } from '$lib/offline/entry';
import { hex } from '$lib/offline/hash';
import { random } from './offline-random';

const file = (name: string) => new URL(`../../../core/journal/testdata/${name}`, import.meta.url);

interface Vector {
  device: string;
  draft: Draft;
  wall_ms: number;
  monotonic_us: number;
  run: string;
  random: string;
  canonical: string;
  hash: string;
}

/** Texts that writers of JSON treat differently, as in core/journal/helper_test.go. */
const awkward = [
  '',
  '0',
  '1e3',
  'null',
  '"',
  '\\',
  '/',
  '</script>&',
  '\u2028\u2029',
  '\x00\x01\x1f',
  '\b\t\n\f\r',
].concat([
  '\x7f\u0080',
  'é',
  'e\u0301',
  '\ufb33',
  '\ufeff',
  '\ufffd',
  '\uffff',
  '😀',
  '\u{10ffff}',
  'Cúan Mór',
  '-0',
  ' ',
  '__proto__',
]);

/** made are invented entries of two devices whose clocks stand still, run and are set back. */
async function made(): Promise<Vector[]> {
  const { integer, pick, bytes } = random(8);
  const text = () => pick(awkward) + pick(awkward);
  const some = () => pick(awkward.slice(1)) + pick(awkward);
  const fields = (value: () => string) =>
    Object.fromEntries(Array.from({ length: integer(4) }, () => [some(), value()] as const));
  const table = () => {
    const columns = Array.from({ length: 1 + integer(3) }, some);
    return { columns, rows: Array.from({ length: integer(4) }, () => columns.map(text)) };
  };
  const heads = new Map<string, Head>();
  const out: Vector[] = [];
  for (let i = 0; i < 60; i++) {
    const device = i % 2 ? 'Cúan 😀' : 'deck-1';
    const act = pick<Act>(['record', 'record', 'correct', 'remove']);
    const draft: Draft = {
      kind: some(),
      subject: text(),
      act,
      body: {},
      author: text(),
      reason: text(),
      undoes: text(),
    };
    if (act === 'record') draft.body = { fields: fields(some), ...(integer(2) ? { table: table() } : {}) };
    if (act === 'correct')
      draft.body = {
        fields: { note: '', ...fields(text) },
        was: fields(text),
        table: integer(2) ? table() : { columns: [], rows: [] },
      };
    const chance = bytes(10);
    const wallMs = [1939204800000, 1939204800000 + i * 977, 1700000000000 + i][i % 3]!;
    const s = await seal(heads.get(device) ?? noHead, device, draft, {
      wallMs,
      monotonicUS: i * 1000,
      run: 'run-1',
      random: chance,
    });
    heads.set(device, s.head);
    out.push({
      device,
      draft,
      wall_ms: wallMs,
      monotonic_us: i * 1000,
      run: 'run-1',
      random: hex(chance),
      canonical: s.text,
      hash: s.hash,
    });
  }
  return out;
}

if (process.env.BRINEFIELD_UPDATE)
  writeFileSync(file('from-typescript.json'), JSON.stringify(await made(), null, 1) + '\n');

describe.each(['from-go.json', 'from-typescript.json'])('%s', (name) => {
  const vectors = JSON.parse(readFileSync(file(name), 'utf8')) as Vector[];

  test('seals to the same bytes', async () => {
    const heads = new Map<string, Head>();
    for (const v of vectors) {
      const stamp = {
        wallMs: v.wall_ms,
        monotonicUS: v.monotonic_us,
        run: v.run,
        random: Buffer.from(v.random, 'hex'),
      };
      const s = await seal(heads.get(v.device) ?? noHead, v.device, v.draft, stamp);
      heads.set(v.device, s.head);
      expect(s.text).toBe(v.canonical);
      expect(s.hash).toBe(v.hash);
      expect(parse(s.text)).toEqual(s.entry);
    }
  });

  test('makes whole chains', async () => {
    const checked = await checkLog(vectors.map((v) => ({ text: v.canonical, hash: v.hash })));
    expect(checked.faults).toEqual([]);
    expect(checked.whole).toHaveLength(60);
    expect(checked.heads.size).toBe(2);
    expect(checked.setBack.length).toBeGreaterThan(5);
  });
});

describe('the example of docs/formats/journal.md', () => {
  const page = readFileSync(new URL('../../../docs/formats/journal.md', import.meta.url), 'utf8');
  const folder = new URL('../../../examples/02-check-a-journal/', import.meta.url);
  const lines = readFileSync(new URL('journal.jsonl', folder), 'utf8').split('\n').slice(0, -1);

  test('has the last hashes that the page names', async () => {
    const { heads, faults } = await checkLog(lines.map((text) => ({ text })));
    expect(faults).toEqual([]);
    expect([...heads.keys()].sort()).toEqual(['boat', 'lab']);
    for (const [device, head] of heads) {
      const n = head.seq === 1 ? '1 entry' : `${head.seq} entries`;
      expect(page).toContain(`${device}: ${n}, the last ${head.hash}`);
    }
  });

  test('is shown in its one form', async () => {
    const shown = /```json\n(.*)\n```/.exec(page)![1]!;
    expect(parse(shown).body.fields).toEqual({ onset_s: '0.52', turned: 'yes' });
    expect(lines).toContain(shown);
  });
});

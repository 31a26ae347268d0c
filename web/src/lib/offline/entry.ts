// Entries of the journal (docs/formats/journal.md) as a tablet writes and reads
// them. What core/journal refuses is refused here, in the same order of checks.
import { canonical, wellFormed, type Json } from './canonical';
import { LogError, wordsOf } from './errors';
import { hashOf, zeroHash } from './hash';
import { nextID, validID } from './id';

export type Act = 'record' | 'correct' | 'remove';

export interface Table {
  columns: string[];
  rows: string[][];
}

export interface Body {
  /** All fields of a new record, or the corrected ones; '' in a correction means now blank. */
  fields?: Record<string, string>;
  /** In a correction, a table without columns and rows takes the table away. */
  table?: Table;
  /** In a correction: what its fields held before. */
  was?: Record<string, string>;
}

/** Draft is an entry before it has a place in the journal; '' and left out are the same. */
export interface Draft {
  author?: string;
  kind: string;
  subject: string;
  act: Act;
  body: Body;
  reason?: string;
  undoes?: string;
}

export interface Entry extends Draft {
  id: string;
  device: string;
  seq: number;
  /** The device's clock, Unix milliseconds. It may have been wrong: the order is seq. */
  wallMs: number;
  /** Microseconds since the run of the program began. */
  monotonicUS: number;
  run: string;
  version: number;
  previous: string;
}

/** Head is where a device's chain ends. */
export interface Head {
  seq: number;
  hash: string;
  id: string;
  wallMs: number;
}

export const noHead: Head = { seq: 0, hash: zeroHash, id: '', wallMs: 0 };

/** Stamp is what the outside adds to a draft: clocks and chance. */
export interface Stamp {
  wallMs: number;
  monotonicUS: number;
  run: string;
  random: Uint8Array;
}

/** Every kind is at version 1 (core/journal/upcast.go). */
const versionOf = 1;
const lastMs = Date.UTC(10000, 0) - 1;

const wallText = (ms: number): string => new Date(ms).toISOString();

const some = (fields: Record<string, string> | undefined): boolean =>
  fields !== undefined && Object.keys(fields).length > 0;

/** textOf is the entry's canonical text. Errors: an entry that no journal can hold. */
export function textOf(e: Entry): string {
  const wrong = faultOf(e);
  if (wrong) throw new LogError('draft', wrong);
  const body: { [key: string]: Json } = {};
  if (some(e.body.fields)) body.fields = e.body.fields!;
  if (e.body.table) body.table = { columns: e.body.table.columns, rows: e.body.table.rows };
  if (some(e.body.was)) body.was = e.body.was!;
  const wire: { [key: string]: Json } = {
    act: e.act,
    body,
    device: e.device,
    id: e.id,
    kind: e.kind,
    monotonic_us: e.monotonicUS,
    previous: e.previous,
    run: e.run,
    seq: e.seq,
    subject: e.subject,
    version: e.version,
    wall: wallText(e.wallMs),
  };
  if (e.author) wire.author = e.author;
  if (e.reason) wire.reason = e.reason;
  if (e.undoes) wire.undoes = e.undoes;
  return canonical(wire);
}

const counter = (n: number, from: number): boolean => Number.isSafeInteger(n) && n >= from;

function faultOf(e: Entry): string | undefined {
  if (!e.device || !e.run) return 'An entry needs a device and a run of the program.';
  if (!counter(e.seq, 1) || !counter(e.version, 1))
    return `Entry ${e.seq} of version ${e.version}: both are counted from 1.`;
  if (!counter(e.monotonicUS, 0)) return `${e.monotonicUS} µs since the program began: expected a whole number from 0.`;
  if (!validID(e.id)) return `${JSON.stringify(e.id)} is no UUID of version 7.`;
  if (!/^[0-9a-f]{64}$/.test(e.previous))
    return `${JSON.stringify(e.previous)} is no hash: expected 64 hexadecimal digits.`;
  if (!counter(e.wallMs, 0) || e.wallMs > lastMs)
    return 'The clock of this tablet says a year outside 1970 to 9999: set it.';
  const odd = [e.device, e.run, e.author, e.kind, e.subject, e.reason, e.undoes].find((t) => t && !wellFormed(t));
  if (odd !== undefined) return `${JSON.stringify(odd)} holds half a character.`;
  return faultOfDraft(e);
}

function faultOfDraft(d: Draft): string | undefined {
  const { fields, table, was } = d.body;
  if (!d.kind) return 'An entry needs a kind.';
  if (!['record', 'correct', 'remove'].includes(d.act))
    return `${JSON.stringify(d.act)} is no act: expected record, correct or remove.`;
  if (d.act === 'correct' && !some(fields) && !table) return 'A correction that changes nothing.';
  if (d.act !== 'correct' && some(was)) return 'Only a correction says what was there before.';
  if (d.act === 'remove' && (some(fields) || table)) return 'A removal holds no values.';
  for (const [name, value] of [...Object.entries(fields ?? {}), ...Object.entries(was ?? {})]) {
    if (name === '' || !wellFormed(name) || typeof value !== 'string' || !wellFormed(value))
      return `Field ${JSON.stringify(name)}: a name must not be empty, and both must be whole text.`;
    if (value === '' && d.act === 'record')
      return `Field ${JSON.stringify(name)} is blank: a new record leaves it out.`;
  }
  return table && faultOfTable(d.act, table);
}

function faultOfTable(act: Act, t: Table): string | undefined {
  const none = t.columns.length === 0 && t.rows.length === 0;
  if (t.columns.length === 0 && !(none && act === 'correct')) return 'A table needs columns and a list of rows.';
  if (t.columns.some((name) => typeof name !== 'string' || name === '' || !wellFormed(name)))
    return 'A column of the table has no name, or half a character in it.';
  for (const [i, row] of t.rows.entries()) {
    if (row.length !== t.columns.length)
      return `Row ${i + 1} of the table has ${row.length} cells for ${t.columns.length} columns.`;
    if (row.some((cell) => typeof cell !== 'string' || !wellFormed(cell)))
      return `Row ${i + 1} of the table holds half a character.`;
  }
  return undefined;
}

export interface Sealed {
  entry: Entry;
  text: string;
  hash: string;
  head: Head;
}

/**
 * seal gives a draft its place at the end of a device's chain. Errors: a draft
 * that no journal can hold, a clock before 1970 or after 9999; the end is then
 * where it was.
 */
export async function seal(head: Head, device: string, draft: Draft, stamp: Stamp): Promise<Sealed> {
  const text = textOf({
    ...draft,
    id: nextID(head.id, stamp.wallMs, stamp.random),
    device,
    seq: head.seq + 1,
    wallMs: stamp.wallMs,
    monotonicUS: stamp.monotonicUS,
    run: stamp.run,
    version: versionOf,
    previous: head.hash,
  });
  const entry = parse(text); // shares nothing with the draft
  const hash = await hashOf(text);
  return { entry, text, hash, head: { seq: entry.seq, hash, id: entry.id, wallMs: entry.wallMs } };
}

/** parse reads an entry from its canonical text and refuses any other spelling. Errors: kind 'broken'. */
export function parse(text: string): Entry {
  let e: Entry;
  let again: string;
  try {
    const w = JSON.parse(text) as Record<string, unknown>;
    e = {
      act: w.act as Act,
      kind: asText(w.kind),
      subject: asText(w.subject),
      body: bodyOf(w.body),
      id: asText(w.id),
      device: asText(w.device),
      seq: w.seq as number,
      wallMs: Date.parse(asText(w.wall)),
      monotonicUS: w.monotonic_us as number,
      run: asText(w.run),
      version: w.version as number,
      previous: asText(w.previous),
    };
    if (w.author !== undefined) e.author = asText(w.author);
    if (w.reason !== undefined) e.reason = asText(w.reason);
    if (w.undoes !== undefined) e.undoes = asText(w.undoes);
    again = textOf(e);
  } catch (err) {
    throw new LogError('broken', `This is no journal entry in canonical form: ${wordsOf(err)}`, err);
  }
  if (again !== text)
    throw new LogError(
      'broken',
      'This is no journal entry in canonical form: it was spelt by something else, or changed.',
    );
  return e;
}

function asText(v: unknown): string {
  if (typeof v !== 'string') throw new LogError('broken', `${JSON.stringify(v)} stands where a text should.`);
  return v;
}

function bodyOf(v: unknown): Body {
  const { fields, table, was } = v as Body; // other keys are missing from the text made again, and so refused
  const body: Body = {};
  if (fields !== undefined) body.fields = { ...fields };
  if (table !== undefined) body.table = { columns: [...table.columns], rows: table.rows.map((row) => [...row]) };
  if (was !== undefined) body.was = { ...was };
  return body;
}

// What the tables promise: rows come when they are looked at, nothing that was
// typed is lost, and every change can be taken back and brought back.
import { describe, expect, test } from 'vitest';
import { RequestError } from '$lib/api/client';
import { placesOf } from '$lib/api/studies';
import { mostPages, pageRows, TableState } from '$lib/state/tables.svelte';
import { words } from '$lib/words';
import { Cursor } from '../../src/routes/tables/cursor.svelte';
import { HistoryState, JournalState } from '../../src/routes/tables/entries.svelte';
import { StudyTables } from '../../src/routes/tables/study-tables.svelte';
import { InventedStudy } from '../fixtures/study-program';

/** opened is a study with its trials read as far as they are in view. */
async function opened(count: number, blind = false) {
  const study = new InventedStudy(count);
  study.blind = blind;
  const tables = new StudyTables(study);
  await tables.load();
  const table = tables.table('trial');
  await table.need(0, 20);
  return { study, tables, table };
}
const first = (table: TableState) => table.row(0)!;

describe('a hundred thousand rows', () => {
  test('are read a thousand at a time, where one looks', async () => {
    const { study, table } = await opened(100_000);
    expect(table.total).toBe(100_000);
    expect(table.row(50_000)).toBeUndefined();
    await table.need(49_990, 50_030);
    expect(study.asked).toEqual([0, 49 * pageRows, 50 * pageRows]);
    expect(table.row(50_000)?.id).toBe('T050001');
    await table.need(50_000, 50_010);
    expect(study.asked).toHaveLength(3);
  });
  test('are forgotten, those read longest ago first', async () => {
    const { study, table } = await opened(100_000);
    for (let n = 1; n <= mostPages; n++) await table.need(n * pageRows, n * pageRows + 10);
    expect(table.row(0)).toBeUndefined();
    expect(table.row(mostPages * pageRows)?.id).toBe(`T0${mostPages}001`);
    await table.need(0, 10);
    expect(study.asked.at(-1)).toBe(0);
    expect(first(table).id).toBe('T000001');
  });
  test('a page that cannot be read says so and is asked for again', async () => {
    const { study, table } = await opened(3000);
    const read = study.table;
    study.table = () => Promise.reject(new RequestError(0, ''));
    await table.need(2000, 2010);
    expect(table.problem?.status).toBe(0);
    study.table = read;
    await table.need(2000, 2010);
    expect(table.problem).toBeUndefined();
    expect(table.row(2000)?.id).toBe('T002001');
  });
});

describe('an edit', () => {
  test('carries what the page showed, and the row is marked as changed', async () => {
    const { study, table, tables } = await opened(10);
    tables.reason = 'read from the wrong line';
    expect(await table.save(first(table), 'tide_m', '0.4', tables.reason)).toBe(true);
    expect(study.sent).toEqual([
      {
        changes: [{ kind: 'trial', id: 'T000001', field: 'tide_m', from: '0', to: '0.4' }],
        reason: 'read from the wrong line',
      },
    ]);
    expect(table.cell(first(table), 'tide_m')).toBe('0.4');
    expect(first(table).entries).toBe(2);
    expect(table.touched.has(table.key('T000001', 'tide_m'))).toBe(true);
  });
  test('of a value to itself writes nothing', async () => {
    const { study, table } = await opened(10);
    expect(await table.save(first(table), 'tide_m', '0', '')).toBe(true);
    expect(study.sent).toEqual([]);
  });
  test('that is refused keeps what was typed, with the sentences at the cell', async () => {
    const { study, table } = await opened(10);
    study.fail = new RequestError(422, 'all of it', [
      { location: 'trial/T000001/tide_m', message: '"high" is no number; expected one' },
      { location: 'pass/P1/2/time', message: 'outside its trial; expected within' },
    ]);
    expect(await table.save(first(table), 'tide_m', 'high', '')).toBe(false);
    const draft = table.drafts.get(table.key('T000001', 'tide_m'))!;
    expect(draft).toMatchObject({
      state: 'refused',
      typed: 'high',
      why: [
        { place: '', message: '"high" is no number; expected one' },
        { place: 'P1/2, time', message: 'outside its trial; expected within' },
      ],
    });
    expect(table.shown(first(table), 'tide_m')).toBe('high');
    expect(table.cell(first(table), 'tide_m')).toBe('0');
    expect(table.unsaved).toBe(1);
    expect(await table.save(first(table), 'tide_m', '0.2', '')).toBe(true);
    expect(table.unsaved).toBe(0);
  });
  test('of a value that changed meanwhile shows what it is now and can then be written', async () => {
    const { study, table } = await opened(10);
    study.set('T000001', 'tide_m', '0.9');
    expect(await table.save(first(table), 'tide_m', '0.4', '')).toBe(false);
    expect(table.drafts.get(table.key('T000001', 'tide_m'))).toMatchObject({ state: 'changed', typed: '0.4' });
    expect(table.cell(first(table), 'tide_m')).toBe('0.9');
    expect(await table.save(first(table), 'tide_m', '0.4', '')).toBe(true);
    expect(study.sent.at(-1)!.changes![0]).toMatchObject({ from: '0.9', to: '0.4' });
  });
  test('that did not arrive is kept and can be sent again', async () => {
    const { study, table } = await opened(10);
    study.fail = new RequestError(0, '');
    expect(await table.save(first(table), 'note', 'calm', '')).toBe(false);
    expect(table.drafts.get(table.key('T000001', 'note'))).toMatchObject({ state: 'failed', typed: 'calm' });
    expect(await table.save(first(table), 'note', 'calm', '')).toBe(true);
    expect(table.cell(first(table), 'note')).toBe('calm');
  });
  test('of what is sealed is not offered', async () => {
    const { table } = await opened(10, true);
    const pair = table.columns.find((c) => c.name === 'active_pair')!;
    expect(table.sealed(pair)).toBe(true);
    expect(table.editable(pair)).toBe(false);
    const cursor = new Cursor(table);
    cursor.to(0, 1);
    expect(cursor.edit('A')).toBe(false);
  });
});

describe('taking back', () => {
  test('goes back through the changes of this window and forward again, each an entry', async () => {
    const { study, table, tables } = await opened(10);
    await table.save(first(table), 'tide_m', '0.4', '');
    await table.save(first(table), 'tide_m', '0.5', '');
    const shown = () => table.cell(first(table), 'tide_m');
    await tables.session.undo();
    expect(shown()).toBe('0.4');
    await tables.session.undo();
    expect(shown()).toBe('0');
    await tables.session.undo();
    expect(shown()).toBe('0');
    await tables.session.redo();
    await tables.session.redo();
    expect(shown()).toBe('0.5');
    expect(study.log.map((e) => e.undoes ?? '')).toEqual(['', '', 'e2', 'e1', 'e4', 'e3']);
  });
  test('a new change ends what could be brought back', async () => {
    const { table, tables } = await opened(10);
    await table.save(first(table), 'tide_m', '0.4', '');
    await tables.session.undo();
    await table.save(first(table), 'note', 'calm', '');
    expect(tables.session.undone).toEqual([]);
  });
  test('that is refused leaves the change where it was and says why', async () => {
    const { study, table, tables } = await opened(10);
    await table.save(first(table), 'tide_m', '0.4', '');
    study.fail = new RequestError(422, 'changed since by another entry');
    await tables.session.undo();
    expect(tables.session.problem?.message).toContain('another entry');
    expect(tables.session.done).toHaveLength(1);
    await tables.session.undo();
    expect(table.cell(first(table), 'tide_m')).toBe('0');
  });
  test('a withdrawn row leaves the table and comes back', async () => {
    const { table, tables } = await opened(10);
    await tables.withdraw('trial', 'T000001');
    await expect.poll(() => table.total).toBe(9);
    expect(table.placeOf('T000001')).toBe(-1);
    await tables.session.undo();
    await expect.poll(() => table.total).toBe(10);
    expect(tables.names).toEqual([{ kind: 'trial', rows: 10 }]);
  });
  test('an entry of the journal taken back is a change of this window', async () => {
    const { study, table, tables } = await opened(10);
    const entry = study.set('T000003', 'note', 'by somebody else');
    await table.refresh();
    await tables.session.undoEntry(entry);
    expect(table.cell(table.row(2)!, 'note')).toBe('');
    await tables.session.undo();
    expect(table.cell(table.row(2)!, 'note')).toBe('by somebody else');
  });
});

describe('the cursor', () => {
  test('stays within the table', async () => {
    const { table } = await opened(10);
    const cursor = new Cursor(table);
    cursor.move('up', 5);
    expect(cursor.at).toEqual({ row: 0, column: 0 });
    cursor.move('bottom', 5);
    cursor.move('page-down', 5);
    cursor.move('last', 5);
    cursor.move('right', 5);
    expect(cursor.at).toEqual({ row: 9, column: 3 });
  });
  test('goes on to the next cell that can be edited, past what is sealed and to the next row', async () => {
    const { table } = await opened(10, true);
    const cursor = new Cursor(table);
    expect(cursor.next(1)).toBe(true);
    expect(cursor.at).toEqual({ row: 0, column: 2 });
    cursor.to(0, 3);
    cursor.next(1);
    expect(cursor.at).toEqual({ row: 1, column: 0 });
    cursor.next(-1);
    expect(cursor.at).toEqual({ row: 0, column: 3 });
    cursor.to(9, 3);
    expect(cursor.next(1)).toBe(false);
  });
  test('sends what was typed without the spaces round it, and Escape leaves it', async () => {
    const { study, table } = await opened(10);
    const cursor = new Cursor(table);
    cursor.to(0, 3);
    cursor.edit();
    cursor.typed = ' calm ';
    cursor.leave();
    expect(cursor.commit('')).toBeUndefined();
    cursor.edit();
    cursor.typed = ' calm ';
    await cursor.commit('');
    expect(study.sent.map((s) => s.changes![0]!.to)).toEqual(['calm']);
  });
});

test('the history of a value holds its own entries, newest first', async () => {
  const { study } = await opened(10);
  study.set('T000001', 'tide_m', '0.4');
  study.set('T000001', 'note', 'calm');
  study.set('T000001', 'tide_m', '0.5');
  const history = new HistoryState(study);
  await history.show({ kind: 'trial', id: 'T000001', field: 'tide_m' });
  expect(history.shown.map((e) => e.values[0]!.to)).toEqual(['0.5', '0.4']);
  await history.show({ kind: 'trial', id: 'T000001' });
  expect(history.shown).toHaveLength(3);
});

test('the journal goes on page by page to its end', async () => {
  const { study } = await opened(3);
  for (let i = 0; i < 250; i++) study.set('T000002', 'note', String(i));
  const journal = new JournalState(study);
  await journal.load();
  expect(journal.entries).toHaveLength(100);
  expect(journal.entries![0]!.values[0]!.to).toBe('249');
  while (journal.more) await journal.loadMore();
  expect(journal.entries!.map((e) => e.seq)).toEqual(Array.from({ length: 250 }, (_, i) => 250 - i));
});

test.each([
  ['trial/T001/end', { kind: 'trial', id: 'T001', field: 'end' }],
  ['pass/dive 2/7/time', { kind: 'pass', id: 'dive 2/7', field: 'time' }],
  ['site//depth_m', { kind: 'site', id: '', field: 'depth_m' }],
  ['body.changes', { kind: '', id: '', field: '' }],
])('the place %s is read', (location, place) => {
  expect(placesOf(new RequestError(422, '', [{ location, message: 'm' }]))).toEqual([{ ...place, message: 'm' }]);
});

test.each([
  ['current_before_uA', 'Current before', 'µA'],
  ['water_S_per_m', 'Water', 'S/m'],
  ['flow_m_per_s', 'Flow', 'm/s'],
  ['temperature_C', 'Temperature', '°C'],
  ['bottom_S_per_m_sd', 'Bottom', 'S/m, SD'],
  ['percent_per_C', 'Compensation', '% per °C'],
  ['turned', 'Turned', ''],
  ['timezone', 'Time zone', ''],
])('the column %s is read as %s', (name, title, unit) => expect(words.tables.column(name)).toEqual({ title, unit }));

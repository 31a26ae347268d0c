// What keys, pointer and clipboard do in the table.
import type { TableRow } from '$lib/api/studies';
import type { TableState } from '$lib/state/tables.svelte';
import { words } from '$lib/words';
import type { Cursor, Move } from './cursor.svelte';

const w = words.tables;

export interface Around {
  readonly table: TableState;
  readonly cursor: Cursor;
  /** Rows that a page holds. */
  page(): number;
  reason(): string;
  history(row: TableRow, field: string | undefined, focus: boolean): void;
  readings: ((row: TableRow) => void) | undefined;
  say(sentence: string): void;
  focus(): void;
}

const moves: Record<string, Move> = {
  ArrowDown: 'down',
  ArrowUp: 'up',
  ArrowLeft: 'left',
  ArrowRight: 'right',
  PageDown: 'page-down',
  PageUp: 'page-up',
  Home: 'first',
  End: 'last',
};

export class GridActs {
  constructor(private readonly at: Around) {}

  key = (event: KeyboardEvent): void => {
    if (event.target !== event.currentTarget || event.altKey) return;
    const act = event.ctrlKey || event.metaKey ? this.#far(event.key) : this.#near(event);
    if (!act) return;
    event.preventDefault();
    act();
  };

  #far(name: string): (() => void) | undefined {
    if (name === 'Home') return () => this.at.cursor.move('top', 0);
    if (name === 'End') return () => this.at.cursor.move('bottom', 0);
    return undefined;
  }

  #near({ key, shiftKey }: KeyboardEvent): (() => void) | undefined {
    const { cursor } = this.at;
    const move = moves[key];
    if (move) return () => cursor.move(move, this.at.page());
    if (key === 'Enter' && shiftKey) {
      return () => cursor.row && this.at.history(cursor.row, cursor.column?.name, true);
    }
    if (key === 'Enter' || key === 'F2') return () => this.edit();
    if (key === 'Delete' || key === 'Backspace') return () => this.edit('');
    if (key.length === 1 && key !== ' ') return () => this.edit(key);
    return undefined;
  }

  /** edit opens the editor of the cell; what is typed begins with instead where it is given. */
  edit = (instead?: string, byPointer = false): void => {
    const { cursor, readings } = this.at;
    const { column, row } = cursor;
    if (!column && row) readings?.(row);
    const choices = column?.choices?.length;
    if (!cursor.edit(choices ? undefined : instead, byPointer)) this.#refuse();
  };

  /** press is a tap on a cell: the first goes there, the second edits. */
  press = (row: number, column: number): void => {
    const { cursor } = this.at;
    const again = cursor.at.row === row && cursor.at.column === column && !cursor.editing;
    if (cursor.editing) void this.commit();
    if (again) this.edit(undefined, true);
    else cursor.to(row, column);
    if (!cursor.editing) this.at.focus();
  };

  /** commit sends what was typed and says how it went. */
  async commit(): Promise<void> {
    const { table, cursor, say } = this.at;
    const [row, column] = [cursor.row, cursor.column];
    const saved = await cursor.commit(this.at.reason());
    if (saved === undefined || !row || !column) return;
    const draft = table.drafts.get(table.key(row.id, column.name));
    if (saved) say(w.saved(w.record(table.kind, row.id), w.column(column.name).title));
    else if (draft) say([w.draft.failed, ...draft.why.map((y) => w.draft.elsewhere(y.place, y.message))].join('. '));
  }

  leave = (): void => {
    this.at.cursor.leave();
    this.at.focus();
  };

  /** done sends what was typed and goes on to the next or the previous cell, or stays. */
  done = (go: 0 | 1 | -1): void => {
    void this.commit();
    if (go !== 0 && this.at.cursor.next(go)) this.edit();
    else this.at.focus();
  };

  copy(event: ClipboardEvent): void {
    const { table, cursor, say } = this.at;
    if (!cursor.row || !cursor.column || table.sealed(cursor.column)) return;
    event.preventDefault();
    event.clipboardData?.setData('text/plain', table.shown(cursor.row, cursor.column.name));
    say(w.copied);
  }

  /** paste takes the text of one cell, saved at once. */
  paste(event: ClipboardEvent): void {
    event.preventDefault();
    const text = (event.clipboardData?.getData('text/plain') ?? '').replace(/\r?\n$/, '');
    if (/[\t\r\n]/.test(text)) this.at.say(w.oneCell);
    else if (this.at.cursor.edit(text)) void this.commit();
    else this.#refuse();
  }

  #refuse(): void {
    const { table, cursor, say } = this.at;
    const column = cursor.column;
    if (column) say(table.sealed(column) ? w.sealedWhy : w.notEditable(w.column(column.name).title));
  }
}

// Where one is in a table, and what is being typed there.
import type { TableColumn, TableRow } from '$lib/api/studies';
import type { TableState } from '$lib/state/tables.svelte';

export type Move = 'up' | 'down' | 'left' | 'right' | 'page-up' | 'page-down' | 'first' | 'last' | 'top' | 'bottom';

export class Cursor {
  at = $state.raw({ row: 0, column: 0 });
  /** What stands in the editor; undefined while nothing is edited. */
  typed = $state<string>();
  /** Pointer or key: a finger wants the list of choices opened. */
  byPointer = $state(false);

  constructor(private readonly table: TableState) {}

  get row(): TableRow | undefined {
    return this.table.row(this.at.row);
  }

  get column(): TableColumn | undefined {
    return this.table.columns[this.at.column];
  }

  get editing(): boolean {
    return this.typed !== undefined;
  }

  to(row: number, column: number): void {
    const within = (v: number, n: number) => Math.max(0, Math.min(v, n - 1));
    this.at = { row: within(row, this.table.total), column: within(column, this.table.columns.length) };
    this.typed = undefined;
  }

  move(move: Move, page: number): void {
    const { row, column } = this.at;
    const moves: Record<Move, [number, number]> = {
      up: [row - 1, column],
      down: [row + 1, column],
      left: [row, column - 1],
      right: [row, column + 1],
      'page-up': [row - page, column],
      'page-down': [row + page, column],
      first: [row, 0],
      last: [row, this.table.columns.length - 1],
      top: [0, column],
      bottom: [this.table.total - 1, column],
    };
    this.to(...moves[move]);
  }

  /** next goes to the next cell that can be edited, row by row; false at the end of what was read. */
  next(by: 1 | -1): boolean {
    const columns = this.table.columns;
    let { row, column } = this.at;
    for (let tried = 0; tried < 2 * columns.length; tried++) {
      column += by;
      if (column < 0 || column >= columns.length) {
        row += by;
        column = by > 0 ? 0 : columns.length - 1;
      }
      if (!this.table.row(row)) return false;
      if (!this.table.editable(columns[column]!)) continue;
      this.to(row, column);
      return true;
    }
    return false;
  }

  /** edit opens the editor with what is shown, or with what is given instead. */
  edit(instead?: string, byPointer = false): boolean {
    if (!this.row || !this.column || !this.table.editable(this.column)) return false;
    this.typed = instead ?? this.table.shown(this.row, this.column.name);
    this.byPointer = byPointer;
    return true;
  }

  leave(): void {
    this.typed = undefined;
  }

  /** commit closes the editor and sends what was typed; undefined when nothing was being edited. */
  commit(reason: string): Promise<boolean> | undefined {
    const [row, column, typed] = [this.row, this.column, this.typed];
    if (typed === undefined || !row || !column) return undefined;
    this.typed = undefined;
    return this.table.save(row, column.name, typed.trim(), reason.trim());
  }
}

// How wide columns are: as the first rows need, so that they stay while one scrolls.
import type { TableState } from '$lib/state/tables.svelte';
import { words } from '$lib/words';

const looked = 60;
const rem = (characters: number, least: number, most: number): number =>
  Math.min(most, Math.max(least, Math.round((characters * 0.55 + 1.6) * 2) / 2));

/** widthsOf gives widths in rem. */
export function widthsOf(table: TableState): { name: number; columns: number[] } {
  const rows = Array.from({ length: Math.min(looked, table.total) }, (_, i) => table.row(i)).filter(
    (r) => r !== undefined,
  );
  const name = Math.max(words.tables.one(table.kind).length, ...rows.map((r) => r.id.length));
  const columns = table.columns.map((c, i) => {
    const { title, unit } = words.tables.column(c.name);
    const values = rows.map((r) => r.cells[i]?.length ?? 0);
    return rem(Math.max(title.length, unit.length, ...values), 5, 20);
  });
  return { name: rem(name, 6, 16) + 3, columns };
}

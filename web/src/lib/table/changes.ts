// Which of the changes of a plan are shown.
import type { PlanChange } from '$lib/api/types';

export interface ChangeFilter {
  kind: string;
  act: string;
  search: string;
}

export const everything: ChangeFilter = { kind: '', act: '', search: '' };

/** filterChanges keeps the order of the plan; the search looks into record, field and both values. */
export function filterChanges(changes: PlanChange[], filter: ChangeFilter): PlanChange[] {
  const wanted = filter.search.trim().toLowerCase();
  return changes.filter(
    (c) =>
      (!filter.kind || c.kind === filter.kind) &&
      (!filter.act || c.act === filter.act) &&
      (!wanted || [c.id, c.field, c.from, c.to].some((text) => text.toLowerCase().includes(wanted))),
  );
}

/** choicesOf lists what a filter can be set to, in the order of first appearance. */
export const choicesOf = (changes: PlanChange[], key: 'kind' | 'act'): string[] => [
  ...new Set(changes.map((c) => c[key])),
];

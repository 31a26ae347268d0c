// The fields of the page in their order.

export interface Listed {
  field: string;
  lines: number;
  /** Takes the whole width. */
  wide: boolean;
}

const short = (field: string): Listed => ({ field, lines: 1, wide: false });
const long = (field: string, lines = 3): Listed => ({ field, lines, wide: true });

export const siteFields: readonly Listed[] = [
  { ...short('name'), wide: true },
  ...['timezone', 'depth_m', 'latitude', 'longitude', 'x_axis_bearing_deg'].map(short),
];
export const protocolFields: readonly Listed[] = [
  long('people', 2),
  long('contact', 1),
  long('method', 6),
  short('start'),
  short('end'),
];
/** What a preregistration says in words. */
export const planFields: readonly Listed[] = [
  long('hypotheses', 4),
  long('criteria', 5),
  long('stopping_rule', 3),
  long('analysis_plan', 8),
];
export const permitFields: readonly Listed[] = [
  { ...short('what'), wide: true },
  ...['authority', 'number', 'holder', 'valid_from', 'valid_to', 'animals_most', 'hours_most'].map(short),
  long('note', 2),
];

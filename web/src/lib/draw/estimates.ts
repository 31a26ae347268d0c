// The medians of one species by each method, ready for the table and the
// picture of simpler methods.
import type { Findings, Span } from '$lib/api/types';
import { readSpan } from '$lib/api/types';
import type { MethodKey } from '$lib/words/en-methods';

export type SpanKind = 'ci' | 'quartiles' | 'innermost';

export interface MethodRow {
  key: 'detection' | 'lognormal' | 'lognormal_individual' | 'npmle' | 'descriptive' | 'textbook';
  species: string;
  median: number | null;
  span: Span;
  spanKind: SpanKind;
  ratio: number | null;
  why: string;
  ignores: readonly string[];
  assumptions: readonly string[];
  warnings: readonly string[];
  boundary: readonly string[];
  method: MethodKey;
}

interface Estimate {
  not_estimable?: string;
  median_nV_per_cm?: number | null;
  ignores?: string[];
  assumptions?: string[];
  warnings?: string[];
  boundary?: string[];
}

/** methodRows has one row per method that the document holds, the detection model first. */
export function methodRows(findings: Findings, species: string): MethodRow[] {
  const detection = findings.detection?.find((d) => d.species === species);
  const simple = findings.thresholds?.find((t) => t.species === species);
  const described = findings.descriptive?.find((d) => d.species === species);
  const headline = detection?.median_nV_per_cm ?? null;
  const rows: MethodRow[] = [];
  const add = (key: MethodRow['key'], e: Estimate, span: Span, spanKind: SpanKind) => {
    const median = e.median_nV_per_cm ?? null;
    rows.push({
      key,
      species,
      median,
      span,
      spanKind,
      ratio: median !== null && headline !== null && key !== 'detection' ? median / headline : null,
      why: e.not_estimable ?? ('why' in span && median === null ? span.why : ''),
      ignores: e.ignores ?? [],
      assumptions: e.assumptions ?? [],
      warnings: e.warnings ?? [],
      boundary: e.boundary ?? [],
      method: key,
    });
  };
  if (detection) add('detection', detection, readSpan(detection.ci95_nV_per_cm), 'ci');
  if (simple) {
    const { lognormal, lognormal_individual: individual, npmle } = simple;
    add('lognormal', lognormal, readSpan(lognormal.ci95_nV_per_cm), 'ci');
    add('lognormal_individual', individual, readSpan(individual.ci95_nV_per_cm), 'ci');
    add('npmle', npmle, readSpan(npmle.median_interval_nV_per_cm), 'innermost');
  }
  if (described) {
    const quartiles = (q1: number | null, q3: number | null): Span =>
      q1 === null ? { why: '' } : { low: q1, high: q3 };
    const { textbook } = described;
    add('descriptive', described, quartiles(described.q1_nV_per_cm, described.q3_nV_per_cm), 'quartiles');
    add('textbook', { ...textbook }, quartiles(textbook.q1_nV_per_cm, textbook.q3_nV_per_cm), 'quartiles');
  }
  return rows;
}

/** oddsSpan is exp(log odds ± 1.96 se). */
export function oddsSpan(logOdds: number, se: number): { odds: number; low: number; high: number } {
  const z = 1.959963984540054;
  return { odds: Math.exp(logOdds), low: Math.exp(logOdds - z * se), high: Math.exp(logOdds + z * se) };
}

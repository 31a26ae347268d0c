// One pass and one season in words.
import type { ExposureRow, Pass, Season } from '$lib/api/types';
import { knowsPlaceField } from '$lib/draw/textbook';
import { en } from './en';
import { clock, sig, whole } from './numbers';

export interface Fact {
  name: string;
  value: string;
}

const w = en.exposures.detail;
const units = en.units;

/** passVerdict says what the pass tells of the threshold; that no onset was recorded is known once the pass is read. */
export function passVerdict(row: ExposureRow, pass?: Pass): string {
  const { field_low_nV_per_cm: low, field_high_nV_per_cm: high } = row;
  const turned = row.turned === 'yes' || row.bit === 'yes';
  if (!turned && row.turned === '') return w.notScored;
  if (low === null) return turned ? w.turnedUnknown : w.unknown;
  if (!turned) return w.noTurn(sig(low));
  if (row.falling_field) return w.falling(sig(low));
  if (high === null) return w.turnedUnknown;
  if (row.turned !== 'yes') return w.bitOnly(sig(high));
  if (pass && pass.onset_s === null && low === 0) return w.turnedNoOnset(sig(high));
  return low > 0 ? w.turned(sig(low), sig(high)) : w.turnedBy(sig(high));
}

/** passFacts are the numbers beside the picture; what is not known is left out. */
export function passFacts(row: ExposureRow): Fact[] {
  const facts: Fact[] = [];
  const add = (name: string, value: number | null, unit: string) => {
    if (value !== null)
      facts.push({ name, value: unit === units.deg ? `${sig(value)}${unit}` : `${sig(value)} ${unit}` });
  };
  facts.push({ name: w.trial, value: row.trial }, { name: en.exposures.table.columns.time, value: clock(row.time) });
  add(w.current, row.current_uA, units.uA);
  const { phantom_low_nV_per_cm: low, phantom_high_nV_per_cm: high } = row;
  if (low !== null && high !== null) {
    facts.push({ name: w.phantom, value: `${en.findings.to(sig(low), sig(high))} ${units.field}` });
  } else {
    add(w.phantom, low ?? high, units.field);
  }
  // Where the computed field is known, both stand together in a table of their own.
  if (!knowsPlaceField(row)) add(w.textbook, row.textbook_nV_per_cm, units.field);
  add(w.distance, row.distance_cm, units.cm);
  add(w.horizontal, row.horizontal_cm, units.cm);
  add(w.angle, row.angle_deg, units.deg);
  add(w.height, row.height_cm, units.cm);
  add(w.watched, row.watched_s, units.s);
  if (row.visit) facts.push({ name: w.visit, value: row.visit });
  if (row.scorer) facts.push({ name: w.scorer, value: row.scorer });
  return facts;
}

/** seasonFacts stand where no pass is chosen. */
export function seasonFacts(season: Season): Fact[] {
  const m = en.findings.made;
  return [
    { name: en.seasonNames.trials, value: whole(season.trials.length) },
    { name: en.seasonNames.animals, value: whole(season.individuals.length) },
    { name: m.water, value: season.water_text },
    { name: m.bottom, value: season.bottom_text },
    { name: en.seasonNames.radius, value: `${sig(season.pass_radius_cm)} ${units.cm}` },
    { name: en.seasonNames.zone, value: season.timezone },
  ];
}

// The knobs in words, for a page that is read without the screen.
import type { Knobs } from '$lib/api/stimulus';
import { leadingPair } from '$lib/state/knobs';
import { en } from './en';
import { sig, tickText } from './numbers';

const w = en.range.notebook;
const cm = (m: number) => tickText(m * 100);

export interface SettingRow {
  name: string;
  value: string;
}

/** settingRows leaves out what is not there. */
export function settingRows(knobs: Knobs, form: string): SettingRow[] {
  const r = w.rows;
  const pair = knobs.pairs[leadingPair(knobs)];
  const rows: (SettingRow | undefined)[] = [
    {
      name: r.current,
      value: w.currentIs(
        tickText(knobs.current_uA),
        sig(Math.abs(knobs.current_uA * (pair?.share ?? 1)) * (pair?.separation_m ?? 0) * 1e3),
      ),
    },
    pair && {
      name: r.pair,
      value: w.pairIs(pair.label, cm(pair.separation_m), tickText(pair.azimuth_deg), cm(pair.height_m)),
    },
    pair && {
      name: r.electrodes,
      value: w.electrodesAre(known(w.shapes, knobs.electrode_shape), tickText(pair.electrode_diameter_m * 1e3)),
    },
    { name: r.water, value: water(knobs) },
    { name: r.depth, value: knobs.depth_m === null ? w.unbounded : w.depthIs(tickText(knobs.depth_m)) },
    { name: r.bottom, value: bottom(knobs) },
    { name: r.plate, value: plates(knobs) },
    knobs.bodies.length > 0
      ? { name: r.bodies, value: knobs.bodies.map((b) => b.label || b.shape).join(', ') }
      : undefined,
    { name: r.waveform, value: waveform(knobs) },
    { name: r.form, value: known(w.formula, form) },
  ];
  return rows.filter((row) => row !== undefined);
}

const known = (names: Record<string, string>, key: string): string => names[key] ?? key;

function water({ water: { conductivity_S_per_m: c, temperature_C: t, salinity: s } }: Knobs): string {
  if (c !== null) return w.waterIs(tickText(c));
  return t !== null && s !== null ? w.waterFrom(tickText(t), tickText(s)) : en.range.none;
}

function bottom({ bottom: b }: Knobs): string {
  if (b.kind !== 'sediment') return w.insulating;
  if (b.conductivity_S_per_m !== null) return w.sedimentIs(tickText(b.conductivity_S_per_m));
  return b.porosity === null ? w.sedimentUnknown : w.sedimentPorosity(tickText(b.porosity));
}

function plates(knobs: Knobs): string {
  if (knobs.plates.length === 0) return w.noPlate;
  const each = knobs.plates.map((p) =>
    p.shape === 'disc'
      ? w.discPlate(cm(p.diameter_m ?? 0), tickText(p.thickness_m * 1e3))
      : w.rectangle(cm(p.size_m?.[0] ?? 0), cm(p.size_m?.[1] ?? 0), tickText(p.thickness_m * 1e3)),
  );
  each.push(w.top(cm(knobs.top_above_bottom_m)));
  if (knobs.sand_over_plate_mm > 0) each.push(w.sand(tickText(knobs.sand_over_plate_mm)));
  return each.join(', ');
}

function waveform({ waveform: f }: Knobs): string {
  const kind = known(w.waveforms, f.kind);
  return f.frequency_Hz === null ? kind : `${kind}, ${w.hz(tickText(f.frequency_Hz))}`;
}

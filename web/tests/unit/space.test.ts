// The box for the picture in space, and the setting in words, against a field
// in closed form: |E| = c/r² round (0.3, −0.2, 0).
import { describe, expect, test } from 'vitest';
import type { Asked, Knobs, StimulusProgram } from '$lib/api/stimulus';
import { askShells, gridOf, reaches } from '$lib/space/volume';
import { electrodesOf } from '$lib/space/things';
import { settingRows } from '$lib/words/setting';

const knobs: Knobs = {
  water: { temperature_C: 14, salinity: 35, conductivity_S_per_m: null },
  depth_m: null,
  bottom: {
    kind: 'sediment',
    conductivity_S_per_m: 1.2,
    porosity: null,
    cementation_exponent: null,
    thickness_m: null,
    basement_S_per_m: null,
  },
  enclosure: null,
  plates: [{ shape: 'disc', size_m: null, diameter_m: 0.6, thickness_m: 0.01, centre_m: [0.3, -0.2], yaw_deg: 0 }],
  top_above_bottom_m: 0.02,
  sand_over_plate_mm: 4,
  current_uA: 6,
  pairs: [
    {
      label: 'B',
      centre_m: [0.3, -0.2],
      azimuth_deg: 90,
      separation_m: 0.02,
      electrode_diameter_m: 0.002,
      height_m: 0,
      share: -1,
    },
    {
      label: 'A',
      centre_m: [0, 0],
      azimuth_deg: 0,
      separation_m: 0.02,
      electrode_diameter_m: 0.002,
      height_m: 0,
      share: 0,
    },
  ],
  electrodes: [{ at_m: [1, 2, 0.5], share: 0.5, diameter_m: 0.003 }],
  electrode_shape: 'hemisphere',
  bodies: [],
  waveform: { kind: 'sine', frequency_Hz: 2, duty: null },
};
const asked: Asked = { knobs, form: 'no_plate', tolerance: 0.01 };

interface Body {
  half_width_m: number;
  highest_m: number;
  points: [number, number, number];
}

/** A program whose field is c/r², so that the shell of a threshold t is the half ball of radius √(c/t). */
function programOf(c: number): { program: StimulusProgram; bodies: Body[] } {
  const bodies: Body[] = [];
  const axis = (from: number, to: number, n: number) =>
    Array.from({ length: n }, (_, i) => from + ((to - from) * i) / (n - 1));
  const volume = (body: Body) => {
    bodies.push(body);
    const [nx, ny, nz] = body.points;
    const x_m = axis(0.3 - body.half_width_m, 0.3 + body.half_width_m, nx);
    const y_m = axis(-0.2 - body.half_width_m, -0.2 + body.half_width_m, ny);
    const z_m = axis(0, body.highest_m, nz);
    const magnitude_nV_per_cm = z_m.flatMap((z) =>
      y_m.flatMap((y) => x_m.map((x) => c / ((x - 0.3) ** 2 + (y + 0.2) ** 2 + z ** 2 || 1e-9))),
    );
    return Promise.resolve({
      x_m,
      y_m,
      z_m,
      magnitude_nV_per_cm,
      warnings: [],
      reached: true,
      method: '',
      relative_error: 0,
    });
  };
  return { program: { volume } as unknown as StimulusProgram, bodies };
}
const signal = new AbortController().signal;

describe('the box', () => {
  // The first guess is a dipole’s; it is wrong by a factor of ten either way here.
  test.each([0.02, 0.25, 3, 8])('finds a shell of %d m, whatever the first guess', async (radius) => {
    const { program, bodies } = programOf(5 * radius ** 2);
    const found = await askShells(program, asked, [20, 5], 'coarse', signal);
    const [low, high] = [found.shells[0]!, found.shells[1]!];
    expect([low.threshold, high.threshold]).toEqual([5, 20]);
    expect(found.cut).toBe(false);
    expect(Math.abs(low.extent!.high[0] - 0.3 - radius)).toBeLessThan(0.02 * radius);
    expect(Math.abs(low.extent!.high[2] - radius)).toBeLessThan(0.02 * radius);
    expect(Math.abs(high.extent!.high[2] - radius / 2)).toBeLessThan(0.04 * radius);
    expect(found.half).toBeGreaterThan(radius);
    expect(found.half).toBeLessThan(2 * radius);
    expect(bodies.length).toBeLessThanOrEqual(7);
  });
  test('a field that is nowhere large enough ends, without a shell', async () => {
    const { program, bodies } = programOf(1e-12);
    const found = await askShells(program, asked, [5], 'coarse', signal);
    expect(found.shells[0]!.extent).toBeUndefined();
    expect(found.cut).toBe(false);
    expect(bodies.length).toBeLessThanOrEqual(7);
  });
  test('how far a shell goes is told as a share of the box', async () => {
    const { program } = programOf(1);
    const view = await program.volume({
      ...asked,
      half_width_m: 1,
      highest_m: 2,
      points: [41, 41, 41],
    });
    const { side, up } = reaches(gridOf(view), 4)!;
    expect(side).toBeCloseTo(0.5, 2);
    expect(up).toBeCloseTo(0.25, 2);
  });
});

test('electrodes lie along the azimuth of their pair', () => {
  const all = electrodesOf(knobs);
  expect(all).toHaveLength(5);
  expect(all[0]!.at[0]).toBeCloseTo(0.3, 12);
  expect(all[0]!.at[1]).toBeCloseTo(-0.19, 12);
  expect(all.map((e) => e.driven)).toEqual([true, true, false, false, true]);
});

describe('the setting in words', () => {
  const said = Object.fromEntries(settingRows(knobs, 'real').map((r) => [r.name, r.value]));
  test('current and moment: 6 µA over 2 cm are 120 nA m', () =>
    expect(said.Current).toBe('6 µA peak, dipole moment 120 nA m'));
  test('the driven pair, not the first', () => expect(said.Pair).toMatch(/^B: 2 cm apart, along 90°/));
  test('what is not stated is not invented', () => {
    expect(said.Water).toBe('14 °C, salinity 35');
    expect(said.Depth).toBe('the surface is left out');
    expect(said).not.toHaveProperty('Bodies');
  });
  test('plate, bottom and waveform', () => {
    expect(said.Plate).toBe('disc of 60 cm, 10 mm thick, top 2 cm above the bottom, 4 mm of sand over it');
    expect(said.Bottom).toBe('sediment, 1.2 S/m');
    expect(said.Waveform).toBe('sine, 2 Hz');
  });
  test('a bottom by its porosity', () => {
    const bottom = { ...knobs.bottom, conductivity_S_per_m: null, porosity: 0.42 };
    expect(settingRows({ ...knobs, bottom }, 'real').find((r) => r.name === 'Bottom')?.value).toBe(
      'sediment of porosity 0.42',
    );
  });
  test('without a pair there is still a page', () => {
    const rows = settingRows({ ...knobs, pairs: [] }, 'textbook');
    expect(JSON.stringify(rows)).not.toMatch(/NaN|undefined/);
  });
});

// The numbers of a camera as they are typed, and as the program takes them.
// Lengths of the port are typed in millimetres.
import type { CameraSpec, FootageCamera } from '$lib/api/footage';
import { readNumber } from '$lib/calibration/rows';
import { words } from '$lib/words';

/** What is typed as text, in the order of the form. */
export const lensFields = ['width', 'height', 'fx', 'fy', 'cx', 'cy'] as const;
export const bendFields = ['k1', 'k2', 'k3', 'p1', 'p2'] as const;
export const portFields = ['airGap', 'glass', 'glassIndex', 'waterIndex'] as const;
export type NumberField = (typeof lensFields)[number] | (typeof bendFields)[number] | (typeof portFields)[number];

export interface CameraDraft extends Record<NumberField, string> {
  id: string;
  note: string;
  port: boolean;
}

const textOf = (v: number): string => String(Number(v.toPrecision(12)));

/** emptyCamera has no numbers but those of the clip's own picture. */
export const emptyCamera = (size: readonly [number, number] | undefined): CameraDraft => ({
  id: '',
  note: '',
  port: false,
  width: size && size[0] > 0 ? String(size[0]) : '',
  height: size && size[1] > 0 ? String(size[1]) : '',
  fx: '',
  fy: '',
  cx: '',
  cy: '',
  k1: '',
  k2: '',
  k3: '',
  p1: '',
  p2: '',
  airGap: '',
  glass: '',
  glassIndex: '',
  waterIndex: '',
});

export function draftOfCamera({ id, note, spec }: Pick<FootageCamera, 'id' | 'note' | 'spec'>): CameraDraft {
  const { port } = spec;
  return {
    id,
    note,
    port: port !== undefined,
    width: textOf(spec.width_px),
    height: textOf(spec.height_px),
    fx: textOf(spec.fx_px),
    fy: textOf(spec.fy_px),
    cx: textOf(spec.cx_px),
    cy: textOf(spec.cy_px),
    k1: textOf(spec.k1),
    k2: textOf(spec.k2),
    k3: textOf(spec.k3),
    p1: textOf(spec.p1),
    p2: textOf(spec.p2),
    airGap: port ? textOf(port.air_gap_m * 1000) : '',
    glass: port ? textOf(port.glass_m * 1000) : '',
    glassIndex: port ? textOf(port.glass_index) : '',
    waterIndex: port ? textOf(port.water_index) : '',
  };
}

const bounds: Record<NumberField, readonly [number, number]> = {
  width: [1, 100000],
  height: [1, 100000],
  fx: [1e-9, 1e7],
  fy: [1e-9, 1e7],
  cx: [-1e5, 2e5],
  cy: [-1e5, 2e5],
  k1: [-1e12, 1e12],
  k2: [-1e12, 1e12],
  k3: [-1e12, 1e12],
  p1: [-1e12, 1e12],
  p2: [-1e12, 1e12],
  airGap: [0, 10000],
  glass: [0, 10000],
  glassIndex: [1, 4],
  waterIndex: [1, 4],
};

/** Distortion that is not typed is none; everything else has to be. */
const mayBeBlank = (field: NumberField): boolean => (bendFields as readonly string[]).includes(field);

const used = (d: CameraDraft): NumberField[] => [...lensFields, ...bendFields, ...(d.port ? portFields : [])];

/** faultsOfCamera says what is wrong with each field, in words. */
export function faultsOfCamera(d: CameraDraft): Map<NumberField | 'id', string> {
  const w = words.footageCamera.camera.faults;
  const out = new Map<NumberField | 'id', string>();
  if (d.id.trim() === '') out.set('id', w.name);
  for (const field of used(d)) {
    const text = d[field].trim();
    if (text === '') {
      if (!mayBeBlank(field)) out.set(field, w.blank);
      continue;
    }
    const v = readNumber(text);
    const [low, high] = bounds[field];
    if (v === undefined) out.set(field, w.number);
    else if (!(v >= low && v <= high)) out.set(field, w.range[field] ?? w.number);
    else if ((field === 'width' || field === 'height') && !Number.isInteger(v)) out.set(field, w.whole);
  }
  return out;
}

/** specOfCamera is what the program takes; undefined while something is wrong. */
export function specOfCamera(d: CameraDraft): CameraSpec | undefined {
  const faults = faultsOfCamera(d);
  faults.delete('id');
  if (faults.size > 0) return undefined;
  const v = (field: NumberField): number => readNumber(d[field]) ?? 0;
  const m = (field: NumberField): number => Number((v(field) / 1000).toPrecision(12));
  return {
    width_px: v('width'),
    height_px: v('height'),
    fx_px: v('fx'),
    fy_px: v('fy'),
    cx_px: v('cx'),
    cy_px: v('cy'),
    k1: v('k1'),
    k2: v('k2'),
    k3: v('k3'),
    p1: v('p1'),
    p2: v('p2'),
    ...(d.port
      ? {
          port: {
            air_gap_m: m('airGap'),
            glass_m: m('glass'),
            glass_index: v('glassIndex'),
            water_index: v('waterIndex'),
          },
        }
      : {}),
  };
}

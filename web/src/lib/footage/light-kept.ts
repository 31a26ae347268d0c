// The light of each clip, kept in this browser.
import { plainLight, type Light } from './light';

const key = (study: string, clip: string): string => `brinefield.light.${study}.${clip}`;
const share = (v: unknown): number => (typeof v === 'number' && v >= 0 && v <= 1 ? v : 0);

export function keptLight(study: string, clip: string): Light {
  try {
    const l = JSON.parse(localStorage.getItem(key(study, clip)) ?? '{}') as Partial<Light> | null;
    return { lift: share(l?.lift), clear: share(l?.clear), contrast: share(l?.contrast), grey: l?.grey === true };
  } catch {
    return { ...plainLight };
  }
}

export function keepLight(study: string, clip: string, light: Light): void {
  try {
    localStorage.setItem(key(study, clip), JSON.stringify(light));
  } catch {
    // storage refused: the light lasts as long as the page
  }
}

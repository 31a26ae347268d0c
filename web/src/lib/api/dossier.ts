// What the page Dossier asks of the program: what a dossier would hold, those
// that were made, and packages that were sent to be looked at.
import { client, read } from './client';
import type { components } from './schema';

type Schemas = components['schemas'];

export type Dossier = Schemas['DossierView'];
export type DossierPreview = Schemas['DossierPreview'];
export type DossierSpec = Schemas['Choices'];
export type DossierPerson = Schemas['Person'];
export type DossierFigure = Schemas['Figure'];
export type DossierText = Schemas['Document'];
export type DossierBlock = Schemas['Block'];
export type DossierSpan = Schemas['Run'];
export type DossierTable = Schemas['Table'];
export type DossierMade = Schemas['DossierMade'];
export type DossierJob = Schemas['DossierJob'];
export type DossierCheckView = Schemas['DossierCheckView'];
export type DossierCheck = Schemas['DossierCheck'];
export type DossierAgain = Schemas['DossierAgain'];
export type DossierDifference = Schemas['DossierDifference'];
export type DossierChange = Schemas['DossierChange'];

export type FigureFormat = 'svg' | 'pdf' | 'png';

/** DossierProgram asks about the dossiers of one study. */
export interface DossierProgram {
  view(): Promise<Dossier>;
  preview(signal?: AbortSignal): Promise<DossierPreview>;
  /** make begins a dossier in the background; again works it out once more when it is made. */
  make(again: boolean): Promise<Dossier>;
  /** stop ends the making, or dismisses what is said of one that broke off. */
  stop(): Promise<Dossier>;
  remove(pack: string): Promise<Dossier>;
  check(pack: string, again: boolean, signal?: AbortSignal): Promise<DossierCheckView>;
  compare(old: string, fresh: string, signal?: AbortSignal): Promise<DossierDifference>;
  /** The address of a figure as things stand; version makes a browser ask again. */
  figure(name: string, format: FigureFormat, wide: boolean, how?: { save?: boolean; version?: number }): string;
  /** The address of a package that was made, or of one file in it; "" is the package. */
  file(pack: string, name: string, show?: boolean): string;
  /** Where a package is sent, whole, as the body of a POST; it answers {"token": name for check and compare}. */
  upload(): string;
}

export const dossierProgramOf = (study: string): DossierProgram => {
  const of = { params: { path: { study } } };
  const below = (...parts: string[]): string => ['', 'dossier', study, ...parts].map(encodeURIComponent).join('/');
  const asked = (query: Record<string, string>): string => {
    const text = new URLSearchParams(query).toString();
    return text && `?${text}`;
  };
  const until = (signal?: AbortSignal) => (signal ? { signal } : {});
  return {
    view: () => read(client.GET('/api/studies/{study}/dossier', of)),
    preview: (signal) => read(client.GET('/api/studies/{study}/dossier/preview', { ...of, ...until(signal) })),
    make: (again) => read(client.POST('/api/studies/{study}/dossier/make', { ...of, body: { again } })),
    stop: () => read(client.POST('/api/studies/{study}/dossier/stop', { ...of, body: {} })),
    remove: (pack) => read(client.POST('/api/studies/{study}/dossier/remove', { ...of, body: { package: pack } })),
    check: (pack, again, signal) =>
      read(
        client.POST('/api/studies/{study}/dossier/check', { ...of, body: { package: pack, again }, ...until(signal) }),
      ),
    compare: (old, fresh, signal) =>
      read(client.POST('/api/studies/{study}/dossier/compare', { ...of, body: { old, new: fresh }, ...until(signal) })),
    figure: (name, format, wide, { save = false, version = 0 } = {}) =>
      below('figure', `${name}.${format}`) +
      asked({
        ...(wide ? { wide: '1' } : {}),
        ...(save ? { save: '1' } : {}),
        ...(version > 0 ? { v: String(version) } : {}),
      }),
    file: (pack, name, show = false) =>
      below('package', pack) + asked({ ...(name ? { file: name } : {}), ...(show ? { show: '1' } : {}) }),
    upload: () => below('check'),
  };
};

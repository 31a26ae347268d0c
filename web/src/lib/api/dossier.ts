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
export type DossierCheckView = Schemas['DossierCheckView'];
export type DossierDifference = Schemas['DossierDifference'];

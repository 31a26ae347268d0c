// What the pages Question, Water and Tables ask of the program.
import { client, read, RequestError } from './client';
import type { components } from './schema';

type Schemas = components['schemas'];

export type TableName = Schemas['TableName'];
export type TableView = Schemas['TableView'];
export type TableColumn = Schemas['TableColumn'];
export type TableRow = Schemas['TableRow'];
export type EditRequest = Schemas['EditRequest'];
export type EditDone = Schemas['EditDone'];
export type CellChange = Schemas['CellChange'];
export type NewRow = Schemas['NewRow'];
export type Entry = Schemas['EntryView'];
export type History = Schemas['HistoryView'];
export type Question = Schemas['QuestionView'];
export type Permit = Schemas['PermitView'];
export type CautionGroup = Schemas['CautionGroup'];
export type Caution = Schemas['CautionView'];
export type Water = Schemas['WaterView'];
export type Cast = Schemas['CastView'];
export type CastReading = Schemas['CastReading'];
export type TrialWater = Schemas['TrialWaterView'];

const of = (study: string) => ({ params: { path: { study } } });

export const fetchQuestion = (study: string): Promise<Question> =>
  read(client.GET('/api/studies/{study}/question', of(study)));
export const fetchWater = (study: string): Promise<Water> => read(client.GET('/api/studies/{study}/water', of(study)));
export const fetchTables = (study: string): Promise<TableName[]> =>
  read(client.GET('/api/studies/{study}/tables', of(study))).then((list) => list.tables);
export const fetchTable = (study: string, kind: string, offset: number, limit: number): Promise<TableView> =>
  read(
    client.GET('/api/studies/{study}/tables/{kind}', { params: { path: { study, kind }, query: { offset, limit } } }),
  );
export const fetchHistory = (study: string, kind: string, id: string): Promise<History> =>
  read(client.GET('/api/studies/{study}/history', { params: { path: { study }, query: { kind, id } } }));
export const fetchJournal = (study: string, before: number, limit: number): Promise<History> =>
  read(client.GET('/api/studies/{study}/journal', { params: { path: { study }, query: { before, limit } } }));
export const edit = (study: string, body: EditRequest): Promise<EditDone> =>
  read(client.POST('/api/studies/{study}/edits', { ...of(study), body }));
export const undo = (study: string, entry: string, author: string): Promise<EditDone> =>
  read(client.POST('/api/studies/{study}/undo', { ...of(study), body: { entry, author } }));

/** Program is what the state of these pages needs of the program: one study, and who is writing. */
export interface StudyProgram {
  table(kind: string, offset: number, limit: number): Promise<TableView>;
  tables(): Promise<TableName[]>;
  history(kind: string, id: string): Promise<History>;
  journal(before: number, limit: number): Promise<History>;
  question(): Promise<Question>;
  water(): Promise<Water>;
  edit(body: Omit<EditRequest, 'author'>): Promise<EditDone>;
  undo(entry: string): Promise<EditDone>;
}

/** programOf asks about one study; author is read at each change. */
export const programOf = (study: string, author: () => string): StudyProgram => ({
  table: (kind, offset, limit) => fetchTable(study, kind, offset, limit),
  tables: () => fetchTables(study),
  history: (kind, id) => fetchHistory(study, kind, id),
  journal: (before, limit) => fetchJournal(study, before, limit),
  question: () => fetchQuestion(study),
  water: () => fetchWater(study),
  edit: (body) => edit(study, { ...body, author: author() }),
  undo: (entry) => undo(study, entry, author()),
});

/** Place is what one sentence of a refused edit is about. */
export interface Place {
  kind: string;
  id: string;
  field: string;
  message: string;
}

/**
 * placesOf reads where the sentences of a refused edit belong: the program
 * writes "kind/id/field", and an id may hold a slash itself.
 */
export function placesOf(problem: RequestError): Place[] {
  return problem.details.map(({ location, message }) => {
    const [first, last] = [location.indexOf('/'), location.lastIndexOf('/')];
    if (first < 0 || last === first) return { kind: '', id: '', field: '', message };
    return {
      kind: location.slice(0, first),
      id: location.slice(first + 1, last),
      field: location.slice(last + 1),
      message,
    };
  });
}

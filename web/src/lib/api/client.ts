// The only place that talks to the program. Every failure becomes a
// RequestError with a sentence for people.
import createClient from 'openapi-fetch';
import type { paths } from './schema';
import type { Curves, EditDone, Exposures, Findings, Home, ImportDone, ImportRequest } from './types';
import type { NewStudyRequest, OpeningRequest, Pass, Plan, Results, Season, UncertaintyView } from './types';

/** One thing that is wrong with what was sent, and where. */
export interface Detail {
  message: string;
  /** Of an edit "kind/id/field"; of a form "body.field". */
  location: string;
}

/** status 0: the program did not answer at all. */
export class RequestError extends Error {
  constructor(
    readonly status: number,
    message: string,
    readonly details: Detail[] = [],
  ) {
    super(message);
    this.name = 'RequestError';
  }
}

/** asProblem keeps a RequestError and makes one of anything else. */
export const asProblem = (e: unknown): RequestError =>
  e instanceof RequestError ? e : new RequestError(-1, String(e));

export const client = createClient<paths>({ baseUrl: '/' });

interface Answer<T> {
  data?: T;
  error?: { detail?: string; errors?: { message?: string; location?: string }[] };
  response: Response;
}

/** read waits for an answer and gives its data, or throws a RequestError. */
export async function read<T>(request: Promise<Answer<T>>): Promise<T> {
  let answer: Answer<T>;
  try {
    answer = await request;
  } catch (cause) {
    if (cause instanceof DOMException && cause.name === 'AbortError') throw cause;
    throw new RequestError(0, '');
  }
  if (answer.data === undefined) {
    const details = (answer.error?.errors ?? []).map((d) => ({ message: d.message ?? '', location: d.location ?? '' }));
    throw new RequestError(answer.response.status, answer.error?.detail ?? '', details);
  }
  return answer.data;
}

/** of is the path parameter of everything about one study. */
const of = (study: string) => ({ params: { path: { study } } });

export const fetchHome = (): Promise<Home> => read(client.GET('/api/home'));
export const createStudy = (body: NewStudyRequest): Promise<ImportDone> => read(client.POST('/api/studies', { body }));
export const carryOut = (body: ImportRequest): Promise<ImportDone> => read(client.POST('/api/imports', { body }));

/** planImport takes the request as it goes over the wire: a season may hold hundreds of megabytes. */
export const planImport = (request: Blob, signal?: AbortSignal): Promise<Plan> =>
  read(
    client.POST('/api/imports/plan', {
      body: { study: '', files: [] },
      bodySerializer: () => request,
      headers: { 'Content-Type': 'application/json' },
      signal,
    }),
  );

export const fetchSeason = (study: string): Promise<Season> =>
  read(client.GET('/api/studies/{study}/season', of(study)));
export const fetchResults = (study: string): Promise<Results> =>
  read(client.GET('/api/studies/{study}/results', of(study)));
export const analyse = (study: string): Promise<Results> =>
  read(client.POST('/api/studies/{study}/analyse', of(study)));
export const fetchExposures = (study: string): Promise<Exposures> =>
  read(client.GET('/api/studies/{study}/exposures', of(study)));
export const fetchFindings = (study: string): Promise<Findings> =>
  read(client.GET('/api/studies/{study}/findings', of(study)));
export const fetchCurves = (study: string): Promise<Curves> =>
  read(client.GET('/api/studies/{study}/curves', of(study)));
export const fetchUncertainty = (study: string, signal?: AbortSignal): Promise<UncertaintyView> =>
  read(client.GET('/api/studies/{study}/uncertainty', { ...of(study), signal }));
export const fetchPass = (study: string, id: string, signal?: AbortSignal): Promise<Pass> =>
  read(client.GET('/api/studies/{study}/passes/{id}', { params: { path: { study, id } }, signal }));
export const openActivePairs = (study: string, body: OpeningRequest): Promise<EditDone> =>
  read(client.POST('/api/studies/{study}/opening', { ...of(study), body }));

/** seasonZip is the address of the plain season folder of a study. */
export const seasonZip = (study: string): string => `/download/${encodeURIComponent(study)}/season`;

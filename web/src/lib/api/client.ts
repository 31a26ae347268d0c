// The only place that talks to the program. Every failure becomes a
// RequestError with a sentence for people.
import createClient from 'openapi-fetch';
import type { paths } from './schema';
import type { Curves, Exposures, Findings, Pass, Progress, Season } from './types';

/** status 0: the program did not answer at all. */
export class RequestError extends Error {
  constructor(
    readonly status: number,
    message: string,
  ) {
    super(message);
    this.name = 'RequestError';
  }
}

const client = createClient<paths>({ baseUrl: '/' });

interface Answer<T> {
  data?: T;
  error?: { detail?: string };
  response: Response;
}

async function read<T>(request: Promise<Answer<T>>): Promise<T> {
  let answer: Answer<T>;
  try {
    answer = await request;
  } catch (cause) {
    if (cause instanceof DOMException && cause.name === 'AbortError') throw cause;
    throw new RequestError(0, '');
  }
  if (answer.data === undefined) throw new RequestError(answer.response.status, answer.error?.detail ?? '');
  return answer.data;
}

export const fetchSeason = (): Promise<Season> => read(client.GET('/api/season'));
export const fetchProgress = (): Promise<Progress> => read(client.GET('/api/progress'));
export const fetchExposures = (): Promise<Exposures> => read(client.GET('/api/exposures'));
export const fetchFindings = (): Promise<Findings> => read(client.GET('/api/findings'));
export const fetchCurves = (): Promise<Curves> => read(client.GET('/api/curves'));
export const fetchPass = (id: string, signal?: AbortSignal): Promise<Pass> =>
  read(client.GET('/api/passes/{id}', { params: { path: { id } }, signal }));

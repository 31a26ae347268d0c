// Answers the API from the invented studies in tests/fixtures, so that the pages
// can be worked on without the program. Used only by `npm run dev` without
// BRINEFIELD_URL.
import { existsSync, readFileSync } from 'node:fs';
import type { IncomingMessage, ServerResponse } from 'node:http';
import type { Plugin } from 'vite';
import { analyse, askHome, carryOut, create, open, plan, refuse, refused, resultsOf } from './studies.ts';

/** Pages of a study that answer from a fixture, whichever study it is. */
const read: Record<string, string> = {
  season: 'season.json',
  progress: 'progress.json',
  exposures: 'exposures.json',
  findings: 'findings.json',
  curves: 'curves.json',
  uncertainty: 'uncertainty.json',
};

async function answer(request: IncomingMessage, response: ServerResponse, next: () => void): Promise<void> {
  const path = (request.url ?? '').split('?')[0] ?? '';
  if (!path.startsWith('/api/')) return next();
  const parts = path.split('/').slice(2).map(decodeURIComponent);
  const found = request.method === 'POST' ? post(parts, await body(request)) : get(parts);
  const given = found ?? refuse(404, 'not among the invented studies');
  if (refused(given)) response.statusCode = given.status;
  response.setHeader('Content-Type', 'application/json');
  response.end(JSON.stringify(given));
}

function get([top, study = '', page = '', ...rest]: string[]): unknown {
  if (top === 'home') return askHome();
  if (top === 'tablets') return fixture('tablets.json');
  if (top !== 'studies') return undefined;
  if (page === 'results') return resultsOf(study);
  if (page === 'passes') return (fixture('passes.json') as Record<string, unknown>)[rest[0] ?? ''];
  return fixture(read[page] ?? `study-${[page, ...rest].join('-')}.json`);
}

function post([top, study = '', act = '']: string[], given: Record<string, unknown>): unknown {
  if (top === 'imports') return study === 'plan' ? plan(given) : carryOut(given);
  if (top !== 'studies') return undefined;
  if (!study) return create(given);
  if (act === 'analyse') return analyse(study);
  return act === 'opening' ? open(study, given) : undefined;
}

function fixture(name: string): unknown {
  const file = new URL(`../fixtures/${name}`, import.meta.url);
  return existsSync(file) ? JSON.parse(readFileSync(file, 'utf8')) : undefined;
}

async function body(request: IncomingMessage): Promise<Record<string, unknown>> {
  const chunks: Buffer[] = [];
  for await (const chunk of request) chunks.push(chunk as Buffer);
  return chunks.length > 0 ? (JSON.parse(Buffer.concat(chunks).toString()) as Record<string, unknown>) : {};
}

export function inventedSeason(): Plugin {
  const use = (request: IncomingMessage, response: ServerResponse, next: () => void) =>
    void answer(request, response, next);
  return {
    name: 'invented-season',
    apply: 'serve',
    configureServer: (server) => void server.middlewares.use(use),
    configurePreviewServer: (server) => void server.middlewares.use(use),
  };
}

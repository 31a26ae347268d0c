// Answers the API from the invented season in tests/fixtures, so that the pages
// can be worked on without the program. Used only by `npm run dev` without
// BRINEFIELD_URL.
import { readFileSync } from 'node:fs';
import type { IncomingMessage, ServerResponse } from 'node:http';
import type { Plugin } from 'vite';

const answers: Record<string, string> = {
  '/api/season': 'season.json',
  '/api/progress': 'progress.json',
  '/api/exposures': 'exposures.json',
  '/api/findings': 'findings.json',
  '/api/curves': 'curves.json',
};

function answer(request: IncomingMessage, response: ServerResponse, next: () => void): void {
  const path = (request.url ?? '').split('?')[0] ?? '';
  if (!path.startsWith('/api/')) return next();
  const name = answers[path] ?? (path.startsWith('/api/passes/') ? 'passes.json' : undefined);
  response.setHeader('Content-Type', 'application/json');
  const body = name && readFileSync(new URL(`../fixtures/${name}`, import.meta.url), 'utf8');
  const found = body && name === 'passes.json' ? onePass(body, path) : body;
  if (!found) {
    response.statusCode = 404;
    response.end('{"title": "Not Found", "status": 404, "detail": "not in the invented season"}');
    return;
  }
  response.end(found);
}

function onePass(body: string, path: string): string | undefined {
  const id = decodeURIComponent(path.slice('/api/passes/'.length));
  const passes = JSON.parse(body) as Record<string, unknown>;
  return id in passes ? JSON.stringify(passes[id]) : undefined;
}

export function inventedSeason(): Plugin {
  return {
    name: 'invented-season',
    apply: 'serve',
    configureServer: (server) => void server.middlewares.use(answer),
    configurePreviewServer: (server) => void server.middlewares.use(answer),
  };
}

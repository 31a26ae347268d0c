// Builds src/service-worker.ts as /service-worker.js and fills in which files the
// shell needs, under a name that changes whenever one of them does: those of the
// tablet's pages, not the laptop's. A build without such pages keeps all.
import { createHash } from 'node:crypto';
import { existsSync, readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Plugin, ResolvedConfig, Rolldown, UserConfig } from 'vite';

const name = 'service-worker.js';
const deck = '/src/deck/start.ts';

/** neededBy are the files that an entry loads at once, and those that its chunks name: styles, workers. */
function neededBy(bundle: Rolldown.OutputBundle, from: string, into: Set<string>): void {
  const chunk = bundle[from];
  if (chunk?.type !== 'chunk' || into.has(from)) return;
  into.add(from);
  for (const next of chunk.imports) neededBy(bundle, next, into);
  for (const f of Object.values(bundle))
    if (f.type === 'asset' && !f.fileName.endsWith('.css') && chunk.code.includes(f.fileName.replace(/^.*\//, '')))
      into.add(f.fileName);
  for (const css of (chunk as { viteMetadata?: { importedCss: Set<string> } }).viteMetadata?.importedCss ?? [])
    into.add(css);
}

function kept(bundle: Rolldown.OutputBundle): Set<string> {
  const chunks = Object.values(bundle).filter((f) => f.type === 'chunk');
  const start = chunks.find((c) => c.facadeModuleId?.endsWith(deck));
  const files = new Set<string>();
  if (!start) for (const f of Object.values(bundle)) files.add(f.fileName);
  else {
    for (const c of chunks) if (c.isEntry) neededBy(bundle, c.fileName, files);
    neededBy(bundle, start.fileName, files);
    files.add('index.html');
  }
  return files;
}

/**
 * workers gives the scripts of workers addresses that begin with /deck: a browser
 * asks the service worker for them only if their own address lies in its scope.
 * Below /deck/ the program has nothing but pages.
 */
export const workers: UserConfig['worker'] = {
  rolldownOptions: { output: { entryFileNames: 'deck-[name]-[hash].js' } },
};

export function serviceWorker(): Plugin {
  let config: ResolvedConfig;
  let soon: string[] = [];
  return {
    name: 'brinefield-service-worker',
    apply: 'build',
    configResolved(c) {
      config = c;
    },
    buildStart() {
      this.emitFile({
        type: 'chunk',
        id: fileURLToPath(new URL('src/service-worker.ts', import.meta.url)),
        fileName: name,
      });
    },
    generateBundle: {
      order: 'post', // when index.html is there
      handler(_options, bundle) {
        const worker = bundle[name];
        if (worker?.type !== 'chunk') return this.error('the service worker was not built');
        if (worker.imports.length > 0)
          this.error(`the service worker imports ${worker.imports.join(', ')}: it must be one script`);
        const contents = new Map<string, string | Uint8Array>();
        const wanted = kept(bundle);
        soon = [...wanted].filter((f) => /^assets\/.*\.(js|css)$/.test(f)).map((f) => `/${f}`);
        for (const f of Object.values(bundle))
          if (f !== worker && wanted.has(f.fileName)) contents.set(f.fileName, f.type === 'chunk' ? f.code : f.source);
        for (const f of config.publicDir ? readdirSync(config.publicDir) : [])
          if (!f.startsWith('.')) contents.set(f, readFileSync(join(config.publicDir, f)));
        const hash = createHash('sha256').update(worker.code);
        const files = [...contents.keys()].sort();
        for (const f of files) hash.update(`\0${f}\0`).update(contents.get(f)!);
        const cache = `brinefield-shell-${hash.digest('hex').slice(0, 16)}`;
        const precache = JSON.stringify(
          JSON.stringify({ cache, files: files.map((f) => (f === 'index.html' ? '/deck' : `/${f}`)) }),
        );
        const filled = worker.code.replace(/(["'`])%PRECACHE%\1/, () => precache);
        if (filled === worker.code) this.error('the service worker has no place for the list of files');
        worker.code = filled;
      },
    },
    // public/theme.js is copied as it is: what the tablet's pages load at once is filled in there.
    writeBundle({ dir }) {
      const theme = join(dir ?? config.build.outDir, 'theme.js');
      if (existsSync(theme)) writeFileSync(theme, readFileSync(theme, 'utf8').replace('%DECK%', soon.join(' ')));
    },
  };
}

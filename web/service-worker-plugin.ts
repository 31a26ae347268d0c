// Builds src/service-worker.ts as /service-worker.js and fills in which files the
// shell needs, under a name that changes whenever one of them does.
import { createHash } from 'node:crypto';
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Plugin, ResolvedConfig } from 'vite';

const name = 'service-worker.js';

export function serviceWorker(): Plugin {
  let config: ResolvedConfig;
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
        for (const f of Object.values(bundle))
          if (f !== worker) contents.set(f.fileName, f.type === 'chunk' ? f.code : f.source);
        for (const f of config.publicDir ? readdirSync(config.publicDir) : [])
          if (!f.startsWith('.')) contents.set(f, readFileSync(join(config.publicDir, f)));
        const hash = createHash('sha256').update(worker.code);
        const files = [...contents.keys()].sort();
        for (const f of files) hash.update(`\0${f}\0`).update(contents.get(f)!);
        const cache = `brinefield-shell-${hash.digest('hex').slice(0, 16)}`;
        const precache = JSON.stringify(
          JSON.stringify({ cache, files: files.map((f) => (f === 'index.html' ? '/' : `/${f}`)) }),
        );
        const filled = worker.code.replace(/(["'`])%PRECACHE%\1/, () => precache);
        if (filled === worker.code) this.error('the service worker has no place for the list of files');
        worker.code = filled;
      },
    },
  };
}

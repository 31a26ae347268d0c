import { fileURLToPath } from 'node:url';
import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';
import { serviceWorker, workers } from './service-worker-plugin.ts';
import { inventedSeason } from './tests/mock/plugin.ts';

// BRINEFIELD_URL is the address that `brinefield open` prints (without the
// token): the development server then hands API calls on to the program.
// Without it, an invented season answers.
const program = process.env.BRINEFIELD_URL;

export default defineConfig({
  plugins: [svelte(), program ? [] : inventedSeason(), serviceWorker()],
  resolve: {
    alias: { $lib: fileURLToPath(new URL('./src/lib', import.meta.url)) },
    // The unit tests run the state as a browser does, where what is derived follows.
    conditions: process.env.VITEST ? ['browser'] : undefined,
  },
  server: {
    host: '127.0.0.1',
    proxy: program
      ? Object.fromEntries(
          ['/api', '/dossier', '/download', '/enter', '/media', '/upload'].map((at) => [
            at,
            { target: program, changeOrigin: true },
          ]),
        )
      : undefined,
  },
  preview: { host: '127.0.0.1' },
  worker: workers,
  build: { target: 'es2022', assetsInlineLimit: 0, modulePreload: { polyfill: false } },
  test: { include: ['tests/{unit,package}/**/*.test.ts'], environment: 'node' },
});

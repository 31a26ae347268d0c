import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

// The tests of a tablet's log alone: they need a browser, but not the program.
export default defineConfig({
  resolve: { alias: { $lib: fileURLToPath(new URL('./src/lib', import.meta.url)) } },
  test: {
    include: ['tests/e2e/offline/*.test.ts'],
    environment: 'node',
    testTimeout: 60_000,
    hookTimeout: 120_000,
    fileParallelism: false,
  },
});

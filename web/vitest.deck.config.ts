import { defineConfig } from 'vitest/config';

// The tests of the tablet's pages: they need a browser and what was built (npm
// run build), but not the program.
export default defineConfig({
  test: {
    include: ['tests/e2e/deck/*.test.ts'],
    exclude: ['tests/e2e/deck/boat.test.ts', 'tests/e2e/deck/together.test.ts'],
    environment: 'node',
    testTimeout: 60_000,
    hookTimeout: 120_000,
    fileParallelism: false,
  },
});

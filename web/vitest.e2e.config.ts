import { defineConfig } from 'vitest/config';

// The whole program in a real browser. Takes the binary from BRINEFIELD_BIN,
// else ../bin/brinefield (make build).
export default defineConfig({
  test: {
    include: ['tests/e2e/**/*.test.ts'],
    globalSetup: ['tests/e2e/serve.ts'],
    environment: 'node',
    testTimeout: 60_000,
    hookTimeout: 120_000,
    // Three at a time: each has its own browser, port and folders, and mostly waits.
    maxWorkers: 3,
  },
});

import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    globalSetup: 'tests/support/built.ts',
    // Native addons (serial port, SQLite) need real processes.
    pool: 'forks',
    testTimeout: 30_000,
    hookTimeout: 60_000,
  },
});

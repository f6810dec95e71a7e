import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    globalSetup: 'tests/support/built.ts',
    // Native addons (serial port, SQLite) need real processes.
    pool: 'forks',
    // Services, browsers and meters wait more than they compute: one file each on two cores takes half the time.
    maxWorkers: 2,
    // What a page or a service comes to show is waited for as long as an action there may take.
    expect: { poll: { timeout: 60_000 } },
    // Ends what hangs; not a measure of speed.
    testTimeout: 120_000,
    hookTimeout: 120_000,
  },
});

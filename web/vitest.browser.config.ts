// Tests in a real browser against a stub of the ship's server (e2e/stub.ts). CHROMIUM names another browser.
import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: { include: ['e2e/**/*.test.ts'], environment: 'node', testTimeout: 60_000, hookTimeout: 60_000, fileParallelism: false },
});

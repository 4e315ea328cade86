// One bundle, no lazy chunks: a chunk asked for during a hole in the Wi-Fi would fail.
import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';
import { serviceWorker } from './sw/plugin.ts';

export default defineConfig({
  plugins: [svelte(), serviceWorker()],
  build: { target: 'es2022', modulePreload: false, assetsInlineLimit: 0, sourcemap: false, cssCodeSplit: false },
  server: { proxy: { '/api': 'http://127.0.0.1:8180' } },
  test: { include: ['src/**/*.test.ts', 'sw/**/*.test.ts'], environment: 'node' },
});

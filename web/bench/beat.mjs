// Measures a thousand beats of 0.3 s on a page that is busy 90 ms in every 200, with the ship's own program and
// Chromium; takes about six minutes. Run: node bench/beat.mjs [beats]. It is the browser test of the beat, made longer.
import { spawnSync } from 'node:child_process';

const beats = process.argv[2] ?? '1000';
const run = spawnSync('npx', ['vitest', 'run', '--config', 'vitest.browser.config.ts', 'e2e/beat.test.ts', '-t', 'busy'], {
  cwd: new URL('..', import.meta.url).pathname,
  env: { ...process.env, BEATS: beats },
  stdio: 'inherit',
});
process.exit(run.status ?? 1);

// The worker's list and version come from the files of the build.
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { worker } from './plugin.ts';

const template = readFileSync(new URL('./sw.js', import.meta.url), 'utf8');
const dist = mkdtempSync(join(tmpdir(), 'gangion-dist-'));
mkdirSync(join(dist, 'assets'));
const write = (name: string, text: string) => writeFileSync(join(dist, name), text);
const version = () => /VERSION = '(\w+)'/.exec(worker(template, dist))![1]!;
afterEach(() => rmSync(join(dist, 'more.json'), { force: true }));
write('index.html', '<p>');
write('assets/index-1.js', '1');

describe('the service worker', () => {
  it('verif_ lists every file, the page by its address, itself not', () => {
    write('sw.js', 'old');
    write('more.json', '{}');
    expect(JSON.parse(/FILES = (\[.*\])/.exec(worker(template, dist))![1]!)).toEqual(['/assets/index-1.js', '/', '/more.json']);
  });

  it('verif_ has another version when a file changes, comes or goes, and the same when none does', () => {
    const first = version();
    write('sw.js', 'changed');
    expect(version()).toBe(first);
    write('more.json', '{}');
    const second = version();
    write('more.json', '{ }');
    const third = version();
    expect(new Set([first, second, third]).size).toBe(3);
    rmSync(join(dist, 'more.json'));
    expect(version()).toBe(first);
  });

  it('verif_ never answers for the ship and never takes over by itself', () => {
    const listeners: Record<string, (event: Record<string, unknown>) => void> = {};
    let skipped = 0;
    const self = { addEventListener: (name: string, act: never) => (listeners[name] = act), location: { origin: 'https://ship' }, skipWaiting: () => (skipped += 1), clients: {} };
    const run = new Function('self', 'caches', 'fetch', worker(template, dist)) as (...given: unknown[]) => void;
    run(self, { open: () => Promise.resolve({ match: () => Promise.resolve('kept') }) }, () => 'fetched');
    const answered = (url: string, request: object = {}) => {
      let answer: unknown = null;
      listeners['fetch']!({ request: { url, method: 'GET', mode: 'cors', ...request }, respondWith: (given: unknown) => (answer = given) });
      return answer !== null;
    };
    for (const url of ['https://ship/api/voyage', 'https://ship/api/', 'https://ship/enrol/ship-ca.crt', 'https://ship/enrol/trust', 'https://other/', 'https://ship/nothing']) expect(answered(url, { mode: 'navigate' }), url).toBe(false);
    expect(answered('https://ship/', { method: 'POST' })).toBe(false);
    for (const url of ['https://ship/', 'https://ship/?longer', 'https://ship/index.html', 'https://ship/enrol']) expect(answered(url, { mode: 'navigate' }), url).toBe(true);
    expect(answered('https://ship/assets/index-1.js')).toBe(true);
    listeners['message']!({ data: 'something else' });
    expect(skipped).toBe(0);
    listeners['message']!({ data: 'take over' });
    expect(skipped).toBe(1);
  });
});

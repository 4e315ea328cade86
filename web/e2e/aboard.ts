// The ship's own program for tests: started, killed and started again on one port and one data folder; its journal
// read by its own command. GANGION names the program; else the debug build of this repository is taken.
import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { build } from 'vite';

const target = process.env['CARGO_TARGET_DIR'] ?? new URL('../../target', import.meta.url).pathname;
export const program = process.env['GANGION'] ?? join(target, 'debug', 'gangion');
/** SCREENS names other built screens than those of this folder. */
export const dist = process.env['SCREENS'] ?? new URL('../dist', import.meta.url).pathname;

export async function until(what: () => Promise<boolean> | boolean, why: string, within_ms = 30_000): Promise<void> {
  const end = Date.now() + within_ms;
  while (Date.now() < end) {
    if (await what()) return;
    await new Promise((done) => setTimeout(done, 50));
  }
  throw new Error(`not within ${within_ms / 1_000} s: ${why}`);
}

export const freePort = () =>
  new Promise<number>((done) => {
    const probe = createServer().listen(0, '127.0.0.1', () => {
      const { port } = probe.address() as { port: number };
      probe.close(() => done(port));
    });
  });

export class Aboard {
  port = 0;
  /** Served where `https` is wanted. */
  https_port = 0;
  https = false;
  screens = dist;
  readonly data = mkdtempSync(join(tmpdir(), 'gangion-aboard-'));
  readonly journal = join(this.data, 'voyage.journal');
  private child: ChildProcess | null = null;

  get here(): string {
    return `http://127.0.0.1:${this.port}`;
  }

  async start(...more: string[]): Promise<void> {
    if (!existsSync(program)) throw new Error(`there is no program at ${program}: run cargo build -p gangion, or name it by GANGION`);
    this.port ||= await freePort();
    this.https_port ||= await freePort();
    const https = !this.https ? [] : ['--https', `127.0.0.1:${this.https_port}`];
    this.child = spawn(program, ['serve', '--data', this.data, '--bind', `127.0.0.1:${this.port}`, ...https, '--host', 'deck.test', '--screens', this.screens, ...more], { stdio: 'ignore' });
    await until(async () => (await fetch(`${this.here}/api/health`).catch(() => null))?.ok === true, 'the ship answers', 60_000);
  }

  /** As a power cut does it. */
  async kill(): Promise<void> {
    const child = this.child;
    this.child = null;
    if (!child || child.exitCode !== null) return;
    const gone = new Promise((done) => child.once('exit', done));
    child.kill('SIGKILL');
    await gone;
  }

  async end(): Promise<void> {
    await this.kill();
    rmSync(this.data, { recursive: true, force: true });
  }

  async post<T>(path: string, body: unknown): Promise<T> {
    const answer = await fetch(`${this.here}${path}`, { method: 'POST', headers: { 'content-type': 'application/json', origin: this.here }, body: JSON.stringify(body) });
    if (!answer.ok) throw new Error(`${path}: ${answer.status} ${await answer.text()}`);
    return (answer.status === 204 ? null : await answer.json()) as T;
  }

  /** Pairs the device whose page shows the field for the code. */
  async pair(page: Page, role: string): Promise<void> {
    await page.getByLabel('Code').waitFor();
    const { code } = await this.post<{ code: string }>('/api/pairing', { role, name: `${role} tablet` });
    await page.getByLabel('Code').fill(code);
    await page.getByRole('button', { name: /^Pair/ }).tap();
    await until(async () => (await page.getByLabel('Code').count()) === 0 && (await page.locator('.link').innerText()) === 'Ship answers', 'paired');
  }

  run(...args: string[]): string {
    return execFileSync(program, args, { encoding: 'utf8', maxBuffer: 1 << 28 });
  }

  /** Every body in the journal, byte for byte, in ship order. The program must not be running, or not mind. */
  bodies(): string[] {
    const lines = this.run('journal', 'export', '--journal', this.journal).split('\n').filter(Boolean);
    return lines.map((line) => (JSON.parse(line) as { body: string }).body);
  }
}

/** The device's own outbox as a script: a second tab of the same device, which taps without a finger. */
export async function outboxScript(): Promise<string> {
  const built = await build({
    configFile: false,
    logLevel: 'silent',
    build: { write: false, minify: false, lib: { entry: new URL('../src/outbox/outbox.ts', import.meta.url).pathname, formats: ['iife'], name: 'SecondTab' } },
  });
  const [first] = Array.isArray(built) ? built : [built];
  if (!first || !('output' in first)) throw new Error('the outbox was not built');
  return `${first.output[0].code}\n;globalThis.SecondTab = SecondTab;`;
}

export interface Log {
  device: string;
  texts: string[];
  aside: number;
}

/** What lies in the store of a page's device. */
export function storeOf(page: Page): Promise<Log> {
  return page.evaluate(
    () =>
      new Promise<Log>((done, fail) => {
        const opening = indexedDB.open('gangion');
        opening.onerror = () => fail(opening.error);
        opening.onsuccess = () => {
          const database = opening.result;
          const transaction = database.transaction(['device', 'events']);
          const device = transaction.objectStore('device').get('me');
          const events = transaction.objectStore('events').getAll();
          transaction.oncomplete = () => {
            database.close();
            const kept = events.result as { text: string; state: string }[];
            done({ device: (device.result as { device: string }).device, texts: kept.map((one) => one.text), aside: kept.filter((one) => one.state === 'aside').length });
          };
        };
      }),
  );
}

/** Taps so many times through the second tab, so many a second or (without) as fast as it goes; answers the texts that were told as kept. */
export function tap(page: Page, count: number, a_second: number | null, mark: string): Promise<string[]> {
  return page.evaluate(
    async ([count, a_second, mark]) => {
      interface Box {
        put(happening: object): Promise<{ text: string }>;
        close(): void;
      }
      const { SecondTab } = globalThis as unknown as { SecondTab: { Outbox: { open(): Promise<Box> } } };
      const box = await SecondTab.Outbox.open();
      const kept: string[] = [];
      const begun = performance.now();
      const happening = (at: number) => ({ kind: 'note', data: { text: `${mark} ${at}` } });
      for (let at = 0; a_second === null && at < count; at += 250) {
        const many = Array.from({ length: Math.min(250, count - at) }, (_, more) => box.put(happening(at + more)));
        kept.push(...(await Promise.all(many)).map((one) => one.text));
      }
      for (let at = 0; a_second !== null && at < count; at++) {
        const wait_ms = begun + (at * 1_000) / a_second - performance.now();
        if (wait_ms > 0) await new Promise((done) => setTimeout(done, wait_ms));
        kept.push((await box.put(happening(at))).text);
      }
      box.close();
      return kept;
    },
    [count, a_second, mark] as const,
  );
}

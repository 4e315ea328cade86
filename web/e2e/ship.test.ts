// The screens with the ship's own program: paired by a code over a plain http name, setting the demo's second set,
// the program killed in mid-set. GANGION names the program; else the debug build of this repository is taken.
import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { device, launch } from './launch.ts';

const target = process.env['CARGO_TARGET_DIR'] ?? new URL('../../target', import.meta.url).pathname;
const program = process.env['GANGION'] ?? join(target, 'debug', 'gangion');
const dist = new URL('../dist', import.meta.url).pathname;
let browser: Browser;
let ship: ChildProcess | null = null;
let data: string;
let port: number;

async function until(what: () => Promise<boolean> | boolean, why: string, tries = 600): Promise<void> {
  for (let round = 0; round < tries; round++) {
    if (await what()) return;
    await new Promise((done) => setTimeout(done, 50));
  }
  throw new Error(`not in time: ${why}`);
}
const here = () => `http://127.0.0.1:${port}`;
async function start(): Promise<void> {
  ship = spawn(program, ['serve', '--data', data, '--demo', '--speed', '1', '--bind', `127.0.0.1:${port}`, '--host', 'deck.test', '--screens', dist], { stdio: 'ignore' });
  await until(async () => (await fetch(`${here()}/api/health`).catch(() => null))?.ok === true, 'the ship answers', 1_200);
}
async function events(kind: string): Promise<{ id: string; device: string; data: Record<string, unknown> }[]> {
  const head = ((await (await fetch(`${here()}/api/voyage`)).json()) as { cursor: string }).cursor;
  const [epoch, last] = [head.slice(0, head.lastIndexOf('.')), Number(head.slice(head.lastIndexOf('.') + 1))];
  const rows = (await (await fetch(`${here()}/api/events?after=${epoch}.${Math.max(0, last - 500)}&limit=500`)).json()) as { events: { event: { id: string; device: string; kind: string; data: Record<string, unknown> } }[] };
  return rows.events.map((row) => row.event).filter((event) => event.kind === kind);
}
const unsent = (page: Page) => page.locator('.queue').getAttribute('data-unsent');

beforeAll(async () => {
  if (!existsSync(program)) throw new Error(`there is no program at ${program}: run cargo build -p gangion, or name it by GANGION`);
  browser = await launch();
  data = mkdtempSync(join(tmpdir(), 'gangion-screens-'));
  port = await new Promise<number>((done) => {
    const probe = createServer().listen(0, '127.0.0.1', () => {
      const { port } = probe.address() as { port: number };
      probe.close(() => done(port));
    });
  });
  await start();
}, 120_000);
afterAll(async () => {
  await browser?.close();
  ship?.kill('SIGKILL');
  if (data) rmSync(data, { recursive: true, force: true });
});

describe('with the ship’s own program', () => {
  it('regress_ a tablet is paired, follows the beat, and loses nothing when the program is killed in mid-set', async () => {
    const { page, faults } = await device(browser, { width: 1024, height: 768 });
    await page.goto(`http://deck.test:${port}/#/stern`);
    await page.getByRole('button', { name: /^Pair/ }).waitFor();
    const made = await fetch(`${here()}/api/pairing`, { method: 'POST', headers: { 'content-type': 'application/json', origin: here() }, body: JSON.stringify({ role: 'stern', name: 'stern tablet' }) });
    expect(made.status).toBe(200);
    const { code } = (await made.json()) as { code: string };
    await page.getByLabel('Code').fill('00000000');
    await page.getByRole('button', { name: /^Pair/ }).tap();
    await page.getByRole('alert').waitFor();
    // A key is deaf for a moment after it was heard.
    await page.waitForTimeout(400);
    await page.getByLabel('Code').fill(code);
    await page.getByRole('button', { name: /^Pair/ }).tap();
    await until(async () => /\d/.test(await page.locator('h1').first().innerText()), 'the beat on the stern');
    await until(async () => (await unsent(page)) === '0', 'all kept');

    const float = page.getByRole('button', { name: /^Float .* clipped now/ });
    await float.tap();
    await until(async () => (await unsent(page)) === '0', 'the first float kept');
    ship!.kill('SIGKILL');
    await until(async () => (await page.locator('.link').innerText()) === 'No answer from the ship', 'the dead link told');
    await page.keyboard.press('f');
    await page.waitForTimeout(400);
    await page.getByRole('button', { name: /^STOP/ }).tap();
    await until(async () => Number(await unsent(page)) >= 2, 'two waiting');
    await start();
    await until(async () => (await unsent(page)) === '0', 'all kept again');
    const [stop] = await events('stop_started');
    expect(stop).toBeDefined();
    const own = (await events('float_clipped')).filter((event) => event.device === stop!.device);
    expect(own.length).toBe(2);
    expect(new Set(own.map((event) => event.id)).size).toBe(2);
    expect(own.every((event) => Number.isInteger(event.data['place']))).toBe(true);
    expect(faults).toEqual([]);
  }, 180_000);
});

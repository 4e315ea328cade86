// A tablet enrolled for https in a real browser: the way over, the self-test, the screens without the ship, new screens.
//
// The ship's authority is trusted through an NSS database of the browser's own where `certutil` (Debian: libnss3-tools)
// is there; else by its public key (--ignore-certificate-errors-spki-list), which shows the same but for the trust.
import { execFileSync, spawnSync } from 'node:child_process';
import { createHash, X509Certificate } from 'node:crypto';
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Aboard, dist, outboxScript, storeOf, tap, until } from './aboard.ts';
import { device, launch } from './launch.ts';

let ship: Aboard;
let browser: Browser;
let second_tab: string;
let home: string;

const unsent = async (page: Page) => Number(await page.locator('.queue').getAttribute('data-unsent'));
const plain = () => `http://deck.test:${ship.port}`;
const secure = () => `https://deck.test:${ship.https_port}`;
const tick = (page: Page, name: string) => page.locator(`[data-tick="enrol-tick-${name}"]`).getAttribute('data-good');

/** Has the browser trust the ship's authority and says how. */
function trusting(authority: Buffer): { how: string; more: string[]; environment: Record<string, string> } {
  if (spawnSync('certutil', ['-H']).error) {
    const key = new X509Certificate(authority).publicKey.export({ type: 'spki', format: 'der' });
    return { how: 'by its public key', more: [`--ignore-certificate-errors-spki-list=${createHash('sha256').update(key).digest('base64')}`], environment: {} };
  }
  const database = join(home, '.pki', 'nssdb');
  mkdirSync(database, { recursive: true });
  const file = join(home, 'ship-ca.crt');
  writeFileSync(file, authority);
  execFileSync('certutil', ['-d', `sql:${database}`, '-N', '--empty-password']);
  execFileSync('certutil', ['-d', `sql:${database}`, '-A', '-t', 'C,,', '-n', 'ship', '-i', file]);
  return { how: 'through an NSS database', more: [], environment: { HOME: home } };
}

beforeAll(async () => {
  second_tab = await outboxScript();
  home = mkdtempSync(join(tmpdir(), 'gangion-home-'));
  ship = new Aboard();
  ship.https = true;
  ship.screens = join(home, 'screens');
  cpSync(dist, ship.screens, { recursive: true });
  await ship.start();
  await ship.post('/api/events', { id: '019cdb86-0528-70b3-8fb3-000000000001', device: 'bridge-test', device_seq: 1, kind: 'voyage_opened', version: 1, happened_at: new Date().toISOString(), happened_basis: 'typed', boot: null, monotonic_ms: null, person: null, set: null, haul: null, data: { vessel: {}, utc_offset_min: 600 } });
  const { how, more, environment } = trusting(Buffer.from(await (await fetch(`${ship.here}/enrol/ship-ca.crt`)).arrayBuffer()));
  console.log(`the ship's authority is trusted ${how}`);
  browser = await launch('MAP *.test 127.0.0.1', more, environment);
}, 120_000);
afterAll(async () => {
  await browser?.close();
  await ship?.end();
  if (home) rmSync(home, { recursive: true, force: true });
});

describe('by https', () => {
  it('verif_ a tablet goes over only when nothing waits, and then opens without the ship', async () => {
    const { page, context, faults } = await device(browser, { width: 1280, height: 800 });
    await context.addInitScript({ content: second_tab });
    // When the queue is first in sight after the page was opened.
    await context.addInitScript(() => {
      const look = new MutationObserver(() => {
        const queue = document.querySelector('.queue');
        if (Number(queue?.getAttribute('data-unsent')) < 1) return;
        (globalThis as { usable_ms?: number }).usable_ms ??= performance.now();
        look.disconnect();
      });
      look.observe(document, { subtree: true, childList: true, attributes: true });
    });
    await page.goto(`${plain()}/enrol`);
    await until(async () => (await tick(page, 'trusted')) === 'true', 'the certificate is trusted');
    expect([await tick(page, 'secure'), await tick(page, 'worker'), await tick(page, 'store'), await tick(page, 'clock')]).toEqual(['false', 'false', 'true', 'true']);
    const authority = new X509Certificate(Buffer.from(await (await fetch(`${ship.here}/enrol/ship-ca.crt`)).arrayBuffer()));
    expect(await page.locator('.print').innerText()).toBe(authority.fingerprint256);
    // What waits under the old address holds the way shut, and is named.
    await tap(page, 3, 100, 'under http');
    await page.getByText('3 events wait here; send them first').waitFor();
    const over = page.getByRole('button', { name: 'Open it' });
    expect(await over.isDisabled()).toBe(true);
    await page.goto(`${plain()}/#/queue`);
    await ship.pair(page, 'rail');
    await until(async () => (await unsent(page)) === 0, 'all kept');
    await page.goto(`${plain()}/enrol`);
    await until(async () => !(await over.isDisabled()), 'the way is open');
    await over.tap();
    await page.waitForURL(`${secure()}/enrol`);
    for (const name of ['trusted', 'secure', 'store', 'worker', 'clock']) await until(async () => (await tick(page, name)) === 'true', name);
    await page.getByRole('button', { name: 'To the screens' }).tap();
    await page.waitForURL(`${secure()}/`);

    // Another store, another pairing.
    await page.goto(`${secure()}/#/queue`);
    await ship.pair(page, 'rail');
    await until(async () => (await unsent(page)) === 0, 'all kept');
    await ship.kill();
    const kept = await tap(page, 10, 100, 'no ship');
    await until(async () => (await unsent(page)) >= 10, '10 wait');
    const times: number[] = [];
    for (let round = 0; round < 5; round++) {
      await page.reload();
      await until(async () => (await unsent(page)) >= 10, 'they wait after the reload too');
      times.push(await page.evaluate(() => (globalThis as unknown as { usable_ms: number }).usable_ms));
    }
    console.log(`usable after an offline reload: ${times.map((ms) => Math.round(ms)).join(', ')} ms`);
    expect(await page.evaluate(() => fetch('/api/health').then(() => 'answered', () => 'no answer')), 'the worker never answers for the ship').toBe('no answer');
    await ship.start();
    await until(async () => (await unsent(page)) === 0, 'all kept again');
    const bodies = ship.bodies();
    expect(kept.every((text) => bodies.filter((body) => body === text).length === 1)).toBe(true);
    expect((await storeOf(page)).aside).toBe(0);
    expect(faults).toEqual([]);
    await context.close();
  }, 120_000);

  it('verif_ new screens wait until no set is laid, and old ones are thrown away', async () => {
    const { page, context } = await device(browser, { width: 1280, height: 800 });
    await page.goto(`${secure()}/#/queue`);
    await ship.pair(page, 'stern');
    // Within the first minute of its first worker Chromium 156 puts off every question for a newer one.
    await page.evaluate(() => navigator.serviceWorker.ready.then((registration) => registration.update()).then(() => true));
    const caches = () => page.evaluate(() => globalThis.caches.keys());
    const [first] = await caches();
    const event = (seq: number, kind: string, id = `019cdb86-0528-70b3-8fb3-00000000001${seq}`) =>
      ship.post('/api/events', { id, device: 'bridge-test', device_seq: 10 + seq, kind, version: 1, happened_at: new Date().toISOString(), happened_basis: 'typed', boot: null, monotonic_ms: null, person: null, set: null, haul: null, data: kind === 'setting_started' ? {} : { last_place: 3, hooks_after: 0 } });
    await event(1, 'setting_started');
    await ship.kill();
    const worker = join(ship.screens, 'sw.js');
    writeFileSync(worker, readFileSync(worker, 'utf8').replace(/VERSION = '\w+'/, "VERSION = 'another'"));
    await ship.start();
    await page.getByText('they wait until no set is being laid').waitFor();
    const banner = page.getByRole('button', { name: 'Take them now' });
    expect(await banner.count()).toBe(0);
    await event(2, 'setting_ended');
    await banner.waitFor();
    expect(await caches()).toContain(first);
    await Promise.all([page.waitForEvent('load'), banner.tap()]);
    await until(async () => (await caches().catch(() => [])).join() === 'gangion-another', 'only the new ones are kept');
    expect(await page.getByText('New screens lie ready').count()).toBe(0);
    await context.close();
  }, 90_000);

  it('verif_ a wheelhouse elsewhere is opened by its pairing and the PIN', async () => {
    await ship.post('/api/pin', { pin: '4711' });
    const opened = await fetch(`${ship.here}/api/pin/unlock`, { method: 'POST', headers: { 'content-type': 'application/json', origin: ship.here }, body: '{"pin":"4711"}' });
    const cookie = opened.headers.get('set-cookie')!.split(';')[0]!;
    const made = await fetch(`${ship.here}/api/pairing`, { method: 'POST', headers: { 'content-type': 'application/json', origin: ship.here, cookie }, body: '{"role":"wheelhouse"}' });
    const { addresses } = (await made.json()) as { addresses: string[] };
    const { page, context } = await device(browser);
    await page.goto(addresses[0]!);
    await page.getByRole('button', { name: /^Pair/ }).tap();
    await until(async () => (await page.locator('.link').innerText()) === 'Ship answers', 'paired');
    await page.goto(`${secure()}/#/devices`);
    expect(await page.getByRole('button', { name: 'Show a code' }).count(), 'locked').toBe(0);
    await page.getByRole('button', { name: 'Open the wheelhouse' }).tap();
    await page.getByRole('dialog').waitFor();
    for (const digit of '4711') {
      await page.getByRole('button', { name: digit, exact: true }).tap();
      // A key is deaf for a moment after it was heard.
      await page.waitForTimeout(320);
    }
    await page.getByRole('button', { name: 'Keep' }).tap();
    await page.getByRole('button', { name: 'Show a code' }).waitFor();
    // It may pair another wheelhouse in its turn, by https only.
    await page.getByRole('button', { name: /^Wheelhouse/ }).tap();
    await page.getByRole('button', { name: 'Show a code' }).tap();
    await until(async () => (await page.locator('.addresses').innerText()).includes('https://'), 'the address');
    expect(await page.locator('.addresses').innerText()).not.toContain('http://');
    await context.close();
  }, 60_000);

  it('verif_ the ship’s own computer opens without its program too', async () => {
    const { page, context } = await device(browser);
    await page.goto(`http://localhost:${ship.port}/#/queue`);
    await page.evaluate(() => navigator.serviceWorker.ready.then(() => true));
    await ship.kill();
    await page.reload();
    await page.getByRole('heading', { level: 1 }).waitFor();
    await ship.start();
    await context.close();
  }, 60_000);
});

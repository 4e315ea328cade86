// A haul of the demo's second set from two windows with the ship's own program: the rail's network is pulled (by the
// browser and by a proxy that swallows every answer), work goes on, and the report has every fish and float once.
import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createServer as createHttp, request, type Server, type ServerResponse } from 'node:http';
import { createRequire } from 'node:module';
import { createServer } from 'node:net';
import { cpus, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { device, launch } from './launch.ts';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const target = process.env['CARGO_TARGET_DIR'] ?? new URL('../../target', import.meta.url).pathname;
const program = process.env['GANGION'] ?? join(target, 'debug', 'gangion');
const dist = new URL('../dist', import.meta.url).pathname;
let browser: Browser;
let ship: ChildProcess | null = null;
let data: string;
let port: number;
let proxy: Proxy;
let rail: Page;
let rail_context: BrowserContext;
let wheelhouse: Page;
const faults: string[][] = [];

/** Stands between the rail and the ship. In the hole requests are taken and never answered, as on dead Wi-Fi. */
class Proxy {
  hole = false;
  /** The page itself still comes, as from a service worker; the ship does not answer. */
  mute = false;
  port = 0;
  private server: Server | null = null;
  private held = new Set<ServerResponse>();

  start(): Promise<void> {
    this.server = createHttp((incoming, outgoing) => {
      this.held.add(outgoing);
      outgoing.on('close', () => this.held.delete(outgoing));
      if (this.hole || (this.mute && incoming.url?.startsWith('/api/'))) return;
      const headers = { ...incoming.headers, host: `deck.test:${port}` } as Record<string, string | string[]>;
      if (headers['origin']) headers['origin'] = `http://deck.test:${port}`;
      if (headers['referer']) headers['referer'] = `http://deck.test:${port}/`;
      const on = request({ host: '127.0.0.1', port, path: incoming.url, method: incoming.method, headers }, (answer) => {
        if (this.hole) return;
        outgoing.writeHead(answer.statusCode ?? 502, answer.headers);
        answer.on('data', (part) => !this.hole && outgoing.write(part));
        answer.on('end', () => !this.hole && outgoing.end());
      });
      on.on('error', () => outgoing.destroy());
      outgoing.on('close', () => on.destroy());
      incoming.pipe(on);
    });
    return new Promise((done) => this.server!.listen(0, '127.0.0.1', () => {
      this.port = (this.server!.address() as { port: number }).port;
      done();
    }));
  }

  /** The way is open again; what hung in the hole is lost. */
  open(): void {
    this.hole = this.mute = false;
    for (const one of this.held) one.destroy();
  }

  stop(): void {
    this.server?.closeAllConnections();
    this.server?.close();
  }
}

async function until(what: () => Promise<boolean> | boolean, why: string, tries = 800): Promise<void> {
  for (let round = 0; round < tries; round++) {
    if (await what()) return;
    await new Promise((done) => setTimeout(done, 50));
  }
  throw new Error(`not in time: ${why}`);
}
const here = () => `http://127.0.0.1:${port}`;
const ask = async <T>(path: string): Promise<T> => (await (await fetch(here() + path)).json()) as T;
const unsent = (page: Page) => page.locator('.queue').getAttribute('data-unsent');
const key = (page: Page, name: RegExp) => page.getByRole('button', { name }).first();
/** A key is deaf for a moment after it was heard. */
const breath = (page: Page) => page.waitForTimeout(320);
/** What lies over the keys is what is tapped. */
async function tap(page: Page, name: RegExp): Promise<void> {
  const over = page.getByRole('dialog').last().getByRole('button', { name }).first();
  await ((await over.count()) > 0 ? over : key(page, name)).tap({ timeout: 8_000 });
  await breath(page);
}
/** By the screen's own keys: a device keeps its palette. */
async function light(page: Page, name: string): Promise<void> {
  await tap(page, /^Screen$/);
  await tap(page, new RegExp(`^${name}$`));
  await tap(page, /^Close$/);
  await page.waitForTimeout(600);
}
interface Row { event: { id: string; device: string; kind: string; set: string | null; data: Record<string, unknown> } }
async function rows(): Promise<Row['event'][]> {
  const { cursor } = await ask<{ cursor: string }>('/api/voyage');
  const [epoch, last] = [cursor.slice(0, cursor.lastIndexOf('.')), Number(cursor.slice(cursor.lastIndexOf('.') + 1))];
  return (await ask<{ events: Row[] }>(`/api/events?after=${epoch}.${Math.max(0, last - 900)}&limit=900`)).events.map((row) => row.event);
}

beforeAll(async () => {
  if (!existsSync(program)) throw new Error(`there is no program at ${program}: run cargo build -p gangion, or name it by GANGION`);
  browser = await launch();
  data = mkdtempSync(join(tmpdir(), 'gangion-haul-'));
  port = await new Promise<number>((done) => {
    const probe = createServer().listen(0, '127.0.0.1', () => {
      const { port } = probe.address() as { port: number };
      probe.close(() => done(port));
    });
  });
  ship = spawn(program, ['serve', '--data', data, '--demo', '--speed', '20000', '--bind', `127.0.0.1:${port}`, '--host', 'deck.test', '--screens', dist], { stdio: 'ignore' });
  await until(async () => (await fetch(`${here()}/api/health`).catch(() => null))?.ok === true, 'the ship answers', 2_400);
  // The set is out, and the demo waits for a person: its clock goes as every clock.
  await until(async () => {
    const sets = (await ask<{ sets: { number: number; stage: string }[] }>('/api/voyage')).sets;
    return sets.some((set) => set.number === 2 && set.stage === 'soaking') && (await ask<{ rate?: number }>('/api/clock')).rate === 1;
  }, 'the second set soaks', 2_400);
  proxy = new Proxy();
  await proxy.start();
  const tablet = await device(browser);
  [rail, rail_context] = [tablet.page, tablet.context];
  const bridge = await device(browser, { width: 1920, height: 1080 }, 'dusk');
  wheelhouse = bridge.page;
  faults.push(tablet.faults, bridge.faults);
  await wheelhouse.goto(`${here()}/#/haul`);
  await rail.goto(`http://deck.test:${proxy.port}/#/haul`);
  await rail.getByRole('button', { name: /^Pair/ }).waitFor();
  const made = await fetch(`${here()}/api/pairing`, { method: 'POST', headers: { 'content-type': 'application/json', origin: here() }, body: JSON.stringify({ role: 'rail', name: 'rail tablet' }) });
  const { code } = (await made.json()) as { code: string };
  await rail.getByLabel('Code').fill(code);
  await rail.getByRole('button', { name: /^Pair/ }).tap();
  await key(rail, /^From the last end/).waitFor();
  await until(async () => (await unsent(rail)) === '0' && (await rail.locator('.start p').first().innerText()).includes('181 floats'), 'the line on the rail');
}, 240_000);
afterAll(async () => {
  await browser?.close();
  proxy?.stop();
  ship?.kill('SIGKILL');
  if (data) rmSync(data, { recursive: true, force: true });
});

describe('the haul with the ship’s own program', () => {
  const float = () => tap(rail, /^(Float|Buoy) .* hauled/);
  /** What the rail was told to keep: fish by how they began. */
  let fish = 0;
  let floats = 0;
  const caught = async (name: RegExp) => {
    await tap(rail, name);
    fish += 1;
  };

  it('regress_ network pulled twice, work goes on, every fish and float is in the report once', async () => {
    await tap(rail, /^From the last end/);
    await rail.getByRole('button', { name: /^(Float|Buoy) .* hauled/ }).waitFor();
    for (let one = 0; one < 4; one++) {
      await float();
      floats += 1;
      await rail.waitForTimeout(700);
    }
    await caught(/^Bigeye/);
    await tap(rail, /^Alive/);
    await tap(rail, /^Size/);
    await tap(rail, /^Large/);
    // By the browser's own switch.
    await rail_context.setOffline(true);
    await caught(/^Albacore/);
    await float();
    await caught(/^Yellowfin/);
    await float();
    floats += 2;
    // The fish of a wrong tap is taken back while there is no ship.
    await tap(rail, /^Swordfish/);
    await rail.locator('.entries button').first().tap();
    await breath(rail);
    expect(await rail.locator('.entries button').first().innerText()).not.toContain('Swordfish');
    await tap(wheelhouse, /^SHARK!/);
    await rail_context.setOffline(false);
    await until(async () => (await unsent(rail)) === '0', 'all kept after the first hole');
    await rail.getByRole('alert').getByText('SHARK AT THE RAIL').waitFor();
    await tap(rail, /^Over: clear/);
    // By a network that takes everything and answers nothing.
    proxy.hole = true;
    for (let one = 0; one < 3; one++) {
      await caught(/^Albacore/);
      await float();
      floats += 1;
    }
    await tap(rail, /^Float not found/);
    await caught(/^Lost at the rail/);
    await caught(/^Bitten/);
    await caught(/^Turtle/);
    await tap(rail, /^Put aside/);
    await until(async () => Number(await unsent(rail)) >= 10, 'waiting in the hole');
    // The tablet goes on by its own projection: the float after the missing one is expected.
    const expected = await key(rail, /^(Float|Buoy) .* hauled/).innerText();
    await float();
    floats += 1;
    expect(await key(rail, /^(Float|Buoy) .* hauled/).innerText()).not.toBe(expected);
    proxy.open();
    await until(async () => (await unsent(rail)) === '0', 'all kept after the hole');
    // The wheelhouse goes on with the same haul and sees what the rail kept.
    await until(async () => (await wheelhouse.locator('.float-key').innerText()) === (await rail.locator('.float-key').innerText()), 'one next float in both windows');
    await tap(wheelhouse, /^Albacore/);
    fish += 1;
    await tap(rail, /^More …/);
    await tap(rail, /^Cards put aside/);
    await tap(rail, /^Turtle/);
    for (const answer of [/^1/, /^2/, /^Lively/, /^Mouth/, /^None/]) await tap(rail, answer);
    await tap(rail, /^It is free/);
    await until(async () => (await unsent(rail)) === '0' && (await unsent(wheelhouse)) === '0', 'all kept');

    const events = await rows();
    const set = events.find((event) => event.kind === 'haul_started')!.set;
    const kept = (await ask<{ id: string; species?: string; fate: string; began_as: string; basket?: number; condition?: string }[]>('/api/sets/2/fish'));
    expect(kept.length).toBe(fish);
    expect(new Set(kept.map((one) => one.id)).size).toBe(fish);
    expect(kept.filter((one) => one.species === 'ALB').length).toBe(5);
    expect(kept.some((one) => one.species === 'SWO')).toBe(false);
    expect(kept.every((one) => one.basket != null)).toBe(true);
    expect(kept.find((one) => one.species === 'BET')).toMatchObject({ fate: 'retained', condition: 'alive' });
    expect(kept.find((one) => one.species === 'TTX')).toMatchObject({ fate: 'released', condition: 'alive_lively' });
    const released = events.find((event) => event.kind === 'released')!;
    expect(released.data).toMatchObject({ hooked: 'mouth', gear_left_m: 0, handling: ['ship slowed, line eased', 'lifted by the shell or in a net'] });
    const places = await ask<{ place: number; hauled_utc?: string | null; missing: boolean }[]>('/api/sets/2/places');
    expect(places.filter((one) => one.hauled_utc).length).toBe(floats);
    expect(places.filter((one) => one.missing).length).toBe(1);
    // One after another from the last place, the missing one left out: nothing hauled twice, nothing skipped.
    const up = places.filter((one) => one.hauled_utc || one.missing).map((one) => one.place);
    expect(up).toEqual(Array.from({ length: floats + 1 }, (_, at) => 181 - floats + at));
    const at_rail = events.filter((event) => event.kind === 'float_hauled' || event.kind === 'radio_buoy_recovered');
    expect(new Set(at_rail.map((event) => event.data['place'])).size).toBe(at_rail.length);
    expect(events.filter((event) => event.kind === 'landed').every((event) => event.set === set)).toBe(true);
    const { report } = await ask<{ report: { hooks_hauled: number; hooks_in_water: number; hooks_set: number; doubts: { kind: string }[] } }>('/api/sets/2');
    expect(report.hooks_hauled + report.hooks_in_water).toBe(report.hooks_set);
    expect(report.doubts.map((doubt) => doubt.kind)).not.toContain('hauled_twice');
    for (const list of faults) expect(list).toEqual([]);
  }, 240_000);

  it('verif_ the line parts: the part ends, and the other end begins another', async () => {
    await tap(rail, /^Parted/);
    await key(rail, /^From the first end/).waitFor();
    expect(await rail.locator('h1').first().innerText()).toBe('Where does the haul go on?');
    await tap(rail, /^From the first end/);
    await float();
    floats += 1;
    await until(async () => (await unsent(rail)) === '0', 'all kept');
    const { report } = await ask<{ report: { hauling: { parts: { direction: string; reason?: string | null; from_place: number }[] } } }>('/api/sets/2');
    expect(report.hauling.parts).toMatchObject([{ direction: 'to_first', reason: 'parted', from_place: 181 }, { direction: 'to_last', from_place: 1 }]);
  }, 60_000);

  it('regress_ a page reloaded without the ship goes on with the haul where it was', async () => {
    await rail.waitForTimeout(2_000);
    proxy.mute = true;
    await float();
    floats += 1;
    await caught(/^Bigeye/);
    await rail.waitForTimeout(2_000);
    const [next, last] = [await rail.locator('.float-key').innerText(), await rail.locator('.entries button').first().innerText()];
    await rail.reload();
    await rail.locator('.float-key').waitFor();
    expect(await rail.locator('.float-key').innerText()).toBe(next);
    expect(await rail.locator('.entries button').first().innerText()).toBe(last);
    await float();
    floats += 1;
    expect(await rail.locator('.float-key').innerText()).not.toBe(next);
    expect(Number(await unsent(rail))).toBeGreaterThanOrEqual(3);
    proxy.open();
    await until(async () => (await unsent(rail)) === '0', 'all kept');
    const places = await ask<{ hauled_utc?: string | null }[]>('/api/sets/2/places');
    expect(places.filter((one) => one.hauled_utc).length).toBe(floats);
    const kept = await ask<{ id: string }[]>('/api/sets/2/fish');
    expect(kept.length).toBe(fish);
  }, 90_000);

  it('verif_ axe finds nothing, in three palettes', async () => {
    for (const palette of ['Day', 'Dusk', 'Night']) {
      await light(rail, palette);
      const look = async () => {
        await rail.evaluate(AXE);
        const found = await rail.evaluate(() => (window as unknown as { axe: { run: (options: object) => Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> } }).axe.run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa'] }));
        expect(found.violations.map((one) => `${palette} ${one.id}: ${one.nodes.map((node) => node.html).join(' ').slice(0, 300)}`)).toEqual([]);
      };
      await look();
      await tap(rail, /^More …/);
      await look();
      await tap(rail, /^Cautions/);
      await look();
      await tap(rail, /^Back/);
    }
  }, 120_000);

  it('verif_ keys are 20 mm and more, the first row 25 mm; float hauled is the largest after man overboard', async () => {
    for (const [width, height] of [[1280, 800], [962, 601]] as const) {
      await rail.setViewportSize({ width, height });
      // 217 mm of glass on a ten-inch tablet.
      await rail.evaluate((px) => localStorage.setItem('px_per_mm', String(px)), width / 217);
      await rail.reload();
      await rail.locator('.float-key').waitFor();
      await rail.waitForTimeout(500);
      const sizes = await rail.evaluate((px) => [...document.querySelectorAll('.haul button, .mob')].map((button) => {
        const box = button.getBoundingClientRect();
        return { what: button.textContent!.trim(), row: button.closest('.first') ? 'first' : button.closest('.float-key') ? 'float' : button.className.includes('mob') ? 'mob' : '', w: box.width / px, h: box.height / px, right: box.right, bottom: box.bottom };
      }), width / 217);
      expect(sizes.length).toBeGreaterThan(24);
      for (const one of sizes) {
        expect(Math.min(one.w, one.h), `${width}: ${one.what}`).toBeGreaterThanOrEqual(one.row === 'first' ? 24.9 : 19.9);
        expect(one.right <= width && one.bottom <= height, `${width}: ${one.what} is on the screen`).toBe(true);
      }
      const area = (row: string) => Math.max(...sizes.filter((one) => one.row === row).map((one) => one.w * one.h));
      expect(area('mob')).toBeGreaterThanOrEqual(area('float'));
      expect(area('float')).toBeGreaterThan(area('first'));
    }
    await rail.setViewportSize({ width: 1280, height: 800 });
    await rail.evaluate(() => localStorage.setItem('px_per_mm', '5.9'));
  }, 60_000);

  it('verif_ at night the screen gives little light, and hardly any blue', async () => {
    const measured = async (palette: string) => {
      await light(rail, palette);
      const picture = (await rail.screenshot()).toString('base64');
      return rail.evaluate(async (picture) => {
        const image = new Image();
        image.src = `data:image/png;base64,${picture}`;
        await image.decode();
        const canvas = new OffscreenCanvas(image.width, image.height);
        const ctx = canvas.getContext('2d')!;
        ctx.drawImage(image, 0, 0);
        const { data } = ctx.getImageData(0, 0, image.width, image.height);
        const linear = (value: number) => (value / 255 <= 0.04045 ? value / 255 / 12.92 : ((value / 255 + 0.055) / 1.055) ** 2.4);
        let [sum, blue, red, most] = [0, 0, 0, 0];
        for (let at = 0; at < data.length; at += 4) {
          const [r, g, b] = [linear(data[at]!), linear(data[at + 1]!), linear(data[at + 2]!)];
          const y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
          sum += y;
          red += r;
          blue += b;
          most = Math.max(most, y);
        }
        return { mean: sum / (data.length / 4), most, blue: blue / red };
      }, picture);
    };
    const [day, night] = [await measured('Day'), await measured('Night')];
    console.log(`haul screen, mean relative luminance: day ${day.mean.toFixed(3)}, night ${night.mean.toFixed(4)}, brightest at night ${night.most.toFixed(3)}, blue/red at night ${night.blue.toFixed(3)}`);
    // Common practice, no source: as on the other screens a mean under 0.02, and no pixel brighter than a third of white.
    expect(night.mean).toBeLessThan(0.02);
    expect(night.most).toBeLessThan(0.34);
    expect(night.blue).toBeLessThan(0.1);
  }, 60_000);

  it('regress_ a tap is answered within 100 ms at a quarter of the speed, 95 of 100', async () => {
    await light(rail, 'Dusk');
    const session = await rail_context.newCDPSession(rail);
    await session.send('Emulation.setCPUThrottlingRate', { rate: 4 });
    // From the finger's lifting to the frame after the key shows it, and to the entry in the list. What this computer
    // needs for a frame that shows next to nothing is measured in the same way, between the taps, and told beside it.
    await rail.evaluate(() => {
      const seen = { key: [] as number[], entry: [] as number[], bare: [] as number[] };
      (window as unknown as { seen: typeof seen }).seen = seen;
      let lifted = 0;
      const painted = (list: number[]) => requestAnimationFrame(() => setTimeout(() => list.push(performance.now() - lifted)));
      addEventListener('pointerup', (event) => {
        lifted = event.timeStamp;
        if ((event.target as HTMLElement).closest('.count')) painted(seen.bare);
      }, true);
      new MutationObserver((changes) => {
        if (lifted && changes.some((one) => (one.target as HTMLElement).classList.contains('answered'))) painted(seen.key);
      }).observe(document.body, { subtree: true, attributes: true, attributeFilter: ['class'] });
      new MutationObserver(() => lifted && painted(seen.entry)).observe(document.querySelector('.entries')!, { childList: true });
    });
    for (let one = 0; one < 40; one++) {
      await rail.locator('.first button').nth(one % 6).tap();
      await rail.waitForTimeout(400);
      await rail.locator('.count').tap();
      await rail.waitForTimeout(250);
    }
    await rail.waitForTimeout(1_000);
    await session.send('Emulation.setCPUThrottlingRate', { rate: 1 });
    // The same by the thread's own time, which other programs on this computer cannot lengthen: all that the page does
    // in the tenth of a second after a tap, and four times that for a tablet of a quarter of the speed.
    await session.send('Performance.enable', { timeDomain: 'threadTicks' });
    const spent = async () => ((await session.send('Performance.getMetrics')) as { metrics: { name: string; value: number }[] }).metrics.find((one) => one.name === 'TaskDuration')!.value * 1_000;
    const cost: number[] = [];
    for (let one = 0; one < 20; one++) {
      const before = await spent();
      await rail.locator('.first button').nth(one % 6).tap({ force: true });
      await rail.waitForTimeout(100);
      cost.push(((await spent()) - before) * 4);
      await rail.waitForTimeout(300);
    }
    const seen = await rail.evaluate(() => (window as unknown as { seen: { key: number[]; entry: number[]; bare: number[] } }).seen);
    const p = (list: number[], share: number) => [...list].sort((a, b) => a - b)[Math.floor((list.length - 1) * share)] ?? NaN;
    const both = (list: number[]) => `p50 ${p(list, 0.5).toFixed(0)} ms, p95 ${p(list, 0.95).toFixed(0)} ms (${list.length})`;
    console.log(`tap to visible answer at ×4: key ${both(seen.key)}; kept and in the list ${both(seen.entry)}; a bare frame ${both(seen.bare)}; load ${loadavg()[0]!.toFixed(1)} on ${cpus().length} cores; the page's own work for a tap, ×4: ${both(cost)}`);
    expect(seen.key.length).toBeGreaterThanOrEqual(38);
    expect(p(cost, 0.95)).toBeLessThan(400);
    // The clock on the wall says nothing where more programs run than there are cores.
    if (loadavg()[0]! < cpus().length) expect(p(seen.key, 0.95)).toBeLessThan(100);
  }, 120_000);
});

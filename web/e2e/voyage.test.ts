// One set by the ship's own program, from an empty folder to the report: the wheelhouse at the ship's own computer and
// a tablet at the stern, paired over a plain http name, with a quick beat. GANGION names the program.
import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Anchor, dueAt, type Stop } from '../src/set/due.ts';
import { device, launch } from './launch.ts';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const target = process.env['CARGO_TARGET_DIR'] ?? new URL('../../target', import.meta.url).pathname;
const program = process.env['GANGION'] ?? join(target, 'debug', 'gangion');
const dist = new URL('../dist', import.meta.url).pathname;
const BEAT_S = 0.8;
const HOOKS = 6;
const SCREENS = ['plan', 'set', 'stern', 'haul', 'queue', 'devices'];

interface Event {
  id: string;
  device: string;
  kind: string;
  happened_at: string;
  person: string | null;
  data: Record<string, unknown>;
}

let browser: Browser;
let ship: ChildProcess | null = null;
let data: string;
let port: number;
let seq = 0;
let sailing: ReturnType<typeof setInterval>;
let wheelhouse: Page;
let stern: Page;
const faults: string[] = [];

const here = () => `http://127.0.0.1:${port}`;
async function until(what: () => Promise<boolean> | boolean, why: string, tries = 400): Promise<void> {
  for (let round = 0; round < tries; round++) {
    if (await what()) return;
    await new Promise((done) => setTimeout(done, 50));
  }
  throw new Error(`not in time: ${why}`);
}
async function start(): Promise<void> {
  ship = spawn(program, ['serve', '--data', data, '--bind', `127.0.0.1:${port}`, '--host', 'deck.test', '--screens', dist], { stdio: 'ignore' });
  await until(async () => (await fetch(`${here()}/api/health`).catch(() => null))?.ok === true, 'the ship answers', 1_200);
}
/** Posts as an instrument of the ship. */
async function post(events: [kind: string, data: Record<string, unknown>][], at_ms = Date.now()): Promise<void> {
  const body = events.map(([kind, data]) => {
    seq += 1;
    const id = `0199${seq.toString(16).padStart(4, '0')}-0000-7000-8000-${at_ms.toString(16).padStart(12, '0')}`;
    return { id, device: 'instruments-of-the-test', device_seq: seq, kind, version: 1, happened_at: new Date(at_ms).toISOString(), happened_basis: 'instrument', boot: null, monotonic_ms: null, person: null, set: null, haul: null, data };
  });
  const got = await fetch(`${here()}/api/events`, { method: 'POST', headers: { 'content-type': 'application/json', origin: here() }, body: JSON.stringify(body) }).catch(() => null);
  const results = got?.ok ? ((await got.json()) as { results: { result: string; reason?: string }[] }).results : [];
  expect(results.filter((one) => one.result !== 'kept')).toEqual([]);
}
const began_ms = Date.now();
/** A ship on an eastward course that crosses 180° half a minute from the start. */
const state = (at_ms: number) => ({
  utc: new Date(at_ms).toISOString(), latitude_deg: -16.2, longitude_deg: ((179.95 + (at_ms - began_ms) * 1.6e-6 + 180) % 360) - 180,
  speed_through_water_kn: 7.5, speed_over_ground_kn: 7.7, course_deg_true: 90, heading_deg_true: 90, sources: {},
});
async function kept(kind?: string): Promise<Event[]> {
  const got = (await (await fetch(`${here()}/api/events?limit=1000`)).json()) as { events: { received_at: string; event: Event }[] };
  return got.events.map((row) => row.event).filter((event) => !kind || event.kind === kind);
}
const key = (page: Page, name: RegExp) => page.getByRole('button', { name });
const said = (page: Page) => page.locator('h1').first().innerText();
const unsent = (page: Page) => page.locator('.queue').getAttribute('data-unsent');
/** Keys are deaf for a moment after they were heard. */
const press = async (page: Page, name: RegExp) => {
  await key(page, name).first().tap();
  await page.waitForTimeout(300);
};
/** Basket and hook on a screen. */
async function where(page: Page): Promise<string> {
  return page.evaluate(() => {
    const text = document.querySelector('h1')?.textContent ?? '';
    const full = /Basket (\d+), hook (\d+)/.exec(text) ?? /hook (\d+) of basket (\d+)/.exec(text);
    const float = /^Float (.+) now, basket (\d+)/.exec(text);
    if (float) return `${float[2]}/0`;
    if (full) return text.startsWith('Stopped') ? `${full[2]}/${full[1]}` : `${full[1]}/${full[2]}`;
    const stern = document.querySelector('[data-basket]');
    return stern ? `${stern.getAttribute('data-basket')}/${stern.getAttribute('data-hook')}` : text;
  });
}
async function violations(page: Page): Promise<string[]> {
  await page.evaluate(AXE);
  return page.evaluate(async () => {
    const { axe } = window as unknown as { axe: { run(options: unknown): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> } };
    const { violations } = await axe.run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa'] });
    return violations.map((one) => `${one.id}: ${one.nodes.map((node) => node.html.slice(0, 160)).join(' | ')}`);
  });
}

beforeAll(async () => {
  if (!existsSync(program)) throw new Error(`there is no program at ${program}: run cargo build -p gangion, or name it by GANGION`);
  browser = await launch();
  data = mkdtempSync(join(tmpdir(), 'gangion-voyage-'));
  port = await new Promise<number>((done) => {
    const probe = createServer().listen(0, '127.0.0.1', () => {
      const { port } = probe.address() as { port: number };
      probe.close(() => done(port));
    });
  });
  await start();
  await post([
    ['voyage_opened', { vessel: { name: 'Example Tern' }, port: 'Port Example', utc_offset_min: 720 }],
    ['person_added', { person: 'p1', name: 'Ana' }],
    ['person_added', { person: 'p2', name: 'Bayu' }],
    ['gear_described', {
      gear: 'deep', main_line: { diameter_mm: 3.6 }, float_line_m: 25, branch_lines: [{ type: 'long', length_m: 20, weight_in_water_n: 0.6 }],
      hooks_per_basket: HOOKS, clip_spacing_m: 40, float_takes_a_beat: true, tag_mode: 'sequence_up',
    }],
    ['water_profile', { taken_at: new Date(began_ms).toISOString(), source: 'typed', levels: [[0, 28.4], [80, 27.5], [150, 21], [250, 13], [400, 9]].map(([depth_m, temperature_c]) => ({ depth_m, temperature_c })) }],
    ['shooter_speed', { shooter_speed_m_s: 5.2, basis: 'typed' }],
  ], began_ms - 60_000);
  await post([['ship_state', state(Date.now())]]);
  sailing = setInterval(() => void post([['ship_state', state(Date.now())]]).catch(() => {}), 2_000);
  const open = async (address: string, size: { width: number; height: number }) => {
    const made = await device(browser, size);
    made.page.on('pageerror', (error) => faults.push(error.message));
    await made.page.goto(address);
    return made;
  };
  wheelhouse = (await open(`${here()}/#/devices`, { width: 1920, height: 1080 })).page;
  stern = (await open(`http://deck.test:${port}/#/stern`, { width: 1280, height: 800 })).page;
}, 120_000);
afterAll(async () => {
  clearInterval(sailing);
  await browser?.close();
  ship?.kill('SIGKILL');
  if (data) rmSync(data, { recursive: true, force: true });
});

describe('a set from start to report', () => {
  it('verif_ the stern is paired from the wheelhouse by its code, and each takes a name', async () => {
    await press(wheelhouse, /^Stern clips hooks/);
    await wheelhouse.getByLabel('Name of the device').fill('stern tablet');
    await press(wheelhouse, /^Show a code/);
    await wheelhouse.waitForSelector('.code');
    expect(await wheelhouse.locator('.code + p').innerText()).toMatch(/min \d\d s and \d+ tries/);
    expect(await wheelhouse.locator('.addresses').innerText()).toContain(`http://deck.test:${port}/`);
    expect(await wheelhouse.locator('svg[role=img]').count()).toBe(1);
    const code = (await wheelhouse.locator('.code').innerText()).replace(/\D/g, '');
    await stern.getByLabel('Code').fill(code);
    await press(stern, /^Pair/);
    // The list hears of it by itself.
    await until(async () => /stern tablet[\s\S]*Stern · /.test(await wheelhouse.locator('main').innerText()), 'the device in the list');
    await press(wheelhouse, /^Ana/);
    await stern.waitForSelector('.who');
    await stern.locator('.who').tap();
    await press(stern, /^Bayu/);
    await until(async () => (await stern.locator('.who').innerText()).includes('Bayu'), 'the name in the head');
    expect(await stern.locator('nav').innerText()).not.toContain('Devices');
  });

  it('verif_ start, three baskets to the beat, two screens that agree', async () => {
    await wheelhouse.goto(`${here()}/#/set`);
    await press(wheelhouse, /^Start setting/);
    expect(await wheelhouse.getByLabel('Hooks in a basket').inputValue()).toBe(String(HOOKS));
    await wheelhouse.getByLabel('Beat, seconds').fill(String(BEAT_S));
    await press(wheelhouse, /^Keep/);
    await until(async () => /hook \d of 6/.test(await said(wheelhouse)), 'the beat in the wheelhouse');
    await until(async () => (await stern.locator('[data-basket]').count()) > 0, 'the beat on the stern');
    let agree = 0;
    for (let round = 0; round < 12; round++) {
      const [one, other] = await Promise.all([where(wheelhouse), where(stern)]);
      if (one === other) agree += 1;
      await wheelhouse.waitForTimeout(170);
    }
    // Both are read within some 20 ms; a beat may fall between.
    expect(agree).toBeGreaterThanOrEqual(9);
    for (const place of [2, 3]) {
      await until(async () => (await where(stern)).startsWith(`${place}/`), `float ${place}`);
      await stern.keyboard.press('f');
      await until(async () => (await kept('float_clipped')).some((event) => event.data['place'] === place), `float ${place} kept`);
    }
    await until(async () => (await where(wheelhouse)).startsWith('3/'), 'the third basket');
    const taps = await kept('float_clipped');
    expect(taps.map((event) => event.data['place'])).toEqual([1, 2, 3]);
    expect(taps.map((event) => event.person)).toEqual(['p1', 'p2', 'p2']);
  });

  it('verif_ a stop with the line running on, and one with the shooter stopped; a missed hook; a wrong tag mended', async () => {
    await press(wheelhouse, /^Stop/);
    await press(wheelhouse, /^Line runs on/);
    await until(async () => (await where(stern)) === (await where(wheelhouse)), 'both stand at one hook');
    await press(wheelhouse, /^Go on/);
    await until(async () => (await kept('stop_ended')).length === 1, 'going on');
    await stern.waitForTimeout(400);
    await press(stern, /^STOP/);
    await press(stern, /^Shooter stopped/);
    await press(stern, /^Go on/);
    await until(async () => (await kept('stop_ended')).length === 2, 'going on again');
    const [stops, answers] = [await kept('stop_started'), await kept('amended')];
    expect(answers.map((event) => [event.data['target'], event.data['data']])).toEqual([[stops[0]!.id, { line_running: true }], [stops[1]!.id, { line_running: false }]]);
    // At a float there is no hook to miss: the key is off then, and a busy computer may come too late.
    for (let tries = 0; tries < 20 && (await kept('hook_missed')).length === 0; tries++) {
      await until(async () => !(await key(stern, /^Missed/).isDisabled()), 'a hook on the beat');
      await stern.keyboard.press('m');
      await stern.waitForTimeout(500);
    }
    expect((await kept('hook_missed')).length).toBe(1);
    await press(stern, /^Wrong float/);
    for (const digit of ['7', '7']) await press(stern, new RegExp(`^${digit}$`));
    await press(stern, /^Keep/);
    await until(async () => JSON.stringify(await kept()).includes('"tag":"77"'), 'the tag');
    await until(async () => JSON.stringify(await (await fetch(`${here()}/api/sets/1/places`)).json()).includes('"tag":"77"'), 'the tag in the ship’s view');
  });

  it('verif_ other gear from the next float on', async () => {
    await wheelhouse.keyboard.press('g');
    const from = Number(await wheelhouse.getByLabel('From place in the line').inputValue());
    await wheelhouse.getByLabel('Hooks in a basket (now').fill('4');
    await wheelhouse.getByLabel('Float line, m').fill('30,5');
    await press(wheelhouse, /^Keep/);
    await until(async () => (await kept('gear_changed')).length === 1, 'the change');
    expect((await kept('gear_changed'))[0]!.data).toEqual({ from_place: from, hooks_per_basket: 4, float_line_m: 30.5 });
    await until(async () => /hook \d of 4/.test(await said(wheelhouse)), 'four hooks in the wheelhouse');
    await until(async () => (await stern.locator('h1 span').innerText().catch(() => '')) === 'of 4', 'four hooks on the stern');
  });

  it('regress_ the program killed in mid-set: nothing is lost, and the beat’s hook is right', async () => {
    ship!.kill('SIGKILL');
    await until(async () => (await stern.locator('.link').innerText()) === 'No answer from the ship', 'the dead link told');
    await stern.keyboard.press('f');
    await stern.waitForTimeout(400);
    await stern.keyboard.press('m');
    await wheelhouse.keyboard.press('n');
    await until(async () => Number(await unsent(stern)) >= 1, 'waiting');
    const before = await where(stern);
    expect(before).toMatch(/^\d+\/\d+$/);
    await start();
    await until(async () => (await unsent(stern)) === '0' && (await unsent(wheelhouse)) === '0', 'all kept again');
    await until(async () => (await wheelhouse.locator('.link').innerText()) === 'Ship answers', 'the link');
    const all = await kept();
    expect(new Set(all.map((event) => event.id)).size).toBe(all.length);
    expect(all.filter((event) => event.kind === 'place_noted').length).toBe(1);
    // Reckoned anew from the journal alone.
    const anchors = all.filter((event) => event.kind === 'beat').map((event): Anchor => ({ basket: Number(event.data['basket']), position: Number(event.data['position']), at_ms: Date.parse(String(event.data['at'])), beat_s: Number(event.data['beat_s']), float_takes_a_beat: true }));
    const stops = all.filter((event) => event.kind === 'stop_started').map((event, at): Stop => ({ from_ms: Date.parse(event.happened_at), to_ms: Date.parse(all.filter((other) => other.kind === 'stop_ended')[at]!.happened_at) }));
    const changed = Number(all.find((event) => event.kind === 'gear_changed')!.data['from_place']);
    let agree = 0;
    for (let round = 0; round < 10; round++) {
      const due = () => {
        const at = dueAt(anchors.at(-1)!, (basket) => (basket >= changed ? 4 : HOOKS), stops, Date.now())!;
        return `${at.basket}/${at.position}`;
      };
      // Reading takes its time on a busy computer: what is due before or after it is right, a hook further off is not.
      const before = due();
      const [one, other] = await Promise.all([where(wheelhouse), where(stern)]);
      const right = [before, due()];
      if (right.includes(one) && right.includes(other)) agree += 1;
      await stern.waitForTimeout(130);
    }
    expect(agree).toBeGreaterThanOrEqual(7);
  });

  it('val_ accepted to shown on another screen: half of them within 150 ms on a busy computer', async () => {
    // Source of the limit: this project's own promise (95 of 100 within 150 ms, on a quiet computer; printed). Both screens and the ship share this computer and its clock.
    await stern.evaluate(() => {
      const seen: [string, number][] = [];
      (window as unknown as { seen: [string, number][] }).seen = seen;
      let before = '';
      new MutationObserver(() => {
        const now = document.querySelector('.keys')?.textContent?.includes('Go on') ? 'stopped' : 'running';
        if (now !== before) seen.push([now, Date.now()]);
        before = now;
      }).observe(document.body, { subtree: true, childList: true, characterData: true });
    });
    for (let round = 0; round < 40; round++) {
      await wheelhouse.keyboard.press('s');
      await stern.waitForTimeout(330);
    }
    if (await key(wheelhouse, /^Go on/).count()) await wheelhouse.keyboard.press('s');
    await until(async () => (await unsent(wheelhouse)) === '0', 'all kept');
    await stern.waitForTimeout(400);
    const seen = await stern.evaluate(() => (window as unknown as { seen: [string, number][] }).seen);
    const rows = ((await (await fetch(`${here()}/api/events?limit=1000`)).json()) as { events: { received_at: string; event: Event }[] }).events;
    const acts = rows.filter((row) => row.event.kind === 'stop_started' || row.event.kind === 'stop_ended').slice(4);
    const waits = acts.flatMap((row) => {
      const wanted = row.event.kind === 'stop_started' ? 'stopped' : 'running';
      const shown = seen.find(([state, at_ms]) => state === wanted && at_ms >= Date.parse(row.received_at) - 1);
      return shown ? [shown[1] - Date.parse(row.received_at)] : [];
    }).sort((a, b) => a - b);
    console.log(`accepted to shown: ${waits.length} of ${acts.length}, median ${waits[Math.floor(waits.length / 2)]} ms, p95 ${waits[Math.floor((waits.length - 1) * 0.95)]} ms, longest ${waits.at(-1)} ms`);
    expect(waits.length).toBeGreaterThanOrEqual(36);
    expect(waits[Math.floor(waits.length / 2)]!).toBeLessThan(150);
  });

  it('verif_ the strip is walked by the keyboard, and a basket shows its hooks in full size', async () => {
    await wheelhouse.locator('.strip [role=slider]').focus();
    await wheelhouse.keyboard.press('Home');
    await wheelhouse.waitForSelector('.near .hook');
    expect(await wheelhouse.locator('.near .told').innerText()).toMatch(/^Basket 1: 6 hooks, in the water/);
    const hooks = wheelhouse.locator('.near .hook');
    expect(await hooks.count()).toBe(HOOKS);
    for (const box of await hooks.evaluateAll((all) => all.map((one) => one.getBoundingClientRect().toJSON() as DOMRect))) expect(Math.min(box.width, box.height)).toBeGreaterThanOrEqual(70);
    await hooks.first().focus();
    await wheelhouse.keyboard.press('ArrowRight');
    await wheelhouse.keyboard.press('Enter');
    expect(await wheelhouse.locator('.near .told').innerText()).toMatch(/^Hook 2 after float (no. )?1, towards (no. )?2/);
    expect(await violations(wheelhouse)).toEqual([]);
    await wheelhouse.keyboard.press('Escape');
    expect(await wheelhouse.locator('.near').count()).toBe(0);
  });

  it('verif_ the line crosses 180° on the chart without a bar round the world', async () => {
    const places = (await (await fetch(`${here()}/api/sets/1/places`)).json()) as { position: { longitude_deg: number } | null }[];
    const longitudes = places.flatMap((place) => (place.position ? [place.position.longitude_deg] : []));
    expect(Math.max(...longitudes)).toBeGreaterThan(179);
    const told = await wheelhouse.locator('.sea').getAttribute('aria-label');
    expect(told).toMatch(/^16°12\.000′ S {2}179°\d\d\.\d{3}′ [EW]/);
    await wheelhouse.screenshot({ path: 'shots/voyage-set.png' });
    await stern.screenshot({ path: 'shots/voyage-stern.png' });
  });

  it('verif_ no violation by axe on any screen, in the wheelhouse and on deck', async () => {
    for (const screen of SCREENS) {
      await wheelhouse.evaluate((screen) => (location.hash = `#/${screen}`), screen);
      await wheelhouse.waitForTimeout(400);
      expect(await violations(wheelhouse), screen).toEqual([]);
    }
    expect(await violations(stern), 'the stern on deck').toEqual([]);
    const keys = await stern.locator('.keys button, .mob').evaluateAll((all) => all.map((one) => one.getBoundingClientRect().toJSON() as DOMRect));
    for (const box of keys) expect(Math.min(box.width, box.height) / 5.9, 'millimetres').toBeGreaterThanOrEqual(20);
  });

  it('verif_ words 40 % longer: no key, no head and no figure is cut on any screen', async () => {
    const { context, page } = await device(browser, { width: 1280, height: 800 });
    for (const screen of SCREENS) {
      await page.goto(`${here()}/api/clock`);
      await page.goto(`${here()}/?longer#/${screen}`);
      await page.waitForSelector('main');
      await page.waitForTimeout(1_200);
      const cut = await page.locator('main button, header *, .mob, main h1, main h2, main dd').evaluateAll((all) =>
        all.filter((one) => {
          const box = one.getBoundingClientRect();
          return box.width > 0 && getComputedStyle(one).display !== 'inline' && ((one.tagName === 'BUTTON' && one.scrollHeight > one.clientHeight + 3) || one.scrollWidth > one.clientWidth + 3 || box.right > innerWidth + 1);
        }).map((one) => `${one.tagName} ${one.textContent?.trim().slice(0, 50)}`),
      );
      await page.screenshot({ path: `shots/longer-${screen}.png` });
      expect(cut, screen).toEqual([]);
    }
    await context.close();
  }, 90_000);

  it('verif_ the end of setting, and the report of it', async () => {
    await wheelhouse.evaluate(() => (location.hash = '#/set'));
    await press(wheelhouse, /^End setting/);
    await press(wheelhouse, /^Keep/);
    await until(async () => (await said(wheelhouse)) === 'Setting has ended', 'the end in the wheelhouse');
    await until(async () => (await said(stern)) === 'Setting has ended', 'the end on the stern');
    const voyage = (await (await fetch(`${here()}/api/voyage`)).json()) as { sets: { stage: string; hooks_set: number; baskets: number }[] };
    expect(voyage.sets[0]).toMatchObject({ stage: 'soaking' });
    ship!.kill('SIGTERM');
    await new Promise((done) => ship!.once('exit', done));
    const page = join(data, 'set-1.html');
    execFileSync(program, ['report', '--journal', join(data, 'voyage.journal'), '--set', '1', '--html', page]);
    const report = readFileSync(page, 'utf8');
    expect(report).toContain('Example Tern');
    expect(report).toContain(String(voyage.sets[0]!.hooks_set));
    expect(faults).toEqual([]);
  });

  it('verif_ a device whose right is taken away hears of it at once', async () => {
    await start();
    await wheelhouse.evaluate(() => (location.hash = '#/devices'));
    await until(async () => /stern tablet/.test(await wheelhouse.locator('main').innerText()), 'the list');
    await until(async () => (await stern.locator('.link').innerText()) === 'Ship answers', 'the link');
    await press(wheelhouse, /^Take right away/);
    expect(await wheelhouse.locator('.ask').innerText()).toContain('stern tablet');
    await press(wheelhouse, /^Take right away/);
    await stern.waitForSelector('text=Pair with the ship');
    await until(async () => /right taken away/.test(await wheelhouse.locator('main').innerText()), 'told in the list');
  });

  it('verif_ a PIN closes the wheelhouse and opens it again', async () => {
    await press(wheelhouse, /^Set a PIN/);
    await wheelhouse.keyboard.type('4711');
    await wheelhouse.keyboard.press('Enter');
    await press(wheelhouse, /^Lock now/);
    await wheelhouse.waitForSelector('text=The wheelhouse is locked');
    expect(await wheelhouse.locator('.who').innerText()).toContain('locked');
    await press(wheelhouse, /^Open the wheelhouse/);
    await wheelhouse.keyboard.type('9999');
    await wheelhouse.keyboard.press('Enter');
    await wheelhouse.waitForSelector('[role=alert]');
    await press(wheelhouse, /^Open the wheelhouse/);
    await wheelhouse.keyboard.type('4711');
    await wheelhouse.keyboard.press('Enter');
    await wheelhouse.waitForSelector('text=Pair a device');
    expect(faults).toEqual([]);
  });
});

// Setting in a real browser, on a plain http name that is not this computer's: nothing that was tapped is lost.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { device, launch } from './launch.ts';
import { Stub } from './stub.ts';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
let browser: Browser;
let stub: Stub;
const closing: (() => Promise<unknown>)[] = [];

beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser?.close());
beforeEach(async () => {
  stub = new Stub();
  await stub.start();
});
afterEach(async () => {
  for (const close of closing.splice(0)) await close();
  await stub.kill();
});

async function open(screen: string, size?: { width: number; height: number }, palette?: string, language?: string): Promise<{ page: Page; faults: string[] }> {
  const { context, page, faults } = await device(browser, size, palette, language);
  closing.push(() => context.close());
  await page.goto(`http://deck.test:${stub.port}/#/${screen}`);
  await page.waitForSelector('h1');
  if (screen === 'queue') await until(async () => (await unsent(page)) === '0', 'all kept');
  else await settled(page);
  return { page, faults };
}
const unsent = (page: Page) => page.locator('.queue').getAttribute('data-unsent');
async function until(what: () => Promise<boolean> | boolean, why: string): Promise<void> {
  for (let tries = 0; tries < 300; tries++) {
    if (await what()) return;
    await new Promise((done) => setTimeout(done, 50));
  }
  throw new Error(`within 15 s not: ${why}`);
}
/** The set is there and the first words have reached the ship. */
async function settled(page: Page): Promise<void> {
  await until(async () => (await page.locator('h1').first().innerText()).match(/\d/) !== null && (await unsent(page)) === '0', 'the beat on the screen and all kept');
}
const key = (page: Page, name: RegExp) => page.getByRole('button', { name });

describe('the queue in the browser', () => {
  it('regress_ a float tapped while the server is down is not lost', async () => {
    const { page, faults } = await open('set');
    expect(await page.evaluate(() => [isSecureContext, typeof (crypto as { randomUUID?: unknown }).randomUUID])).toEqual([false, 'undefined']);
    await stub.kill();
    await until(async () => (await page.locator('.link').innerText()) === 'No answer from the ship', 'the dead link told');
    await key(page, /^Float \S+ clipped now/).tap();
    await page.keyboard.press('m');
    await key(page, /^Note place/).tap();
    await until(async () => (await unsent(page)) === '3', '3 waiting');
    expect(await page.locator('.queue').innerText()).toContain('3 waiting to reach the ship');
    expect(stub.events('float_clipped').length).toBe(0);
    await stub.start();
    await until(async () => (await unsent(page)) === '0', 'all kept');
    expect(stub.events('float_clipped').length + stub.events('hook_missed').length + stub.events('place_noted').length).toBe(3);
    const [float] = stub.events('float_clipped');
    expect(float).toMatchObject({ set: stub.set, data: { place: expect.any(Number) } });
    expect(stub.events('place_noted')[0]!.data).toMatchObject({ latitude_deg: -14.20687, longitude_deg: 179.8451 });
    expect(faults).toEqual([]);
  });

  it('verif_ every write of an event asks for strict durability', async () => {
    const { context, page } = await device(browser);
    closing.push(() => context.close());
    await page.addInitScript(() => {
      const asked: string[] = [];
      (window as unknown as { asked: string[] }).asked = asked;
      const open = IDBDatabase.prototype.transaction;
      IDBDatabase.prototype.transaction = function (this: IDBDatabase, ...args: Parameters<typeof open>) {
        const made = open.apply(this, args);
        if (made.mode === 'readwrite' && [...made.objectStoreNames].includes('events')) asked.push(made.durability);
        return made;
      };
    });
    await page.goto(`http://deck.test:${stub.port}/#/set`);
    await settled(page);
    await page.keyboard.press('n');
    await until(() => stub.events('place_noted').length === 1, 'a place kept');
    const asked = await page.evaluate(() => (window as unknown as { asked: string[] }).asked);
    expect(asked.length).toBeGreaterThan(2);
    expect(new Set(asked)).toEqual(new Set(['strict']));
  });

  it('regress_ what waits survives a reload, and goes out with the same bytes and once', async () => {
    const { page } = await open('stern');
    stub.status = 503;
    await key(page, /^Float \S+ clipped now/).tap();
    await until(async () => (await unsent(page)) === '1' && stub.bodies.some((body) => body.includes('float_clipped')), 'one waiting and tried');
    await page.reload();
    // The page's own measure of its clock may wait beside it.
    await until(async () => Number(await unsent(page)) >= 1, 'still waiting after the reload');
    stub.status = null;
    stub.lose_answers = 2;
    await until(async () => (await unsent(page)) === '0', 'all kept');
    const tries = stub.bodies.flatMap((body) => /\{[^[]*?"kind":"float_clipped".*?"data":\{[^}]*\}\}/.exec(body)?.[0] ?? []);
    expect(tries.length).toBeGreaterThanOrEqual(3);
    expect(new Set(tries.map((text) => text.slice(text.lastIndexOf('{"id"')))).size).toBe(1);
    expect(stub.events('float_clipped').length).toBe(1);
  });

  it('regress_ a server restored from an old copy gets again what it lost', async () => {
    const { page } = await open('set');
    for (let tap = 0; tap < 3; tap++) {
      await page.keyboard.press('n');
      await page.waitForTimeout(350);
    }
    await until(() => stub.events('place_noted').length === 3, 'three kept');
    await stub.kill();
    stub.rows = stub.rows.slice(0, 13);
    stub.epoch = 'epoch2';
    await stub.start();
    await until(() => stub.events('place_noted').length === 3, 'the three again');
    const numbers = stub.events().map((event) => event.device_seq);
    expect(new Set(numbers).size).toBe(numbers.length);
  });
});

describe('setting', () => {
  it('verif_ stop, its answer, going on, a missed hook, a wrong tag mended, undo', async () => {
    const { page, faults } = await open('set');
    await key(page, /^Stop/).tap();
    await key(page, /^Line runs on/).tap();
    await until(() => stub.events('amended').length === 1, 'the answer');
    expect(stub.events('amended')[0]!.data).toMatchObject({ target: stub.events('stop_started')[0]!.id, data: { line_running: true } });
    expect(await page.locator('h1').first().innerText()).toMatch(/^Stopped at hook/);
    await key(page, /^Go on/).tap();
    await until(() => stub.events('stop_ended').length === 1, 'going on');
    await until(async () => !(await key(page, /^Missed/).isDisabled()), 'a hook on the beat');
    await key(page, /^Missed/).tap();
    await until(() => stub.events('hook_missed').length === 1, 'the missed hook');
    await key(page, /^Undo/).tap();
    await until(() => stub.events('voided').length === 1, 'taken back');
    expect(stub.events('voided')[0]!.data['target']).toBe(stub.events('hook_missed')[0]!.id);
    await key(page, /^Float tag/).tap();
    for (const digit of ['9', '7']) await key(page, new RegExp(`^${digit}$`)).tap();
    await key(page, /^Keep/).tap();
    await until(() => stub.events('float_clipped').length + stub.events('amended').length >= 2, 'the tag');
    expect(JSON.stringify(stub.events())).toContain('"tag":"97"');
    expect(faults).toEqual([]);
  });

  it('verif_ two screens say the same hook, and one sees what the other did', async () => {
    const [wheelhouse, stern] = [await open('set'), await open('stern')];
    await stern.page.keyboard.press('s');
    await until(async () => /^Stopped/.test(await wheelhouse.page.locator('h1').first().innerText()), 'the stop in the wheelhouse');
    const said = /hook (\d+) of basket/.exec(await wheelhouse.page.locator('h1').first().innerText())?.[1];
    const [figure] = await stern.page.locator('h1 b').allInnerTexts();
    if (said !== '0') expect(figure).toBe(said);
    await key(wheelhouse.page, /^Go on/).tap();
    await until(async () => (await stern.page.getByRole('button', { name: /^STOP/ }).count()) === 1, 'the beat on the stern');
  });

  it('verif_ slower goes on with the count, and the end of setting is asked for', async () => {
    const { page } = await open('set');
    await key(page, /^− slower/).tap();
    await until(() => stub.events('beat').length === 1, 'a new anchor');
    expect(stub.events('beat')[0]!.data).toMatchObject({ beat_s: 4.1, hooks_per_basket: 25, float_takes_a_beat: true });
    await key(page, /^End setting/).tap();
    await key(page, /^Keep/).tap();
    await until(() => stub.events('setting_ended').length === 1, 'the end');
    expect(stub.events('setting_ended')[0]!.data).toMatchObject({ last_place: expect.any(Number), hooks_after: expect.any(Number) });
    await until(async () => (await page.locator('h1').first().innerText()) === 'Setting has ended', 'the end told');
    // The next set begins without the server: its beat runs at once.
    await stub.kill();
    await key(page, /^Start setting/).tap();
    await page.getByLabel('Hooks in a basket').fill('12');
    await page.getByLabel('Beat, seconds').fill('3,5');
    await key(page, /^Keep/).tap();
    await until(async () => /^(Float no\. 1 now, basket 1|Basket 1, hook \d+ of 12)/.test(await page.locator('h1').first().innerText()), 'the new beat');
    await stub.start();
    await until(() => stub.events('setting_started').length === 1, 'the start kept');
    const [started] = stub.events('setting_started');
    expect(stub.events('beat').at(-1)).toMatchObject({ set: started!.id, data: { basket: 1, position: 0, beat_s: 3.5, hooks_per_basket: 12 } });
    expect(stub.events('float_clipped').at(-1)).toMatchObject({ set: started!.id, data: { place: 1 } });
  });

  it('verif_ man overboard: one press acts, also without the server, and a false alarm is recorded', async () => {
    const { page } = await open('stern');
    await stub.kill();
    await key(page, /^MAN OVERBOARD/).tap();
    await page.waitForSelector('[role=alertdialog]');
    expect(await page.locator('[role=alertdialog]').innerText()).toContain('14°12.412′ S  179°50.706′ E');
    await key(page, /^False alarm/).tap();
    await stub.start();
    await until(() => stub.events('man_overboard_false').length === 1, 'both kept');
    expect(stub.events('man_overboard_false')[0]!.data['target']).toBe(stub.events('man_overboard')[0]!.id);
    expect(await page.locator('[role=alertdialog]').count()).toBe(0);
  });
});

describe('look', () => {
  for (const screen of ['set', 'stern', 'queue']) {
    it(`verif_ ${screen}: no violation by axe in any palette, and nothing runs out of the screen`, async () => {
      for (const palette of ['day', 'dusk', 'night']) {
        const phone = screen === 'stern' ? [{ width: 390, height: 844 }] : [];
        for (const size of [...phone, { width: 1280, height: 800 }, { width: 1024, height: 768 }, { width: 1920, height: 1080 }]) {
          const { page, faults } = await open(screen, size, palette);
          const out = await page.evaluate(() =>
            [...document.querySelectorAll('button, h1, .next, .float, dd, header *')].flatMap((one) => {
              const box = one.getBoundingClientRect();
              const gone = box.width > 0 && (box.right > innerWidth + 1 || box.bottom > innerHeight + 1 || box.left < -1 || one.scrollWidth > one.clientWidth + 2);
              return gone && getComputedStyle(one).display !== 'inline' ? [`${one.tagName} ${one.textContent?.trim().slice(0, 30)}`] : [];
            }),
          );
          await page.screenshot({ path: `shots/${screen}-${palette}-${size.width}x${size.height}.png` });
          expect(out, `${palette} ${size.width}`).toEqual([]);
          if (size.width === 1280) {
            await page.evaluate(AXE);
            const found = await page.evaluate(async () => {
              const { axe } = window as unknown as { axe: { run(options: unknown): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> } };
              const { violations } = await axe.run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa'] });
              return violations.map((one) => `${one.id}: ${one.nodes.map((node) => node.html.slice(0, 120)).join(' | ')}`);
            });
            expect(found, palette).toEqual([]);
          }
          expect(faults).toEqual([]);
          await closing.pop()!();
        }
      }
    });
  }

  it('verif_ the keys of the stern are 20 mm on a ten-inch tablet (5.9 px/mm), and stand apart', async () => {
    const { page } = await open('stern');
    const boxes = await page.locator('.keys button, .mob').evaluateAll((all) => all.map((one) => one.getBoundingClientRect().toJSON() as DOMRect));
    expect(boxes.length).toBe(5);
    for (const box of boxes) expect(Math.min(box.width, box.height) / 5.9).toBeGreaterThanOrEqual(20);
    const left = [...boxes].sort((a, b) => a.left - b.left);
    for (let one = 0; one + 1 < left.length; one++) expect((left[one + 1]!.left - left[one]!.right) / 5.9).toBeGreaterThanOrEqual(2.5);
  });

  it('verif_ words 40 % longer leave every key readable', async () => {
    const { context, page } = await device(browser, { width: 1024, height: 768 });
    closing.push(() => context.close());
    for (const screen of ['set', 'stern']) {
      await page.goto(`http://deck.test:${stub.port}/?longer#/${screen}`);
      await page.reload();
      await page.waitForSelector('.keys button');
      const cut = await page.locator('.keys button, .mob').evaluateAll((all) =>
        all.filter((one) => one.scrollHeight > one.clientHeight + 2 || one.scrollWidth > one.clientWidth + 2).map((one) => one.textContent),
      );
      expect(cut, screen).toEqual([]);
    }
  });

  it('verif_ every language fits its keys, and its root says which it is', async () => {
    for (const language of ['es', 'fil', 'id', 'ja', 'vi', 'zh-Hans']) {
      const { context, page, faults } = await device(browser, { width: 1024, height: 768 }, 'dusk', language);
      for (const screen of ['set', 'stern']) {
        await page.goto(`http://deck.test:${stub.port}/#/${screen}`);
        await until(async () => (await page.locator('h1').first().innerText()).match(/\d/) !== null, 'the beat');
        const cut = await page.locator('.keys button, .mob, header *').evaluateAll((all) =>
          all.filter((one) => getComputedStyle(one).display !== 'inline' && (one.scrollHeight > one.clientHeight + 2 || one.scrollWidth > one.clientWidth + 2 || one.getBoundingClientRect().right > innerWidth)).map((one) => one.textContent),
        );
        await page.screenshot({ path: `shots/${screen}-${language}.png` });
        expect(cut, `${language} ${screen}`).toEqual([]);
      }
      expect(await page.evaluate(() => document.documentElement.lang)).toBe(language);
      expect(faults).toEqual([]);
      await context.close();
    }
  });

  it('verif_ a night screen is dark: mean relative luminance under 0.02', async () => {
    for (const screen of ['set', 'stern']) {
      const { page } = await open(screen, undefined, 'night');
      const shot = (await page.screenshot({ type: 'png' })).toString('base64');
      const mean = await page.evaluate(async (data) => {
        const bytes = Uint8Array.from(atob(data), (one) => one.charCodeAt(0));
        const picture = await createImageBitmap(new Blob([bytes], { type: 'image/png' }));
        const canvas = new OffscreenCanvas(picture.width, picture.height);
        const ctx = canvas.getContext('2d')!;
        ctx.drawImage(picture, 0, 0);
        const { data: pixels } = ctx.getImageData(0, 0, picture.width, picture.height);
        const linear = (value: number) => (value <= 10.31 ? value / 255 / 12.92 : ((value / 255 + 0.055) / 1.055) ** 2.4);
        let sum = 0;
        for (let at = 0; at < pixels.length; at += 4) sum += 0.2126 * linear(pixels[at]!) + 0.7152 * linear(pixels[at + 1]!) + 0.0722 * linear(pixels[at + 2]!);
        return sum / (pixels.length / 4);
      }, shot);
      expect(mean, screen).toBeLessThan(0.02);
    }
  });
});

describe('pictures', () => {
  it('verif_ what opens over a screen keeps its keys in sight', async () => {
    for (const [palette, size] of [['day', { width: 1024, height: 768 }], ['night', { width: 1280, height: 800 }]] as const) {
      const { page } = await open('set', size, palette);
      const shot = async (name: string) => {
        await page.screenshot({ path: `shots/over-${name}-${palette}.png` });
        const gone = await page.locator('[role=dialog] button, [role=alertdialog] button, .question button, .panel button').evaluateAll((all) =>
          all.filter((one) => {
            const box = one.getBoundingClientRect();
            return box.right > innerWidth || box.bottom > innerHeight || box.height < 44 || one.scrollHeight > one.clientHeight + 2;
          }).map((one) => one.textContent),
        );
        expect(gone, name).toEqual([]);
        const on_top = await page.locator('.mob').evaluate((mob) => {
          const box = mob.getBoundingClientRect();
          const corners = [[box.left + 20, box.top + 20], [box.right - 20, box.bottom - 20], [box.left + box.width / 2, box.top + box.height / 2]];
          return corners.every(([x, y]) => mob.contains(document.elementFromPoint(x!, y!)));
        });
        expect(on_top, `man overboard over ${name}`).toBe(true);
        const covered = await page.locator('[role=dialog] button, [role=alertdialog] button, .question button, .panel button').evaluateAll((all) => {
          const mob = document.querySelector('.mob')!.getBoundingClientRect();
          return all.filter((one) => {
            const box = one.getBoundingClientRect();
            return box.right > mob.left && box.bottom > mob.top && box.left < mob.right && box.top < mob.bottom;
          }).map((one) => one.textContent);
        });
        expect(covered, `under man overboard in ${name}`).toEqual([]);
      };
      await page.keyboard.press('t');
      await shot('tag');
      await page.keyboard.press('Escape');
      await page.keyboard.press('r');
      await shot('buoy');
      await page.keyboard.press('Escape');
      await key(page, /^End setting/).tap();
      await shot('end');
      await key(page, /^Back/).tap();
      await key(page, /^Screen/).tap();
      await shot('screen');
      await key(page, /^Close/).tap();
      await page.keyboard.press('s');
      await page.waitForSelector('.question');
      await shot('stop');
      await page.keyboard.press('F9');
      await page.waitForSelector('[role=alertdialog]');
      await shot('overboard');
      await key(page, /^False alarm/).tap();
      await until(() => stub.events('man_overboard_false').length > 0, 'the false alarm');
      await page.keyboard.press('s');
      await until(() => stub.events('stop_ended').length === stub.events('stop_started').length, 'going on');
      await closing.pop()!();
    }
  });
});

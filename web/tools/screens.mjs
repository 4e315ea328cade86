// Shoots every screen in three palettes and three sizes from a running ship, to be looked at by a person:
//
//   node tools/screens.mjs [--ship http://127.0.0.1:8180] [--paired http://deck.test:8180] [--out screens]
//                          [--only set,stern] [--palettes day,night] [--sizes 1920x1080] [--language es] [--longer]
//
// Start a ship first, for instance `gangion serve --data /tmp/voyage --demo --speed 1 --host deck.test`. With --paired
// the screen of a device that is not paired is shot by that other name too. CHROMIUM names another browser.
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { chromium } from 'playwright-core';

const given = new Map();
for (let at = 2; at < process.argv.length; at++) {
  const name = process.argv[at].replace(/^--/, '');
  const value = process.argv[at + 1];
  if (value === undefined || value.startsWith('--')) given.set(name, '');
  else given.set(name, process.argv[++at]);
}
const list = (name, usual) => (given.get(name) ?? usual).split(',');
const ship = given.get('ship') ?? 'http://127.0.0.1:8180';
const out = given.get('out') ?? 'screens';
const screens = list('only', 'set,stern,haul,plan,devices,queue');
const sizes = list('sizes', '1920x1080,1280x800,962x601');
mkdirSync(out, { recursive: true });

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync', '--host-resolver-rules=MAP deck.test 127.0.0.1'],
});
let shot = 0;
for (const size of sizes) {
  const [width, height] = size.split('x').map(Number);
  // The ten-inch tablet has more points than its page has pixels.
  const context = await browser.newContext({ viewport: { width, height }, deviceScaleFactor: width < 1_000 ? 1.33 : 1, locale: 'en-GB', hasTouch: width < 1_900 });
  await context.addInitScript((language) => localStorage.setItem('language', language), given.get('language') ?? 'en');
  const page = await context.newPage();
  page.on('pageerror', (error) => console.error(`${size}: ${error.message}`));
  for (const palette of list('palettes', 'day,dusk,night')) {
    await page.goto(`${ship}/api/health`);
    await page.evaluate((palette) => localStorage.setItem('palette', palette), palette);
    for (const screen of screens) {
      await page.goto(`${ship}/api/clock`);
      await page.goto(`${ship}/${given.has('longer') ? '?longer' : ''}#/${screen}`);
      await page.waitForFunction(() => document.querySelector('main') && !/Looking for/.test(document.querySelector('.link')?.textContent ?? ''), null, { timeout: 20_000 });
      await page.waitForTimeout(1_200);
      await page.screenshot({ path: join(out, `${screen}-${palette}-${size}.png`) });
      shot += 1;
    }
    if (given.has('paired')) {
      const stranger = await browser.newContext({ viewport: { width, height } });
      await stranger.addInitScript((palette) => localStorage.setItem('palette', palette), palette);
      const other = await stranger.newPage();
      await other.goto(`${given.get('paired')}/#/stern`);
      await other.waitForTimeout(1_500);
      await other.screenshot({ path: join(out, `pair-${palette}-${size}.png`) });
      await stranger.close();
      shot += 1;
    }
  }
  await context.close();
}
await browser.close();
console.log(`${shot} pictures in ${out}`);

// Measures a running ship's screens in a cold browser: first paint, and the time until the sentence stands.
//
//   node tools/measure.mjs [http://127.0.0.1:8180]
import { chromium } from 'playwright-core';

const ship = process.argv[2] ?? 'http://127.0.0.1:8180';
const ROUNDS = 7;
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', args: ['--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'] });
const median = (all) => [...all].sort((a, b) => a - b)[Math.floor(all.length / 2)];
const [paints, sentences] = [[], []];
for (let round = 0; round < ROUNDS; round++) {
  const context = await browser.newContext({ viewport: { width: 1920, height: 1080 } });
  const page = await context.newPage();
  await page.addInitScript(() => {
    const look = () => {
      const told = document.querySelector('h1')?.textContent ?? '';
      if (/\d|No line|ended/.test(told)) window.told_ms = performance.now();
      else requestAnimationFrame(look);
    };
    requestAnimationFrame(look);
  });
  await page.goto(`${ship}/#/set`);
  await page.waitForFunction(() => window.told_ms !== undefined, null, { timeout: 30_000 });
  paints.push(await page.evaluate(() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? NaN));
  sentences.push(await page.evaluate(() => window.told_ms));
  await context.close();
}
await browser.close();
const shown = (all) => all.map((one) => Math.round(one)).join(' ');
console.log(`first contentful paint, ms: median ${Math.round(median(paints))} (${shown(paints)})`);
console.log(`sentence stands, ms: median ${Math.round(median(sentences))} (${shown(sentences)})`);

// The browser of the tests: Debian's Chromium; CHROMIUM names another one.
import { existsSync } from 'node:fs';
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core';

const path = process.env['CHROMIUM'] ?? '/usr/bin/chromium';

/** `rules`: where names lead; `more`: further words to the browser; `environment`: beside the usual one. */
export async function launch(rules = 'MAP deck.test 127.0.0.1', more: string[] = [], environment: Record<string, string> = {}): Promise<Browser> {
  if (!existsSync(path)) throw new Error(`there is no browser at ${path}: install Debian's chromium, or name one by CHROMIUM`);
  return chromium.launch({
    executablePath: path,
    headless: true,
    args: ['--no-sandbox', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync', '--disable-dev-shm-usage', `--host-resolver-rules=${rules}`, ...more],
    env: { ...process.env, ...environment } as Record<string, string>,
  });
}

/** A device with a store of its own. What the page complains of is gathered in `faults`. */
export async function device(browser: Browser, size = { width: 1280, height: 800 }, palette = 'dusk', language = 'en'): Promise<{ context: BrowserContext; page: Page; faults: string[] }> {
  const context = await browser.newContext({ viewport: size, hasTouch: true, locale: 'en-GB' });
  await context.addInitScript(([palette, language]) => {
    localStorage.setItem('palette', palette!);
    localStorage.setItem('language', language!);
  }, [palette, language]);
  const page = await context.newPage();
  const faults: string[] = [];
  page.on('pageerror', (error) => faults.push(error.message));
  page.on('console', (message) => {
    // A killed server is told by the browser too; that is what the tests do.
    if (message.type() === 'error' && !/ERR_|Failed to load resource/.test(message.text())) faults.push(message.text());
  });
  return { context, page, faults };
}

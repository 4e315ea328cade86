// The self-test of a device that is to work without the ship's network: what it can do under this address, and whether
// it trusts the ship's certificate. No tick, no harm: plain http goes on as before.
import type { components } from './api/api.d.ts';

export type Enrolment = components['schemas']['Enrolment'];

/** true: good. false: not. null: cannot be told here. */
export type Tick = boolean | null;

const TIMEOUT_MS = 6_000;

async function json<T>(address: string, init: RequestInit = {}): Promise<T | null> {
  const abort = new AbortController();
  const timer = setTimeout(() => abort.abort(), TIMEOUT_MS);
  try {
    const response = await fetch(address, { ...init, signal: abort.signal, cache: 'no-store' });
    return response.ok ? ((await response.json()) as T) : null;
  } catch {
    return null;
  } finally {
    clearTimeout(timer);
  }
}

export const about = (): Promise<Enrolment | null> => json<Enrolment>('/api/enrol');

/** The same ship by https: under the name that the device uses now, as long as the certificate is for that too. */
export function secureOrigin(told: Enrolment, here: Location | URL): string | null {
  if (told.addresses.length === 0 || told.https_port == null) return null;
  const same = told.https_port === 443 ? `https://${here.hostname}` : `https://${here.hostname}:${told.https_port}`;
  const known = told.addresses.map((address) => new URL(address).origin);
  return known.includes(same) ? same : known[0]!;
}

/** Whether this device trusts the ship's certificate: only then can the answer be read. */
export async function trusted(origin: string): Promise<Tick> {
  return (await json<{ trusted: boolean }>(`${origin}/enrol/trust`, { mode: 'cors', credentials: 'omit' }))?.trusted ?? false;
}

/** Whether what is written to a store of this address can be read back. */
export async function storeWorks(factory: IDBFactory | undefined = globalThis.indexedDB): Promise<Tick> {
  if (!factory) return false;
  const word = String(Math.random());
  const name = 'gangion-self-test';
  const done = <T>(request: IDBRequest<T>) =>
    new Promise<T>((good, bad) => {
      request.onsuccess = () => good(request.result);
      request.onerror = () => bad(request.error);
    });
  try {
    const opening = factory.open(name, 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore('word');
    const database = await done(opening);
    try {
      await done(database.transaction('word', 'readwrite').objectStore('word').put(word, 'word'));
      return (await done(database.transaction('word').objectStore('word').get('word'))) === word;
    } finally {
      database.close();
      factory.deleteDatabase(name);
    }
  } catch {
    return false;
  }
}

/** This device's clock minus that of the ship's computer, seconds; half the way there and back is taken off. */
export async function clockAhead_s(ask: () => Promise<{ computer_utc: string } | null> = about): Promise<number | null> {
  const begun_ms = Date.now();
  const told = await ask();
  const ended_ms = Date.now();
  return told ? ((begun_ms + ended_ms) / 2 - Date.parse(told.computer_utc)) / 1_000 : null;
}

/** A certificate holds from two days before it was made; a minute is what a person sets a clock to. */
export const CLOCK_GOOD_S = 60;

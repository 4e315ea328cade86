// Questions to the ship, typed by its API document, each with its own time-out.
import type { paths } from './api.d.ts';

type Get = { [P in keyof paths]: paths[P] extends { get: { responses: { 200: { content: { 'application/json': infer T } } } } } ? T : never };

const TIMEOUT_MS = 8_000;

/** Asks; `json` is null where there was no good answer, `status` 0 where there was none at all. */
export async function ask<P extends keyof Get>(path: P, query: Record<string, string> = {}, number?: string): Promise<{ status: number; json: Get[P] | null }> {
  const abort = new AbortController();
  const timer = setTimeout(() => abort.abort(), TIMEOUT_MS);
  try {
    const search = new URLSearchParams(query).toString();
    const address = path.replace('{number}', number ?? '') + (search ? `?${search}` : '');
    const response = await fetch(address, { signal: abort.signal, cache: 'no-store' });
    const text = await response.text();
    // Health says how the journal is with 503 too.
    const good = response.ok || (path === '/api/health' && response.status === 503);
    return { status: response.status, json: good ? (JSON.parse(text) as Get[P]) : null };
  } catch {
    return { status: 0, json: null };
  } finally {
    clearTimeout(timer);
  }
}

/** Looks at a path that `ask` does not know by type; null where there was no good answer. */
export async function look<T>(path: string): Promise<T | null> {
  const abort = new AbortController();
  const timer = setTimeout(() => abort.abort(), TIMEOUT_MS);
  try {
    const response = await fetch(path, { signal: abort.signal, cache: 'no-store' });
    return response.ok ? ((await response.json()) as T) : null;
  } catch {
    return null;
  } finally {
    clearTimeout(timer);
  }
}

/** Tells the ship to do something; `text` is the ship's sentence where it would not, and `json` null. */
export async function tell<T>(path: string, body: unknown = null): Promise<{ status: number; json: T | null; text: string | null }> {
  const abort = new AbortController();
  const timer = setTimeout(() => abort.abort(), TIMEOUT_MS);
  try {
    const init: RequestInit = { method: 'POST', signal: abort.signal, cache: 'no-store' };
    if (body !== null) Object.assign(init, { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
    const response = await fetch(path, init);
    const answered = await response.text();
    const json: unknown = answered === '' ? null : JSON.parse(answered);
    if (response.ok) return { status: response.status, json: json as T, text: null };
    return { status: response.status, json: null, text: (json as { text?: string } | null)?.text ?? `HTTP ${response.status}` };
  } catch {
    return { status: 0, json: null, text: '' };
  } finally {
    clearTimeout(timer);
  }
}

/** Pairs this device by the code from the wheelhouse; the sentence of the ship where that failed. */
export async function pair(code: string, device: string): Promise<string | null> {
  const got = await tell('/api/pair', { code, device, name: null });
  return got.json ? null : got.text || '—';
}

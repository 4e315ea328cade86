// The ship's reckoning of a plan, asked with a time-out of its own.
import type { Planned, PlanWanted } from './types.ts';

const TIMEOUT_MS = 8_000;

export type Answer = { planned: Planned } | { problem: string; status: number };

async function answer<T>(address: string, init: RequestInit): Promise<{ json: T } | { problem: string; status: number }> {
  const abort = new AbortController();
  const timer = setTimeout(() => abort.abort(), TIMEOUT_MS);
  try {
    const response = await fetch(address, { ...init, signal: abort.signal, cache: 'no-store' });
    const text = await response.text();
    if (response.ok) return { json: JSON.parse(text) as T };
    let problem = '';
    try {
      problem = String((JSON.parse(text) as { text?: unknown }).text ?? '');
    } catch {
      // No words of the ship; the status tells.
    }
    return { problem, status: response.status };
  } catch {
    return { problem: '', status: 0 };
  } finally {
    clearTimeout(timer);
  }
}

export async function askPlan(wanted: PlanWanted): Promise<Answer> {
  const got = await answer<Planned>('/api/plan', { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(wanted) });
  return 'json' in got ? { planned: got.json } : got;
}

/** What the ship offers to start from: its last set, or its gear; null where it has none, undefined without an answer. */
export async function askStart(from: 'last' | 'gear', other_way = false): Promise<PlanWanted | null | undefined> {
  const got = await answer<PlanWanted>(`/api/plan/start?from=${from}${other_way ? '&other_way=true' : ''}`, {});
  if (!('json' in got)) return got.status >= 400 && got.status < 500 ? null : undefined;
  return got.json && typeof got.json === 'object' && 'setting' in got.json ? got.json : null;
}

/** Anything else that the chart shows, where the ship has it. */
export async function askAny(address: string): Promise<unknown> {
  const got = await answer<unknown>(address, {});
  return 'json' in got ? got.json : null;
}

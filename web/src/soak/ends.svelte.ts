// From which end to haul, asked of the ship: what is chosen here, the answer, and the ship's sentence where there is none.
import type { components } from '../api/api.d.ts';
import { ship } from '../ship.svelte.ts';

export type Ends = components['schemas']['Ends'];
export type EndPlan = components['schemas']['EndPlan'];

const TIMEOUT_MS = 8_000;
/** Fixes come every some minutes; asked again that often. */
const AGAIN_MS = 20_000;

class EndsAsked {
  /** Knots while steaming to the line. */
  speed_kn = $state(8);
  /** Hooks an hour; null: as on this voyage. */
  pace_hooks_h = $state<number | null>(null);
  /** Hours from now to the start of the haul; null: as soon as she can be there. */
  start_ms = $state<number | null>(null);
  answer = $state.raw<Ends | null>(null);
  /** The ship's own words why there is no answer; empty while there is none because she was not reached. */
  why = $state<string | null>(null);
  private turn = 0;

  /** Asks; the latest question wins. */
  async ask(set: number): Promise<void> {
    const turn = ++this.turn;
    const query = new URLSearchParams({ speed_kn: String(this.speed_kn) });
    if (this.pace_hooks_h !== null) query.set('pace_hooks_h', String(this.pace_hooks_h));
    if (this.start_ms !== null) query.set('start_at', new Date(this.start_ms).toISOString());
    const abort = new AbortController();
    const timer = setTimeout(() => abort.abort(), TIMEOUT_MS);
    try {
      const response = await fetch(`/api/sets/${set}/ends?${query}`, { signal: abort.signal, cache: 'no-store' });
      const told: unknown = await response.json();
      if (turn !== this.turn) return;
      this.answer = response.ok ? (told as Ends) : null;
      this.why = response.ok ? null : ((told as { text?: string }).text ?? '');
    } catch {
      // What was told last stands; the head says that the ship does not answer.
    } finally {
      clearTimeout(timer);
    }
  }

  /** Keeps asking while the screen is open; ends by what it returns. */
  follow(): () => void {
    const timer = setInterval(() => ship.head && void this.ask(ship.head.number), AGAIN_MS);
    return () => clearInterval(timer);
  }
}

export const ends = new EndsAsked();

// Sends what waits: in batches, with its own time-out, by one tab at a time, until nothing waits.
//
// Never navigator.onLine: it is true on dead Wi-Fi. A post that brings no answer in time has failed, though the ship
// may have kept it; the same bytes go out again and the ship answers `repeat`.
import type { Known, Outbox, Verdict } from './outbox.ts';
import type { Kept } from './store.ts';

/** How the way to the ship is. */
export type Way = 'unknown' | 'open' | 'no_answer' | 'not_paired' | 'ship_stopped' | 'ship_error' | 'busy';

export interface SendOptions {
  fetch: typeof fetch;
  timeout_ms: number;
  /** Events in the first batch; later ones grow and shrink with how the way is. */
  most_events: number;
  least_events: number;
  largest_events: number;
  most_bytes: number;
  /** Waits between tries: doubled from the first to the last. */
  first_wait_ms: number;
  last_wait_ms: number;
  /** How often the ship is asked what it knows while all is well. */
  ask_every_ms: number;
}

export const usual: SendOptions = {
  fetch: (...args) => fetch(...args),
  timeout_ms: 5_000,
  most_events: 100,
  least_events: 10,
  largest_events: 1_000,
  most_bytes: 500_000,
  first_wait_ms: 500,
  last_wait_ms: 5_000,
  ask_every_ms: 60_000,
};

/** What came of one try. */
export type Try = { way: Way; sent: number };

/** The answer, or that there was none in time. The time runs to the end of the body. */
async function answer(options: SendOptions, path: string, init: RequestInit): Promise<{ status: number; json: unknown } | null> {
  const abort = new AbortController();
  const timer = setTimeout(() => abort.abort(), options.timeout_ms);
  try {
    const response = await options.fetch(path, { ...init, signal: abort.signal, cache: 'no-store', credentials: 'same-origin' });
    const text = await response.text();
    let json: unknown = null;
    try {
      json = JSON.parse(text);
    } catch {
      // An answer that is no JSON is none of the ship's.
    }
    return { status: response.status, json };
  } catch {
    return null;
  } finally {
    clearTimeout(timer);
  }
}

function wayOf(status: number): Way {
  if (status === 401 || status === 403) return 'not_paired';
  if (status === 503) return 'ship_stopped';
  if (status === 429 || status === 408) return 'busy';
  return 'ship_error';
}

/** A sealed batch: the events' own bytes, joined, never encoded again. */
export function seal(events: readonly Kept[]): string {
  return `[${events.map((event) => event.text).join(',')}]`;
}

/** Asks what the ship knows of this device, and settles the queue by it. */
export async function ask(outbox: Outbox, options: SendOptions): Promise<Way> {
  const got = await answer(options, `/api/devices/me?device=${encodeURIComponent(outbox.device)}`, {});
  if (!got) return 'no_answer';
  if (got.status !== 200) return wayOf(got.status);
  const known = got.json as Known | null;
  if (!known || typeof known.epoch !== 'string') return 'ship_error';
  await outbox.settle(known);
  return 'open';
}

/** Sends one batch. */
export async function sendOnce(outbox: Outbox, options: SendOptions): Promise<Try> {
  const batch = await outbox.next(options.most_events, options.most_bytes);
  if (batch.length === 0) return { way: 'open', sent: 0 };
  const post = (events: readonly Kept[]) =>
    answer(options, '/api/events', { method: 'POST', headers: { 'content-type': 'application/json' }, body: seal(events) });
  const got = await post(batch);
  if (!got) return { way: 'no_answer', sent: 0 };
  if (got.status === 200) return { way: 'open', sent: await marked(outbox, batch, got.json) };
  const unreadable = got.status === 400 || got.status === 413 || got.status === 415 || got.status === 422;
  if (!unreadable) return { way: wayOf(got.status), sent: 0 };
  // One of them spoils the batch: each by itself, so that none blocks the others.
  let sent = 0;
  for (const event of batch) {
    const alone = await post([event]);
    if (!alone) return { way: 'no_answer', sent };
    if (alone.status === 200) {
      sent += await marked(outbox, [event], alone.json);
    } else if (alone.status === 400 || alone.status === 413 || alone.status === 415 || alone.status === 422) {
      const text = (alone.json as { text?: unknown } | null)?.text;
      await outbox.failedAlone(event, typeof text === 'string' ? text : `HTTP ${alone.status}`);
    } else return { way: wayOf(alone.status), sent };
  }
  return { way: 'open', sent };
}

async function marked(outbox: Outbox, batch: readonly Kept[], json: unknown): Promise<number> {
  const results = (json as { results?: unknown } | null)?.results;
  if (!Array.isArray(results)) return 0;
  await outbox.mark(batch, results as Verdict[]);
  return results.length;
}

/** This tab's name; it outlives a reload, so that the tab does not wait for its own lease. */
function tabName(): string {
  const made = crypto.getRandomValues(new Uint32Array(2)).join('-');
  try {
    if (typeof sessionStorage === 'undefined') return made;
    const known = sessionStorage.getItem('tab');
    if (!known) sessionStorage.setItem('tab', made);
    return known ?? made;
  } catch {
    return made;
  }
}

/** Keeps sending for as long as the page is open. */
export class Sender {
  way: Way = 'unknown';
  private readonly tab = tabName();
  private stopped = false;
  private nudged: (() => void) | null = null;
  /** Something happened while a round was under way. */
  private pending = false;
  private asked_ms = -Infinity;
  private wait_ms: number;
  /** Events in a batch: more while the ship answers quickly, few while it does not answer in time. */
  private batch: number;

  constructor(
    private readonly outbox: Outbox,
    private readonly options: SendOptions,
    private readonly told: (way: Way) => void,
  ) {
    this.wait_ms = options.first_wait_ms;
    this.batch = options.most_events;
    outbox.watch(() => this.nudge());
  }

  /** The link came back, or the ship is another opening of its journal: ask at once. */
  linkIsNew(): void {
    this.asked_ms = -Infinity;
    this.wait_ms = this.options.first_wait_ms;
    this.nudge();
  }

  nudge(): void {
    if (this.nudged) this.nudged();
    else this.pending = true;
  }

  stop(): void {
    this.stopped = true;
    this.nudge();
  }

  async run(): Promise<void> {
    while (!this.stopped) {
      this.pending = false;
      const pause_ms = await this.round().catch(() => this.later());
      if (pause_ms > 0 && !this.stopped && !this.pending) await this.sleep(pause_ms);
    }
  }

  /** One round; answers how long to wait before the next. */
  private async round(): Promise<number> {
    const { options, outbox } = this;
    if (!(await outbox.lease(this.tab, options.timeout_ms + options.last_wait_ms))) return options.last_wait_ms;
    const unsent = (await outbox.counts()).unsent;
    const now_ms = performance.now();
    if (now_ms - this.asked_ms >= options.ask_every_ms) {
      const way = await ask(outbox, options);
      this.say(way);
      if (way !== 'open') return this.later();
      this.asked_ms = now_ms;
      return 0;
    }
    if (unsent === 0) return Math.max(1, options.ask_every_ms - (now_ms - this.asked_ms));
    const tried = await sendOnce(outbox, { ...options, most_events: this.batch });
    const took_ms = performance.now() - now_ms;
    if (tried.way === 'no_answer') this.batch = Math.max(options.least_events, Math.floor(this.batch / 4));
    else if (took_ms < options.timeout_ms / 5) this.batch = Math.min(options.largest_events, this.batch * 2);
    this.say(tried.way);
    if (tried.way !== 'open' || tried.sent === 0) {
      // Before the next send it is asked again: the ship may have come back with an older journal.
      this.asked_ms = -Infinity;
      return this.later();
    }
    this.wait_ms = options.first_wait_ms;
    // Once all is out, the hash that vouches for it is fetched soon.
    if ((await outbox.counts()).unsent === 0) this.asked_ms = Math.min(this.asked_ms, performance.now() - options.ask_every_ms + 2_000);
    return 0;
  }

  private later(): number {
    const wait_ms = this.wait_ms;
    this.wait_ms = Math.min(this.wait_ms * 2, this.options.last_wait_ms);
    return wait_ms;
  }

  private say(way: Way): void {
    if (way === this.way) return;
    this.way = way;
    this.told(way);
  }

  private sleep(for_ms: number): Promise<void> {
    return new Promise((wake) => {
      const timer = setTimeout(done, for_ms);
      const self = this;
      function done() {
        clearTimeout(timer);
        self.nudged = null;
        wake();
      }
      this.nudged = done;
    });
  }
}

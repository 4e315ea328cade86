// A ship for tests: keeps bodies as the server does, can lose answers, be restored from an old copy, or be away.
import type { Known, Verdict } from './outbox.ts';
import { type SendOptions, usual } from './send.ts';

interface Row {
  id: string;
  device: string;
  device_seq: number;
  text: string;
}

export class FakeShip {
  rows: Row[] = [];
  epoch = 'epoch1';
  away = false;
  /** Keeps what comes, then loses the answer, for so many posts. */
  lose_answers = 0;
  /** Answers every request with this instead. */
  status: number | null = null;
  /** Kinds that are refused. */
  refused = new Set<string>();
  /** Kinds whose post cannot be understood at all. */
  unreadable = new Set<string>();
  backup_through: number | null = null;
  posts: string[] = [];
  asked = 0;
  repeats = 0;

  restore(rows: number, epoch: string): void {
    this.rows = this.rows.slice(0, rows);
    this.epoch = epoch;
  }

  hashAt(count: number): string {
    return this.rows.slice(0, count).map((row) => row.text.length + row.id).join('|');
  }

  fetch: typeof fetch = async (input, init) => {
    const path = String(input);
    if (this.away) {
      // Dead Wi-Fi: no answer ever; only the caller's own time-out ends it.
      return new Promise((_, fail) => init?.signal?.addEventListener('abort', () => fail(new Error('aborted'))));
    }
    if (this.status !== null) return new Response('{"code":"too_many","text":"-"}', { status: this.status });
    if (path.startsWith('/api/devices/me')) {
      this.asked += 1;
      const device = new URL(path, 'http://ship').searchParams.get('device');
      const last = this.rows.findLastIndex((row) => row.device === device);
      const known: Known = {
        epoch: this.epoch,
        last_seq: last < 0 ? null : this.rows[last]!.device_seq,
        hash: last < 0 ? null : this.hashAt(last + 1),
        may_forget_through_seq: this.backup_through,
        may_forget_after_days: 30,
      };
      return new Response(JSON.stringify(known));
    }
    const body = String(init?.body);
    this.posts.push(body);
    const events = JSON.parse(body) as (Row & { kind: string })[];
    if (events.some((event) => this.unreadable.has(event.kind))) return new Response('{"text":"no"}', { status: 400 });
    const results = events.map((event) => this.take(event, body));
    if (this.lose_answers > 0) {
      this.lose_answers -= 1;
      throw new TypeError('connection lost');
    }
    return new Response(JSON.stringify({ results }));
  };

  private take(event: Row & { kind: string }, body: string): Verdict {
    if (this.refused.has(event.kind)) return { id: event.id, result: 'refused', reason: 'role', reason_code: 'not_in_this_role' };
    const text = JSON.stringify(event);
    if (!body.includes(text)) throw new Error('the bytes are not those of one encoding');
    const same = this.rows.find((row) => row.id === event.id || (row.device === event.device && row.device_seq === event.device_seq));
    if (same) {
      if (same.text !== text) return { id: event.id, result: 'conflict', reason: 'contradicts', reason_code: 'contradicts' };
      this.repeats += 1;
      return { id: event.id, result: 'repeat' };
    }
    this.rows.push({ id: event.id, device: event.device, device_seq: event.device_seq, text });
    return { id: event.id, result: 'kept' };
  }
}

export function quick(ship: FakeShip): SendOptions {
  return { ...usual, fetch: ship.fetch, timeout_ms: 30, first_wait_ms: 2, last_wait_ms: 10, ask_every_ms: 1_000 };
}

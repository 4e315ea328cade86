// The queue of events on every device: first kept here, then sent, deleted only when the ship's backups hold them.
//
// An acknowledged event stays, marked, until a verified backup of the ship lies beyond it or the days that the ship
// names are over. When the ship's journal is an older one than the device was told of, all that is still here goes out
// again; a repeat is harmless. A refused or contradicting event is set aside, kept and shown, and blocks nothing.
import { uuid7 } from './id.ts';
import { type Database, type Device, type Kept, openStore, STRICT } from './store.ts';

/** What a time rests on. */
export type Basis = 'tapped' | 'typed' | 'assumed' | 'instrument';

/** What somebody did. */
export interface Happening {
  kind: string;
  data: Record<string, unknown>;
  basis?: Basis;
  /** Unix milliseconds by the device's clock; now, when absent. */
  at_ms?: number;
  person?: string | null;
  set?: string | null;
  haul?: string | null;
}

/** How many lie where. */
export interface Counts {
  /** Not yet acknowledged by the ship. */
  unsent: number;
  /** Refused or in conflict. */
  aside: number;
  /** Acknowledged and still here. */
  held: number;
}

/** The ship's answer for one event. */
export interface Verdict {
  id?: string | null;
  result: 'kept' | 'repeat' | 'conflict' | 'refused';
  reason?: string | null;
  reason_code?: string | null;
}

/** What the ship says that it knows of this device (`GET /api/devices/me`). */
export interface Known {
  epoch: string;
  last_seq?: number | null;
  hash?: string | null;
  may_forget_through_seq?: number | null;
  may_forget_after_days: number;
}

/** The device's clocks; tests give their own. */
export interface Clocks {
  now_ms(): number;
  /** A counter that never steps. */
  counter_ms(): number;
  /** Ship's UTC as far as the device knows it; null where there is none worth judging an age by. */
  ship_ms(): number | null;
}

export const deviceClocks: Clocks = { now_ms: () => Date.now(), counter_ms: () => performance.now(), ship_ms: () => null };

/** A single event that the ship can make nothing of is set aside after so many tries. */
const BAD_TRIES = 3;
const DAY_MS = 86_400_000;

export class Outbox {
  /** Which start of this page; the counter of its events belongs to it. */
  readonly boot: string;
  private readonly watchers = new Set<() => void>();
  private readonly channel: BroadcastChannel | null;

  private constructor(
    private readonly database: Database,
    private readonly clocks: Clocks,
    readonly device: string,
    name: string,
  ) {
    this.boot = uuid7(clocks.now_ms());
    this.channel = typeof BroadcastChannel === 'undefined' ? null : new BroadcastChannel(`${name}-outbox`);
    if (this.channel) this.channel.onmessage = () => this.tell();
  }

  static async open(clocks: Clocks = deviceClocks, name = 'gangion'): Promise<Outbox> {
    const database = await openStore(name);
    const me = await database.get('device', 'me');
    if (!me) throw new Error('the store on this device has lost its own id');
    return new Outbox(database, clocks, me.device, name);
  }

  /** Keeps what happened. Only when this has come back may a screen say that it is kept. */
  async put(happening: Happening): Promise<{ id: string; device_seq: number; text: string }> {
    const now_ms = happening.at_ms ?? this.clocks.now_ms();
    const counter_ms = Math.max(0, Math.floor(this.clocks.counter_ms()));
    const id = uuid7(this.clocks.now_ms());
    const transaction = this.database.transaction(['device', 'events'], 'readwrite', STRICT);
    const devices = transaction.objectStore('device');
    const me = (await devices.get('me')) as Device;
    const device_seq = me.next_seq;
    const text = JSON.stringify({
      id,
      device: me.device,
      device_seq,
      kind: happening.kind,
      version: 1,
      happened_at: new Date(now_ms).toISOString(),
      happened_basis: happening.basis ?? 'tapped',
      boot: this.boot,
      monotonic_ms: counter_ms,
      person: happening.person ?? null,
      set: happening.set ?? null,
      haul: happening.haul ?? null,
      data: happening.data,
    });
    const keep = () => [
      transaction.objectStore('events').add({
        device_seq,
        id,
        kind: happening.kind,
        text,
        state: 'waiting',
        queued_at_ms: now_ms,
        held_at_ms: null,
        bad_tries: 0,
        reason: null,
        reason_code: null,
      }),
      devices.put({ ...me, next_seq: device_seq + 1 }),
    ];
    // Its end is told below; where that is not reached it has been told already.
    transaction.done.catch(() => {});
    try {
      await Promise.all([...keep(), transaction.done]);
    } catch (error) {
      // Both or neither: a number without its event would be a gap.
      try {
        transaction.abort();
      } catch {
        // It has ended already.
      }
      throw error;
    }
    this.changed();
    return { id, device_seq, text };
  }

  /** Takes out what was just done. Nothing is ever deleted for it: a correction follows. */
  undo(target: string, why: string, set: string | null): Promise<{ id: string; device_seq: number; text: string }> {
    return this.put({ kind: 'voided', data: { target, why }, set });
  }

  async counts(): Promise<Counts> {
    const index = this.database.transaction('events').store.index('state');
    const [unsent, aside, held] = await Promise.all([index.count('waiting'), index.count('aside'), index.count('held')]);
    return { unsent, aside, held };
  }

  /** The next events to send, oldest first, within a number and a size. */
  async next(most: number, most_bytes: number): Promise<Kept[]> {
    // All at once: a step for each event would take longer than the ship does.
    const found = await this.database.getAllFromIndex('events', 'state', 'waiting', most);
    let bytes = 0;
    const beyond = found.findIndex((event, at) => (bytes += event.text.length) > most_bytes && at > 0);
    return beyond < 0 ? found : found.slice(0, beyond);
  }

  /** Everything that was refused or contradicts, for the screen that shows it. */
  setAside(): Promise<Kept[]> {
    return this.database.getAllFromIndex('events', 'state', 'aside');
  }

  /** Everything not yet acknowledged. */
  unsent(): Promise<Kept[]> {
    return this.database.getAllFromIndex('events', 'state', 'waiting');
  }

  /** Marks what the ship answered, event by event. An event without an answer stays as it is. */
  async mark(sent: readonly Kept[], verdicts: readonly Verdict[]): Promise<void> {
    const by_id = new Map(verdicts.filter((verdict) => verdict.id).map((verdict) => [verdict.id, verdict]));
    const in_order = verdicts.length === sent.length;
    const transaction = this.database.transaction('events', 'readwrite', STRICT);
    await Promise.all([
      ...sent.map(async (event, at) => {
        const by_place = in_order && !verdicts[at]?.id ? verdicts[at] : undefined;
        const verdict = by_id.get(event.id) ?? by_place;
        const stored = await transaction.store.get(event.device_seq);
        if (!verdict || !stored || stored.id !== event.id) return;
        if (verdict.result === 'kept' || verdict.result === 'repeat') {
          stored.state = 'held';
          stored.held_at_ms = this.clocks.ship_ms();
          stored.reason = stored.reason_code = null;
        } else if (verdict.result === 'conflict' || verdict.result === 'refused') {
          stored.state = 'aside';
          stored.reason = verdict.reason ?? null;
          stored.reason_code = verdict.reason_code ?? verdict.result;
        } else return;
        await transaction.store.put(stored);
      }),
      transaction.done,
    ]);
    this.changed();
  }

  /** A post of this event alone could not be understood; after some tries it goes aside and blocks nothing. */
  async failedAlone(event: Kept, reason: string): Promise<void> {
    const transaction = this.database.transaction('events', 'readwrite', STRICT);
    const stored = await transaction.store.get(event.device_seq);
    if (stored) {
      stored.bad_tries += 1;
      if (stored.bad_tries >= BAD_TRIES) {
        stored.state = 'aside';
        stored.reason = reason;
        stored.reason_code = 'not_readable';
      }
      await transaction.store.put(stored);
    }
    await transaction.done;
    this.changed();
  }

  /** Sends an event that was set aside once more: the same bytes. */
  async tryAgain(device_seq: number): Promise<void> {
    const transaction = this.database.transaction('events', 'readwrite', STRICT);
    const stored = await transaction.store.get(device_seq);
    if (stored?.state === 'aside') await transaction.store.put({ ...stored, state: 'waiting', bad_tries: 0 });
    await transaction.done;
    this.changed();
  }

  /**
   * Compares what the ship knows with what it was given: what it has lost goes out again; what its backups hold is
   * forgotten here. Answers how many go out again and how many were forgotten.
   */
  async settle(known: Known): Promise<{ again: number; forgotten: number }> {
    const transaction = this.database.transaction(['device', 'events'], 'readwrite', STRICT);
    const devices = transaction.objectStore('device');
    const events = transaction.objectStore('events');
    const me = (await devices.get('me')) as Device;
    const held = await events.index('state').getAll('held');
    const last_seq = known.last_seq ?? 0;
    const lost = lostFrom(me, known, last_seq);
    const ship_ms = this.clocks.ship_ms();
    let again = 0;
    let forgotten = 0;
    for (const event of held) {
      if (event.device_seq >= lost) {
        await events.put({ ...event, state: 'waiting', held_at_ms: null });
        again += 1;
        continue;
      }
      const in_backup = event.device_seq <= (known.may_forget_through_seq ?? 0);
      const old =
        ship_ms !== null && event.held_at_ms !== null && ship_ms - event.held_at_ms > known.may_forget_after_days * DAY_MS;
      if (in_backup || old) {
        await events.delete(event.device_seq);
        forgotten += 1;
      }
    }
    // A wiped ship may know higher numbers of this device than its own store, if the store was put back from a copy.
    const next_seq = Math.max(me.next_seq, last_seq + 1);
    await devices.put({
      ...me,
      next_seq,
      ship: { epoch: known.epoch, last_seq: known.last_seq ?? null, hash: known.hash ?? null },
    });
    await transaction.done;
    if (again + forgotten > 0) this.changed();
    return { again, forgotten };
  }

  /** Asks to be the one tab that sends; true when this tab is it for `for_ms` from now. */
  async lease(tab: string, for_ms: number): Promise<boolean> {
    const transaction = this.database.transaction('lease', 'readwrite');
    const now_ms = this.clocks.now_ms();
    const lease = await transaction.store.get('sender');
    // A lease that ends further ahead than any is given came from a clock that has been set back since.
    const stands = lease && lease.tab !== tab && lease.until_ms > now_ms && lease.until_ms - now_ms <= for_ms;
    if (!stands) await transaction.store.put({ key: 'sender', tab, until_ms: now_ms + for_ms });
    await transaction.done;
    return !stands;
  }

  /** Called at every change, in this tab or another one; gives back how to stop it. */
  watch(watcher: () => void): () => void {
    this.watchers.add(watcher);
    return () => this.watchers.delete(watcher);
  }

  close(): void {
    this.channel?.close();
    this.database.close();
  }

  private changed(): void {
    this.channel?.postMessage('changed');
    this.tell();
  }

  private tell(): void {
    for (const watcher of this.watchers) watcher();
  }
}

/** From which number on the ship may have lost what it acknowledged; Infinity for none. */
function lostFrom(me: Device, known: Known, last_seq: number): number {
  const told = me.ship;
  if (!told) return last_seq + 1;
  if (told.epoch === known.epoch) return last_seq + 1;
  // Another opening of the journal. The chain's hash vouches for all before it, if it is the one that was told.
  if (told.last_seq === (known.last_seq ?? null) && told.hash === (known.hash ?? null)) return last_seq + 1;
  return 0;
}

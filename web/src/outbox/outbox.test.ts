// The queue: nothing that was told as kept is lost, whatever breaks.
import 'fake-indexeddb/auto';
import { afterEach, describe, expect, it } from 'vitest';
import { uuid7 } from './id.ts';
import { type Clocks, Outbox } from './outbox.ts';
import { ask, Sender, sendOnce } from './send.ts';
import { FakeShip, quick } from './testing.ts';

let fresh = 0;
const open_boxes: Outbox[] = [];
const senders: Sender[] = [];

async function box(name: string, clocks?: Clocks): Promise<Outbox> {
  const outbox = await Outbox.open(clocks, name);
  open_boxes.push(outbox);
  return outbox;
}
const newName = () => `store-${++fresh}`;
const float = (place: number) => ({ kind: 'float_clipped', data: { place } });

function sender(outbox: Outbox, ship: FakeShip): Sender {
  const made = new Sender(outbox, quick(ship), () => {});
  senders.push(made);
  void made.run();
  return made;
}

async function until(what: () => Promise<boolean> | boolean): Promise<void> {
  for (let tries = 0; tries < 400; tries++) {
    if (await what()) return;
    await new Promise((done) => setTimeout(done, 5));
  }
  throw new Error('it did not come about within 2 s');
}

afterEach(() => {
  for (const one of senders.splice(0)) one.stop();
  for (const one of open_boxes.splice(0)) one.close();
});

describe('ids', () => {
  // Source: RFC 9562, appendix A.6: Unix time 0x017F22E279B0 (22 February 2022, 19:22:22 UTC) gives 017f22e2-79b0-7….
  it('val_ a UUIDv7 begins with the time as in RFC 9562, appendix A.6', () => {
    const id = uuid7(0x017f22e279b0);
    expect(id).toMatch(/^017f22e2-79b0-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  });
  it('verif_ ids differ, sort by time and stand without randomUUID', () => {
    const ids = Array.from({ length: 2_000 }, (_, at) => uuid7(1_700_000_000_000 + at));
    expect(new Set(ids).size).toBe(2_000);
    expect([...ids].sort()).toEqual(ids);
  });
});

describe('what is kept', () => {
  it('verif_ an event has the whole envelope and its number', async () => {
    const outbox = await box(newName(), { now_ms: () => Date.UTC(2026, 2, 3, 16, 14, 5), counter_ms: () => 1234.9, ship_ms: () => null });
    const { id, text } = await outbox.put({ ...float(66), set: 's1' });
    expect(JSON.parse(text)).toEqual({
      id, device: outbox.device, device_seq: 1, kind: 'float_clipped', version: 1,
      happened_at: '2026-03-03T16:14:05.000Z', happened_basis: 'tapped', boot: outbox.boot, monotonic_ms: 1234,
      person: null, set: 's1', haul: null, data: { place: 66 },
    });
    expect((await outbox.put(float(67))).device_seq).toBe(2);
  });

  it('verif_ a crash between write and send loses nothing, and the same bytes go out after the reload', async () => {
    const name = newName();
    const before = await box(name);
    const { text } = await before.put(float(1));
    before.close();
    const after = await box(name);
    const ship = new FakeShip();
    expect(after.device).toBe(before.device);
    expect(after.boot).not.toBe(before.boot);
    expect(await after.counts()).toEqual({ unsent: 1, aside: 0, held: 0 });
    await sendOnce(after, quick(ship));
    expect(ship.posts).toEqual([`[${text}]`]);
    expect((await after.put(float(2))).device_seq).toBe(2);
  });

  it('verif_ a lost answer sends the same bytes again and the ship keeps them once', async () => {
    const outbox = await box(newName());
    const ship = new FakeShip();
    ship.lose_answers = 3;
    for (let place = 1; place <= 10; place++) await outbox.put(float(place));
    sender(outbox, ship);
    await until(async () => (await outbox.counts()).unsent === 0);
    expect(ship.rows.map((row) => row.device_seq)).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
    expect(ship.repeats).toBe(30);
    expect(new Set(ship.posts).size).toBe(1);
    expect((await outbox.counts()).held).toBe(10);
  });

  it('verif_ dead Wi-Fi ends by the own time-out; all goes out when it comes back', async () => {
    const outbox = await box(newName());
    const ship = new FakeShip();
    ship.away = true;
    const one = sender(outbox, ship);
    for (let place = 1; place <= 5; place++) await outbox.put(float(place));
    await until(() => one.way === 'no_answer');
    expect((await outbox.counts()).unsent).toBe(5);
    ship.away = false;
    await until(async () => (await outbox.counts()).unsent === 0);
    expect(ship.rows.length).toBe(5);
    expect(one.way).toBe('open');
  });

  it('regress_ an event put while a round is under way does not wait for the next question', async () => {
    const outbox = await box(newName());
    const ship = new FakeShip();
    sender(outbox, ship);
    await until(() => ship.asked > 0);
    for (let place = 1; place <= 20; place++) {
      await outbox.put(float(place));
      if (place % 3 === 0) await new Promise((done) => setTimeout(done, 1));
    }
    await until(() => ship.rows.length === 20);
    expect(ship.repeats).toBe(0);
  });

  it('verif_ batches shrink while no answer comes in time and grow again when it does', async () => {
    const outbox = await box(newName());
    const ship = new FakeShip();
    for (let place = 1; place <= 700; place++) await outbox.put(float(place));
    const one = new Sender(outbox, { ...quick(ship), timeout_ms: 20_000 }, () => {});
    senders.push(one);
    void one.run();
    await until(async () => (await outbox.counts()).unsent === 0);
    const sizes = ship.posts.map((body) => (JSON.parse(body) as unknown[]).length);
    expect(sizes).toEqual([100, 200, 400]);
    one.stop();
    ship.away = true;
    const slow: number[] = [];
    const waits = { ...quick(ship), fetch: ((input, init) => {
      if (init?.method === 'POST') slow.push((JSON.parse(String(init.body)) as unknown[]).length);
      return String(input).startsWith('/api/devices/me') ? new FakeShip().fetch(input, init) : ship.fetch(input, init);
    }) as typeof fetch };
    for (let place = 1; place <= 200; place++) await outbox.put(float(place));
    const other = new Sender(outbox, waits, () => {});
    senders.push(other);
    void other.run();
    await until(() => slow.length >= 4);
    expect(slow.slice(0, 4)).toEqual([100, 25, 10, 10]);
  });

  it('verif_ too many, not paired and a stopped journal keep everything waiting', async () => {
    const outbox = await box(newName());
    const ship = new FakeShip();
    await outbox.put(float(1));
    for (const [status, way] of [[429, 'busy'], [401, 'not_paired'], [403, 'not_paired'], [503, 'ship_stopped'], [500, 'ship_error']] as const) {
      ship.status = status;
      expect(await sendOnce(outbox, quick(ship))).toEqual({ way, sent: 0 });
      expect(await ask(outbox, quick(ship))).toBe(way);
      expect(await outbox.counts()).toEqual({ unsent: 1, aside: 0, held: 0 });
    }
  });
});

describe('what is set aside', () => {
  it('verif_ a refused event is kept in sight and blocks nothing', async () => {
    const outbox = await box(newName());
    const ship = new FakeShip();
    ship.refused.add('utc_offset_changed');
    await outbox.put(float(1));
    await outbox.put({ kind: 'utc_offset_changed', data: { utc_offset_min: 600 } });
    await outbox.put(float(2));
    sender(outbox, ship);
    await until(async () => (await outbox.counts()).unsent === 0);
    expect(await outbox.counts()).toEqual({ unsent: 0, aside: 1, held: 2 });
    const [aside] = await outbox.setAside();
    expect(aside).toMatchObject({ kind: 'utc_offset_changed', reason: 'role', reason_code: 'not_in_this_role' });
    ship.refused.clear();
    await outbox.tryAgain(aside!.device_seq);
    await until(async () => (await outbox.counts()).held === 3);
    expect(ship.rows.at(-1)?.text).toBe(aside!.text);
  });

  it('verif_ a used number with another id is a conflict, shown and not sent again', async () => {
    const outbox = await box(newName());
    const ship = new FakeShip();
    ship.rows.push({ id: 'another', device: outbox.device, device_seq: 1, text: 'another' });
    await outbox.put(float(1));
    await sendOnce(outbox, quick(ship));
    expect((await outbox.setAside())[0]).toMatchObject({ device_seq: 1, reason_code: 'contradicts' });
    expect(await sendOnce(outbox, quick(ship))).toEqual({ way: 'open', sent: 0 });
  });

  it('verif_ a post that cannot be understood is taken apart; its cause goes aside after three tries', async () => {
    const outbox = await box(newName());
    const ship = new FakeShip();
    ship.unreadable.add('poison');
    for (const kind of ['float_clipped', 'poison', 'float_clipped']) await outbox.put({ kind, data: {} });
    for (let round = 0; round < 3; round++) await sendOnce(outbox, quick(ship));
    expect(await outbox.counts()).toEqual({ unsent: 0, aside: 1, held: 2 });
    expect(ship.rows.map((row) => row.device_seq)).toEqual([1, 3]);
  });

  it('verif_ what was not yet sent is undone by a correction, never deleted', async () => {
    const outbox = await box(newName());
    const tapped = await outbox.put(float(7));
    await outbox.undo(tapped.id, 'undo', 's1');
    const texts = (await outbox.unsent()).map((event) => JSON.parse(event.text));
    expect(texts.map((event) => event.kind)).toEqual(['float_clipped', 'voided']);
    expect(texts[1].data).toEqual({ target: tapped.id, why: 'undo' });
  });
});

describe('what the ship knows', () => {
  const at = (ship_ms: number | null): Clocks => ({ now_ms: () => Date.now(), counter_ms: () => 1, ship_ms: () => ship_ms });

  it('verif_ an acknowledged event stays until a verified backup lies beyond it', async () => {
    const outbox = await box(newName());
    const ship = new FakeShip();
    for (let place = 1; place <= 6; place++) await outbox.put(float(place));
    await sendOnce(outbox, quick(ship));
    await ask(outbox, quick(ship));
    expect(await outbox.counts()).toEqual({ unsent: 0, aside: 0, held: 6 });
    ship.backup_through = 4;
    await ask(outbox, quick(ship));
    expect(await outbox.counts()).toEqual({ unsent: 0, aside: 0, held: 2 });
  });

  it('verif_ without a backup it stays 30 days by the ship’s time, and for ever where that is not known', async () => {
    const name = newName();
    const start = Date.UTC(2026, 0, 1);
    const ship = new FakeShip();
    const first = await box(name, at(start));
    await first.put(float(1));
    await sendOnce(first, quick(ship));
    await ask(first, quick(ship));
    first.close();
    for (const [days, held] of [[29.9, 1], [null, 1], [30.1, 0]] as const) {
      const later = await box(name, at(days === null ? null : start + days * 86_400_000));
      await ask(later, quick(ship));
      expect((await later.counts()).held, `${days} days`).toBe(held);
      later.close();
    }
  });

  it('verif_ nothing unsent or set aside is ever forgotten', async () => {
    const outbox = await box(newName(), at(Date.UTC(2036, 0, 1)));
    await outbox.put(float(1));
    await outbox.settle({ epoch: 'e', last_seq: 99, hash: 'h', may_forget_through_seq: 99, may_forget_after_days: 0 });
    expect((await outbox.counts()).unsent).toBe(1);
    expect((await outbox.put(float(2))).device_seq, 'a number the ship knows is not given again').toBe(100);
  });

  it('verif_ a ship restored from an old backup gets again what it lost', async () => {
    const outbox = await box(newName());
    const ship = new FakeShip();
    for (let place = 1; place <= 8; place++) await outbox.put(float(place));
    const one = sender(outbox, ship);
    await until(async () => (await outbox.counts()).held === 8);
    const texts = ship.rows.map((row) => row.text);
    ship.restore(3, 'epoch2');
    one.linkIsNew();
    await until(() => ship.rows.length === 8);
    expect(ship.rows.map((row) => row.text)).toEqual(texts);
  });

  it('verif_ an older journal is noticed even when newer events have reached it since', async () => {
    const outbox = await box(newName());
    const ship = new FakeShip();
    for (let place = 1; place <= 8; place++) await outbox.put(float(place));
    await sendOnce(outbox, quick(ship));
    await ask(outbox, quick(ship));
    ship.restore(3, 'epoch2');
    await outbox.put(float(9));
    await sendOnce(outbox, quick(ship));
    expect(ship.rows.map((row) => row.device_seq)).toEqual([1, 2, 3, 9]);
    await ask(outbox, quick(ship));
    while ((await sendOnce(outbox, quick(ship))).sent > 0);
    expect(ship.rows.map((row) => row.device_seq).sort()).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9]);
  });

  it('verif_ a plain restart of the ship with the same chain sends nothing again', async () => {
    const outbox = await box(newName());
    const ship = new FakeShip();
    for (let place = 1; place <= 4; place++) await outbox.put(float(place));
    await sendOnce(outbox, quick(ship));
    await ask(outbox, quick(ship));
    ship.epoch = 'epoch2';
    await ask(outbox, quick(ship));
    expect(await outbox.counts()).toEqual({ unsent: 0, aside: 0, held: 4 });
  });

  it('verif_ a wiped ship gets everything that is still here', async () => {
    const outbox = await box(newName());
    const ship = new FakeShip();
    for (let place = 1; place <= 4; place++) await outbox.put(float(place));
    await sendOnce(outbox, quick(ship));
    await ask(outbox, quick(ship));
    ship.restore(0, 'epoch9');
    await ask(outbox, quick(ship));
    expect((await outbox.counts()).unsent).toBe(4);
  });
});

describe('two tabs', () => {
  it('verif_ never give one number twice, send everything, and one of them sends', async () => {
    const name = newName();
    const [left, right] = [await box(name), await box(name)];
    expect(left.device).toBe(right.device);
    const ship = new FakeShip();
    const taps = Array.from({ length: 40 }, (_, at) => (at % 2 ? left : right).put(float(at)));
    const numbers = (await Promise.all(taps)).map((tap) => tap.device_seq);
    expect([...numbers].sort((a, b) => a - b)).toEqual(Array.from({ length: 40 }, (_, at) => at + 1));
    sender(left, ship);
    sender(right, ship);
    await until(() => ship.rows.length === 40);
    await until(async () => (await right.counts()).unsent === 0);
    expect(ship.repeats).toBe(0);
    expect(await left.lease('a', 1_000) && await right.lease('b', 1_000)).toBe(false);
  });

  it('verif_ one tab is told of what the other one keeps', async () => {
    const name = newName();
    const [left, right] = [await box(name), await box(name)];
    let told = 0;
    right.watch(() => (told += 1));
    await left.put(float(1));
    await until(() => told > 0);
    expect((await right.counts()).unsent).toBe(1);
  });

  it('verif_ the sending passes on when the sending tab is closed, and a clock set back does not stop it', async () => {
    const name = newName();
    let now_ms = 1_000_000;
    const clocks: Clocks = { now_ms: () => now_ms, counter_ms: () => 0, ship_ms: () => null };
    const outbox = await box(name, clocks);
    expect(await outbox.lease('a', 1_000)).toBe(true);
    expect(await outbox.lease('b', 1_000)).toBe(false);
    now_ms += 1_001;
    expect(await outbox.lease('b', 1_000)).toBe(true);
    now_ms -= 500_000;
    expect(await outbox.lease('a', 1_000)).toBe(true);
  });
});

// The ship's time on a device whose own clock may be anything.
import { describe, expect, it } from 'vitest';
import { ShipTime } from './ship-time.ts';

describe('ship’s time', () => {
  const utc = Date.UTC(2026, 2, 3, 16, 0, 0);

  it('verif_ the quickest of the answers is taken, and a stepping device clock changes nothing', async () => {
    let [wall, counter] = [utc + 3_600_000, 1_000];
    const time = new ShipTime(() => wall, () => counter);
    const trips = [400, 20, 900];
    const ok = await time.measure(async () => {
      const trip = trips.shift()!;
      // The way there takes all of the trip's odd part: at worst half the trip wrong.
      const answered = new Date(utc + counter - 1_000 + trip / 2).toISOString();
      counter += trip;
      wall += trip;
      return { utc: answered, basis: 'satellite' as const };
    }, 3);
    expect(ok).toBe(true);
    expect(time.utcMs()).toBeCloseTo(utc + counter - 1_000, 6);
    expect(time.offset()).toEqual({ offset_s: 3_600, uncertainty_s: 0.01 });
    wall -= 86_400_000;
    counter += 5_000;
    expect(time.utcMs()).toBeCloseTo(utc + counter - 1_000, 6);
  });

  it('verif_ a played voyage runs at its own rate and is no time to judge ages by', () => {
    let counter = 0;
    const time = new ShipTime(() => 0, () => counter);
    const reading = (counter_ms: number, utc_ms: number) => ({ counter_ms, utc_ms, uncertainty_ms: 1, basis: 'played' as const });
    time.set(reading(0, utc));
    counter = 1_000;
    time.set(reading(1_000, utc + 60_000));
    counter = 2_000;
    expect(time.utcMs()).toBe(utc + 120_000);
    expect(time.realMs()).toBeNull();
  });

  it('verif_ the rate that the ship tells counts from the first answer on', async () => {
    let counter = 0;
    const time = new ShipTime(() => 0, () => counter);
    await time.measure(async () => ({ utc: new Date(utc).toISOString(), basis: 'played' as const, rate: 60 }), 1);
    counter = 2_000;
    expect(time.utcMs()).toBe(utc + 120_000);
    expect(time.strays(new Date(utc + 130_000).toISOString())).toBe(false);
    expect(time.strays(new Date(utc + 600_000).toISOString())).toBe(true);
    await time.measure(async () => ({ utc: new Date(utc).toISOString(), basis: 'satellite' as const, rate: 60 }), 1);
    counter = 3_000;
    expect(time.utcMs()).toBe(utc + 1_000);
  });

  it('verif_ without an answer the device’s own clock goes on', async () => {
    const time = new ShipTime(() => 42, () => 0);
    expect(await time.measure(async () => null)).toBe(false);
    expect(time.utcMs()).toBe(42);
    expect(time.offset()).toBeNull();
  });
});

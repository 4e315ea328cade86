// What is due, and the small projection of the line being set.
import { describe, expect, it } from 'vitest';
import vectors from '../../vectors/due.json' with { type: 'json' };
import { dueAt, type Stop } from './due.ts';
import { type Event, expectedTag, SetLog } from './log.ts';

describe('what is due', () => {
  for (const one of vectors.cases) {
    it(`verif_ ${one.name}`, () => {
      const [basket, position, at_s, beat_s, float_takes_a_beat] = one.anchor as [number, number, number, number, boolean];
      const stated = Object.entries(one.hooks).map(([from, hooks]) => [Number(from), hooks as number] as const);
      const hooksOf = (wanted: number) => stated.filter(([from]) => from <= wanted).at(-1)![1];
      const stops: Stop[] = (one.stops as [number, number | null][]).map(([from, to]) => ({ from_ms: from * 1_000, to_ms: to === null ? null : to * 1_000 }));
      const due = dueAt({ basket, position, at_ms: at_s * 1_000, beat_s, float_takes_a_beat }, hooksOf, stops, one.at_s * 1_000);
      if (one.due === null) return expect(due).toBeNull();
      const [b, p, next, in_s, to_float] = one.due as [number, number, string, number, number];
      expect(due).toMatchObject({ basket: b, position: p, next, hooks_to_float: to_float });
      expect(due!.next_in_s).toBeCloseTo(in_s, 3);
      expect(due!.interval_s).toBeGreaterThanOrEqual(due!.next_in_s - 1e-6);
    });
  }
});

const t0 = Date.UTC(2026, 2, 3, 16, 0, 0);
let made = 0;
const event = (kind: string, data: Record<string, unknown>, after_s = 0, device = 'd'): Event => ({
  id: `id${++made}`, device, device_seq: made, kind, happened_at: new Date(t0 + after_s * 1_000).toISOString(), set: 's', data,
});
const beat = (basket: number, position: number, after_s: number, beat_s: number, hooks = 25, device = 'd') =>
  event('beat', { basket, position, at: new Date(t0 + after_s * 1_000).toISOString(), beat_s, hooks_per_basket: hooks, float_takes_a_beat: true }, after_s, device);

describe('the line being set', () => {
  it('verif_ the latest anchor stands, and a faster beat goes on where the slower one was', () => {
    const log = new SetLog();
    log.set = 's';
    log.take(beat(1, 0, 0, 7));
    log.take(beat(1, 10, 70, 5));
    expect(log.due(t0 + 69_000)).toMatchObject({ basket: 1, position: 9 });
    expect(log.due(t0 + 81_000)).toMatchObject({ basket: 1, position: 12 });
  });

  it('verif_ events in any order and twice give the same', () => {
    const events = [beat(1, 0, 0, 10), event('stop_started', {}, 35), event('stop_ended', { line_running: true }, 95), event('float_clipped', { place: 1, tag: '41' }, 1), event('basket_counted', { basket: 1, hooks: 5 }, 2)];
    const of = (order: Event[]) => {
      const log = new SetLog();
      log.set = 's';
      for (const one of [...order, ...order]) log.take(one);
      return JSON.stringify([log.due(t0 + 200_000), [...log.taps()], log.stops()]);
    };
    expect(of([...events].reverse())).toBe(of(events));
  });

  it('verif_ a clock that is two years off moves an anchor to the ship’s time', () => {
    const log = new SetLog();
    log.set = 's';
    const years_s = 2 * 365 * 86_400;
    log.take(event('clock_offset', { of_device: 'wrong', offset_s: years_s }));
    log.take(beat(4, 0, years_s, 7, 25, 'wrong'));
    expect(log.due(t0 + 7_000)).toMatchObject({ basket: 4, position: 1 });
  });

  it('verif_ what was undone is out, and amending brings it back', () => {
    const log = new SetLog();
    log.set = 's';
    const tap = event('float_clipped', { place: 3, tag: '43' });
    log.take(tap);
    expect(log.taps().get(3)?.tag).toBe('43');
    log.take(event('voided', { target: tap.id, why: 'undo' }));
    expect(log.taps().has(3)).toBe(false);
    log.take(event('amended', { target: tap.id, data: { place: 3, tag: '48' }, why: 'wrong tag' }));
    expect(log.taps().get(3)?.tag).toBe('48');
  });

  it('verif_ a stop says what the line did, whichever end said it last', () => {
    const log = new SetLog();
    log.set = 's';
    log.take(beat(1, 0, 0, 7));
    log.take(event('stop_started', {}, 30));
    expect(log.stops()).toMatchObject([{ to_ms: null, line_running: null }]);
    log.take(event('stop_ended', { line_running: false }, 60));
    expect(log.stops()).toMatchObject([{ to_ms: t0 + 60_000, line_running: false }]);
  });

  it('verif_ a man overboard stands until somebody calls it false', () => {
    const log = new SetLog();
    const call = event('man_overboard', { latitude_deg: -14.2, longitude_deg: 179.8 });
    log.take(call);
    expect(log.overboard(t0 + 1_000)).toMatchObject({ latitude_deg: -14.2 });
    log.take(event('man_overboard_false', { target: call.id }, 5));
    expect(log.overboard(t0 + 6_000)).toBeNull();
  });

  it('verif_ the next tag follows the way tags run; fixed tags are not guessed', () => {
    const known = new Map([[1, '41'], [3, '43'], [4, 'R2']]);
    expect(expectedTag(6, 'sequence_up', known)).toBe('46');
    expect(expectedTag(3, 'sequence_up', known)).toBe('43');
    expect(expectedTag(5, 'sequence_down', new Map([[1, '41']]))).toBe('37');
    expect(expectedTag(6, 'fixed', known)).toBeNull();
    expect(expectedTag(6, 'sequence_up', new Map())).toBeNull();
  });
});

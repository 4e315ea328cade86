// The small projection of the haul, held to cases that the ship's own fold is held to as well.
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import vectors from '../../vectors/haul.json' with { type: 'json' };
import type { Event } from '../set/log.ts';
import cards from './cards.json' with { type: 'json' };
import { figures } from './figures.ts';
import { HaulLog, type Line } from './log.ts';
import { countAt, endAt } from './pace.ts';
import { stripAtRail } from './strip.ts';
import type { Strip } from '../draw/strip.ts';
import species from './species.json' with { type: 'json' };

const T0 = Date.UTC(2026, 2, 4);
interface CaseLine { places: number; hooks: number; hooks_after?: number; tags?: string[]; buoys?: Record<string, string>; missed?: [number, number][] }
type Said = [number, string, Record<string, unknown>, string?, Record<string, unknown>?];

function lineOf(one: CaseLine): Line {
  const baskets = Array.from({ length: one.places }, (_, at) => ({
    basket: at + 1,
    lines: (at + 1 === one.places ? (one.hooks_after ?? 0) : one.hooks) - (one.missed ?? []).filter(([basket]) => basket === at + 1).length,
  }));
  const places = Array.from({ length: one.places }, (_, at) => {
    const buoy = one.buoys?.[at + 1] ?? null;
    return { place: at + 1, tag: buoy ? null : (one.tags?.[at] ?? String(41 + at)), buoy };
  });
  return { places, baskets };
}
const eventsOf = (said: Said[]): Event[] =>
  said.map(([s, kind, data, device, more], at) => ({ id: `e${at}`, device: device ?? 'rail', device_seq: at + 1, kind, happened_at: new Date(T0 + s * 1_000).toISOString(), set: 's', haul: null, data, ...more }));
function logOf(line: Line, events: Event[]): HaulLog {
  const log = new HaulLog();
  log.set = 's';
  log.line = line;
  for (const event of events) log.take(event);
  return log;
}

describe('the haul', () => {
  for (const one of vectors.cases) {
    it(`verif_ ${one.name}`, () => {
      const events = eventsOf(one.events as unknown as Said[]);
      const line = lineOf(one.line as unknown as CaseLine);
      // Corrections rest on the order of arrival; all else does not.
      const corrected = events.some((event) => event.kind === 'amended' || event.kind === 'voided');
      for (const order of corrected ? [events] : [events, events.toReversed(), [...events, ...events]]) {
        const log = logOf(line, order);
        const next = log.expected();
        const counted = countAt(log, T0 + one.now_s * 1_000);
        const { in_water, set } = log.toGo();
        const found: Record<string, unknown> = {
          next, tag: line.places.find((place) => place.place === next)?.tag ?? null, count: counted.count, off: counted.uncertainty, stands: counted.standing,
          lines: log.linesToNext(), in_water, set,
        };
        for (const [what, wanted] of Object.entries(one.answer)) if (what !== 'fish') expect(found[what], what).toEqual(wanted);
      }
    });
  }

  it('verif_ hauled both ways by chance: every float is expected once, the count never goes back, and nothing is left', () => {
    let seed = 7;
    const chance = () => (seed = (seed * 16_807) % 2_147_483_647) / 2_147_483_647;
    for (let round = 0; round < 60; round++) {
      const places = 3 + Math.floor(chance() * 8);
      const hooks = 2 + Math.floor(chance() * 9);
      const line = lineOf({ places, hooks, hooks_after: 0 });
      for (const direction of ['to_first', 'to_last'] as const) {
        const log = new HaulLog();
        log.set = 's';
        log.line = line;
        let [s, made] = [1_000, 0];
        const say = (kind: string, data: Record<string, unknown>) =>
          log.take({ id: `r${made++}`, device: 'rail', device_seq: made, kind, happened_at: new Date(T0 + s * 1_000).toISOString(), set: 's', haul: null, data });
        say('haul_started', { direction, from_place: direction === 'to_first' ? places : 1 });
        const met: number[] = [];
        let lost = 0;
        for (let next = log.expected(); next !== null; next = log.expected()) {
          const lines = log.linesToNext();
          let before = -1;
          for (let one = 0; one < lines; one++) {
            s += 5 + chance() * 10;
            if (chance() < 0.05) {
              say('hauler_stopped', {});
              const stood = countAt(log, T0 + s * 1_000).count;
              s += 300;
              expect(countAt(log, T0 + s * 1_000).count).toBe(stood);
              say('hauler_started', {});
            }
            const { count } = countAt(log, T0 + s * 1_000);
            expect(count ?? 0).toBeGreaterThanOrEqual(before);
            expect(count ?? 0).toBeLessThanOrEqual(lines);
            before = count ?? 0;
            if (chance() < 0.1) say('landed', { species: 'ALB', count_since_float: Math.max(1, before), uncertainty_hooks: 2 });
          }
          s += 10;
          if (chance() < 0.08 && met.length > 0 && next > 1 && next < places) {
            say('float_missing', { place: next });
            lost += 1;
          } else {
            say('float_hauled', { place: next });
            met.push(next);
          }
        }
        expect(met.length + lost).toBe(places);
        expect(new Set(met).size).toBe(met.length);
        expect(log.toGo()).toEqual({ in_water: 0, set: (places - 1) * hooks });
        expect(endAt(log, T0 + s * 1_000)!.at_ms).toBeCloseTo(T0 + s * 1_000, -3);
      }
    }
  });

  it('verif_ entries bear what was said later; undo takes one out and leaves the others', () => {
    const said: Said[] = [
      [1000, 'haul_started', { direction: 'to_first', from_place: 4 }], [1100, 'float_hauled', { place: 4 }],
      [1110, 'landed', { species: 'BET', count_since_float: 1, uncertainty_hooks: 1 }], [1120, 'landed', { species: 'ALB', count_since_float: 2, uncertainty_hooks: 1 }],
      [1125, 'fish_measured', { fish: 'e2', condition: 'alive', grade: { size: 'L' } }], [1126, 'fish_measured', { fish: 'e2', weight_kg: 41 }],
    ];
    const log = logOf(lineOf({ places: 4, hooks: 4 }), eventsOf(said));
    expect(log.entries().at(-2)).toMatchObject({ kind: 'landed', after: 4, data: { species: 'BET', condition: 'alive', weight_kg: 41, grade: { size: 'L' } } });
    expect(log.openFish()).toEqual(['e2', 'e3']);
    log.take({ id: 'u', device: 'rail', device_seq: 9, kind: 'voided', happened_at: new Date(T0 + 1_130_000).toISOString(), set: 's', data: { target: 'e3', why: 'undo' } });
    expect(log.openFish()).toEqual(['e2']);
    log.take({ id: 'v', device: 'table', device_seq: 1, kind: 'fish_step', happened_at: new Date(T0 + 1_140_000).toISOString(), set: 's', data: { fish: 'e2', step: 'in_cold' } });
    expect(log.openFish()).toEqual([]);
  });

  it('verif_ a clock set back three hours in mid-haul does no harm: the steady counter tells', () => {
    const log = new HaulLog();
    log.set = 's';
    log.line = lineOf({ places: 4, hooks: 4 });
    log.by_counter = (boot, ms) => (boot === 'b' && typeof ms === 'number' ? T0 + ms : null);
    const tap = (seq: number, s: number, clock_s: number, kind: string, data: Record<string, unknown>) =>
      log.take({ id: `c${seq}`, device: 'rail', device_seq: seq, kind, happened_at: new Date(T0 + clock_s * 1_000).toISOString(), set: 's', data, ...{ boot: 'b', monotonic_ms: s * 1_000, happened_basis: 'tapped' } } as Event);
    tap(1, 1000, 1000, 'haul_started', { direction: 'to_first', from_place: 4 });
    tap(2, 1100, 1100, 'float_hauled', { place: 4 });
    tap(3, 1200, 1200 - 10_800, 'float_hauled', { place: 3 });
    expect(log.expected()).toBe(2);
    expect(countAt(log, T0 + 1_241_000).count).toBe(2);
  });

  it('verif_ the strip shows what came up before the ship knows it, and where the rail is', () => {
    const strip = {
      arcs: [1, 2, 3].map((basket) => ({ basket, state: 'in_water', depth_known: true, points: [[(basket - 1) / 3, 0], [basket / 3, 0]] })),
      floats: [1, 2, 3, 4].map((place) => ({ place, at: (place - 1) / 3, to_come: false })), hauled_bars: [], haul: null,
    } as unknown as Strip;
    const said: Said[] = [[1000, 'haul_started', { direction: 'to_first', from_place: 4 }], [1100, 'float_hauled', { place: 4 }], [1200, 'float_hauled', { place: 3 }]];
    const shown = stripAtRail(strip, logOf(lineOf({ places: 4, hooks: 4 }), eventsOf(said)));
    expect(shown.arcs.map((arc) => arc.state)).toEqual(['in_water', 'in_water', 'hauled']);
    expect(shown.hauled_bars).toEqual([[2 / 3, 1]]);
    expect(shown.haul).toEqual({ at: 2 / 3, towards: 'first' });
    expect(stripAtRail(strip, logOf(lineOf({ places: 4, hooks: 4 }), []))).toBe(strip);
  });

  it('verif_ a danger called stands until it is over', () => {
    const log = logOf(lineOf({ places: 4, hooks: 4 }), eventsOf([[1000, 'danger_called', { what: 'shark' }]]));
    expect(log.danger()).toMatchObject({ what: 'shark' });
    log.take({ id: 'o', device: 'x', device_seq: 1, kind: 'danger_over', happened_at: new Date(T0 + 1_100_000).toISOString(), set: null, data: { target: 'e0' } });
    expect(log.danger()).toBeNull();
  });
});

describe('what comes up, as data', () => {
  const languages = ['en', 'es', 'fil', 'id', 'ja', 'vi', 'zh-Hans'];
  const english = readFileSync(new URL('../../locales/en.ftl', import.meta.url), 'utf8');
  const said = (id: string) => new RegExp(`^${id} = `, 'm').test(english);

  it('verif_ every code is three letters and has a name; what has a key of its own has one in every language', () => {
    const names = species.names as Record<string, Record<string, string>>;
    for (const [kind, { any, codes }] of Object.entries(species.kinds)) {
      for (const code of [any, ...codes]) {
        if (code !== kind) expect(code).toMatch(/^[A-Z]{3}$/);
        expect(names[code]?.['en'], code).toBeTruthy();
      }
      expect(Object.keys(names[any]!).sort(), kind).toEqual(languages);
    }
    for (const code of species.usual) expect(Object.keys(names[code]!).sort(), code).toEqual(languages);
    for (const figure of Object.values(species.figures)) expect(figures[figure], figure).toBeDefined();
  });

  it('verif_ every step and caution has words and a source, and steps are five', () => {
    for (const [animal, steps] of Object.entries(cards.steps)) {
      expect(steps.length, animal).toBe(5);
      for (const step of steps) expect(said(step.say) && step.source.length > 10 && step.handling.length > 3, step.say).toBe(true);
      expect(Object.keys(species.card)).toContain(animal);
    }
    for (const one of [...cards.conditions, ...cards.hooked, ...cards.left]) expect(said(one.say), one.say).toBe(true);
    for (const card of cards.cautions) for (const id of [card.title, ...card.lines]) expect(said(id), id).toBe(true);
  });
});

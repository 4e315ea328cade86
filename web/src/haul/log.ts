// The small projection of a haul: the next float, the running count, hooks to go, the last entries, with no ship in
// reach. Fed with the line as the ship last told it, journal rows and this device's unsent events, in any order.
//
// The meanings are the ship's own fold of places, stretches and rail counts (crates/voyage/src/fold/haul.rs); both are
// held to vectors/haul.json. Depths, positions and fates stay with the ship. No clock and no page in here.
import type { Event } from '../set/log.ts';
import { running, stopsOf, type Stop } from './pace.ts';

/** The line as it was set. */
export interface Line {
  places: { place: number; tag: string | null; buoy: string | null }[];
  /** Branch lines of a basket: its hooks less those known to be missed. */
  baskets: { basket: number; lines: number }[];
}

export interface Fact extends Event {
  at_ms: number;
}

/** The line between two floats, or beyond the last one hauled. */
export interface Stretch {
  from_place: number;
  from_ms: number;
  to: { place: number; at_ms: number } | null;
  /** The part began here: its start is not itself a hauled place. */
  unhauled_start: boolean;
  /** Indices of branch lines in the order in which they come up. */
  seen: number[];
  facts: Fact[];
}

export interface Part {
  id: string;
  direction: 'to_first' | 'to_last';
  step: 1 | -1;
  from_place: number | null;
  from_ms: number;
  ended: { at_ms: number; reason: string | null } | null;
  links: { place: number; at_ms: number; fact: Fact | null }[];
  stretches: Stretch[];
  stops: Stop[];
  facts: Fact[];
}

/** A thing kept at the rail, with what was said of it later. */
export interface Entry {
  id: string;
  kind: string;
  at_ms: number;
  data: Record<string, unknown>;
  /** The float after which it came, by place. */
  after: number | null;
  part: string | null;
}

export const number = (value: unknown): number | null => (typeof value === 'number' && Number.isFinite(value) ? value : null);
export const text = (value: unknown): string | null => (typeof value === 'string' && value !== '' ? value : typeof value === 'number' ? String(value) : null);
const whole = (value: unknown): number | null => (Number.isInteger(value) ? (value as number) : null);

const AT_RAIL = new Set([
  'float_hauled', 'float_missing', 'hooks_counted', 'radio_buoy_recovered', 'branch_line_lost', 'landed', 'lost_at_rail', 'bitten', 'released',
  'hauler_stopped', 'hauler_started', 'tangle',
]);
const SHOWN = new Set(['haul_started', 'haul_ended', 'float_hauled', 'radio_buoy_recovered', 'float_missing', 'branch_line_lost', 'landed', 'lost_at_rail', 'bitten', 'released', 'tangle', 'gear_lost', 'gear_recovered']);
const HELD = new Set([
  ...AT_RAIL, 'haul_started', 'haul_ended', 'gear_lost', 'gear_recovered', 'fish_measured', 'fish_step', 'stowed', 'voided', 'amended', 'clock_offset', 'danger_called', 'danger_over',
]);

/** An event that is itself a fish. */
export const beginsFish = (event: Event): boolean =>
  event.kind === 'landed' || event.kind === 'lost_at_rail' || event.kind === 'bitten' || (event.kind === 'released' && text(event.data['fish']) === null);

const roundHalfUp = (value: number) => Math.floor(value + 0.5);

export class HaulLog {
  private readonly events = new Map<string, { event: Event; order: number }>();
  private readonly offsets_s = new Map<string, number>();
  private order = 0;
  private held: Fact[] | null = null;
  private worked: { parts: Part[]; in_water: boolean[] } | null = null;
  private hooks: { basket: number }[] = [];
  private first_of = new Map<number, [number, number]>();
  private known: Line = { places: [], baskets: [] };
  private looked_at: string | null = null;

  /** Ship's UTC of an event of this very start of the page by its steady counter; a clock that jumps does no harm. */
  by_counter: (boot: unknown, counter_ms: unknown) => number | null = () => null;

  /** Every change of what was taken in. */
  changes = 0;

  get line(): Line {
    return this.known;
  }

  set line(line: Line) {
    this.known = { places: [...line.places].sort((a, b) => a.place - b.place), baskets: [...line.baskets].sort((a, b) => a.basket - b.basket) };
    this.hooks = [];
    this.first_of = new Map();
    for (const { basket, lines } of this.known.baskets) {
      this.first_of.set(basket, [this.hooks.length, this.hooks.length + lines]);
      for (let one = 0; one < lines; one++) this.hooks.push({ basket });
    }
    this.forget();
  }

  get set(): string | null {
    return this.looked_at;
  }

  set set(set: string | null) {
    if (set === this.looked_at) return;
    this.looked_at = set;
    this.forget();
  }

  clear(): void {
    this.events.clear();
    this.order = 0;
    this.forget();
  }

  clockOf(device: string, offset_s: number): void {
    this.offsets_s.set(device, offset_s);
    this.forget();
  }

  /** Takes an event in; false when it is known or says nothing of a haul. */
  take(event: Event): boolean {
    if (!HELD.has(event.kind) || this.events.has(event.id)) return false;
    if (event.kind === 'clock_offset') {
      const [device, offset_s] = [text(event.data['of_device']), number(event.data['offset_s'])];
      if (device && offset_s !== null) this.clockOf(device, offset_s);
    }
    this.events.set(event.id, { event, order: this.order++ });
    this.forget();
    return true;
  }

  /** What is held, for a copy on this device. */
  all(): Event[] {
    return [...this.events.values()].map((one) => one.event);
  }

  private forget(): void {
    this.held = null;
    this.worked = null;
    this.changes += 1;
  }

  private standing(): Fact[] {
    this.held ??= this.stand();
    return this.held;
  }

  /** Events less what was taken back, as amended, in order of happening. */
  private stand(): Fact[] {
    const all = [...this.events.values()].sort((a, b) => a.order - b.order);
    const voided = new Map<string, boolean>();
    const data = new Map<string, Record<string, unknown>>();
    const moved = new Map<string, number>();
    const at = (event: Event, written: unknown): number | null => {
      const ms = typeof written === 'string' ? Date.parse(written) : NaN;
      return Number.isNaN(ms) ? null : ms - (this.offsets_s.get(event.device) ?? 0) * 1_000;
    };
    for (const { event } of all) {
      const target = text(event.data['target']);
      if (!target) continue;
      if (event.kind === 'voided') voided.set(target, true);
      if (event.kind === 'amended') {
        voided.set(target, false);
        const whole = event.data['data'];
        if (whole && typeof whole === 'object') data.set(target, whole as Record<string, unknown>);
        const time = at(event, event.data['happened_at']);
        if (time !== null) moved.set(target, time);
      }
    }
    const rank = (kind: string) => (kind === 'haul_started' ? 0 : kind === 'haul_ended' ? 2 : 1);
    return all
      .flatMap(({ event }) => {
        if (voided.get(event.id) || (this.set && event.set && event.set !== this.set)) return [];
        const envelope = event as Event & { boot?: unknown; monotonic_ms?: unknown; happened_basis?: unknown };
        const counted = envelope.happened_basis === 'tapped' ? this.by_counter(envelope.boot, envelope.monotonic_ms) : null;
        const at_ms = moved.get(event.id) ?? counted ?? at(event, event.happened_at);
        return at_ms === null ? [] : [{ ...event, data: data.get(event.id) ?? event.data, at_ms }];
      })
      .sort((a, b) => a.at_ms - b.at_ms || rank(a.kind) - rank(b.kind) || (a.device < b.device ? -1 : a.device > b.device ? 1 : a.device_seq - b.device_seq));
  }

  private lastPlace(): number {
    return this.known.places.at(-1)?.place ?? 0;
  }

  /** Hooks were set beyond the last float: that bare end counts as a place. */
  private bareEnd(): number | null {
    const last = this.lastPlace();
    const [from, to] = this.first_of.get(last) ?? [0, 0];
    return to > from ? last + 1 : null;
  }

  /** Both ends of the line, by place: a bare end counts as one beyond the last float. */
  ends(): { first: number; last: number } {
    return { first: 1, last: this.bareEnd() ?? this.lastPlace() };
  }

  private placeOfBuoy(buoy: string | null): number | null {
    return this.known.places.find((one) => buoy !== null && one.buoy === buoy)?.place ?? null;
  }

  /** Haul parts in the order in which they began. */
  parts(): Part[] {
    return this.work().parts;
  }

  /** The part that is being hauled: the one begun last that has not ended. */
  part(): Part | null {
    return this.parts().findLast((part) => !part.ended) ?? null;
  }

  private work(): { parts: Part[]; in_water: boolean[] } {
    this.worked ??= this.workOut();
    return this.worked;
  }

  private workOut(): { parts: Part[]; in_water: boolean[] } {
    const facts = this.standing();
    const parts: Part[] = facts
      .filter((fact) => fact.kind === 'haul_started')
      .map((fact) => {
        const direction = fact.data['direction'] === 'to_last' ? 'to_last' : 'to_first';
        const from_place = whole(fact.data['from_place']) ?? this.placeOfBuoy(text(fact.data['buoy']));
        return { id: fact.id, direction, step: direction === 'to_last' ? 1 : -1, from_place, from_ms: fact.at_ms, ended: null, links: [], stretches: [], stops: [], facts: [] };
      });
    const open = (fact: Fact) => parts.findLast((part) => part.from_ms <= fact.at_ms && (!part.ended || part.ended.at_ms >= fact.at_ms));
    const of = (fact: Fact) => parts.find((part) => part.id === fact.haul) ?? open(fact);
    for (const fact of facts) {
      if (fact.kind !== 'haul_ended') continue;
      const part = of(fact);
      if (part && !part.ended) part.ended = { at_ms: fact.at_ms, reason: text(fact.data['reason']) };
    }
    for (const fact of facts) if (AT_RAIL.has(fact.kind) && !(fact.kind === 'released' && !beginsFish(fact))) of(fact)?.facts.push(fact);
    const missing = this.missing();
    const hauled = new Set<number>();
    for (const part of parts) {
      this.link(part, missing, hauled);
      this.cut(part);
      part.stops = stopsOf(part.facts);
    }
    return { parts, in_water: this.left(facts, parts) };
  }

  private link(part: Part, missing: Set<number>, hauled: Set<number>): void {
    const last = this.lastPlace();
    const bare = this.bareEnd();
    if (part.from_place !== null && part.from_place === bare) part.links.push({ place: bare, at_ms: part.from_ms, fact: null });
    for (const fact of part.facts) {
      let place: number | null = null;
      if (fact.kind === 'float_hauled') {
        place = whole(fact.data['place']) ?? this.placeOfTag(text(fact.data['tag'])) ?? this.next(part, missing);
      } else if (fact.kind === 'radio_buoy_recovered') {
        place = this.placeOfBuoy(text(fact.data['buoy']));
      }
      if (place === null || place < 1 || place > last || hauled.has(place)) continue;
      hauled.add(place);
      const before = part.links.at(-1);
      if (before && (place - before.place) * part.step <= 0) continue;
      part.links.push({ place, at_ms: fact.at_ms, fact });
    }
    if (bare !== null && part.ended?.reason === 'all_up' && part.step === 1 && (part.links.at(-1)?.place ?? bare) < bare) part.links.push({ place: bare, at_ms: part.ended.at_ms, fact: null });
  }

  private placeOfTag(tag: string | null): number | null {
    const bearing = this.known.places.filter((one) => tag !== null && one.tag === tag);
    return bearing.length === 1 ? bearing[0]!.place : null;
  }

  private next(part: Part, missing: Set<number>): number | null {
    const last = part.links.at(-1);
    let next = last ? last.place + part.step : part.from_place;
    while (next !== null && next >= 1 && next <= this.lastPlace() && missing.has(next)) next += part.step;
    return next;
  }

  private seenFrom(from: number, to: number | null, step: 1 | -1): number[] {
    const seen: number[] = [];
    const last = this.known.baskets.at(-1)?.basket ?? 0;
    if (step < 0) {
      for (let basket = Math.min(from - 1, last); basket >= Math.max(to ?? 1, 1); basket--) {
        const [begin, end] = this.first_of.get(basket) ?? [0, 0];
        for (let hook = end - 1; hook >= begin; hook--) seen.push(hook);
      }
    } else {
      for (let basket = Math.max(from, 1); basket <= Math.min(to === null ? last : to - 1, last); basket++) {
        const [begin, end] = this.first_of.get(basket) ?? [0, 0];
        for (let hook = begin; hook < end; hook++) seen.push(hook);
      }
    }
    return seen;
  }

  private cut(part: Part): void {
    const { links } = part;
    const starts: { place: number; at_ms: number; unhauled: boolean }[] = links.map((link) => ({ place: link.place, at_ms: link.at_ms, unhauled: false }));
    // Until a float is hauled the part's own start stands in for it.
    const virtual = part.from_place !== null && links[0]?.place !== part.from_place;
    if (virtual) starts.unshift({ place: part.from_place!, at_ms: part.from_ms, unhauled: true });
    part.stretches = starts.map((start, at) => {
      const after = starts[at + 1];
      const to = after ? { place: after.place, at_ms: after.at_ms } : null;
      return { from_place: start.place, from_ms: start.at_ms, to, unhauled_start: start.unhauled, seen: this.seenFrom(start.place, to?.place ?? null, part.step), facts: [] };
    });
    let passed = virtual || links.length === 0 ? -1 : part.links[0]!.fact === null ? 0 : -1;
    for (const fact of part.facts) {
      const stretch = part.stretches[Math.max(0, passed + (virtual ? 1 : 0))];
      stretch?.facts.push(fact);
      const link = links.findIndex((one) => one.fact === fact);
      if (link >= 0) passed = link;
    }
  }

  /** Counts of a stretch as positions in it, clipped and spread as the ship does. */
  private resolved(part: Part, stretch: Stretch): { fact: Fact; count: number | null }[] {
    const m = stretch.seen.length;
    const counted = stretch.facts.flatMap((fact) => {
      const fish = beginsFish(fact);
      if (!fish && fact.kind !== 'branch_line_lost' && fact.kind !== 'hooks_counted') return [];
      const count = whole(fact.data[fact.kind === 'hooks_counted' ? 'count' : 'count_since_float']);
      return [{ fact, count: count !== null && count >= 0 ? count : null, guessed: fish && Math.max(0, number(fact.data['uncertainty_hooks']) ?? 0) > 0 }];
    });
    const largest = Math.max(0, ...counted.flatMap((one) => (one.guessed || one.count === null ? [] : [one.count])));
    const { to } = stretch;
    return counted.map(({ fact, count, guessed }) => {
      if (count === null || count <= 0) return { fact, count: null };
      if (guessed && to) {
        const span = running(part.stops, stretch.from_ms, to.at_ms);
        const share = span > 0 ? running(part.stops, stretch.from_ms, fact.at_ms) / span : 0;
        return { fact, count: m > 0 ? Math.max(1, Math.min(m, roundHalfUp(share * (m + 1)))) : null };
      }
      if (!guessed && to && largest > m) return { fact, count: m > 0 ? Math.max(1, Math.min(m, roundHalfUp((count * m) / largest))) : null };
      return { fact, count };
    });
  }

  /** Which branch lines are still in the water. */
  private left(facts: Fact[], parts: Part[]): boolean[] {
    const in_water = this.hooks.map(() => true);
    for (const part of parts) {
      for (const stretch of part.stretches) {
        const counts = this.resolved(part, stretch);
        const up = stretch.to && !stretch.unhauled_start
          ? stretch.seen.length
          : Math.max(0, ...counts.filter((one) => one.fact.kind !== 'branch_line_lost' && one.count !== null && one.count <= stretch.seen.length).map((one) => one.count!));
        for (const hook of stretch.seen.slice(0, up)) in_water[hook] = false;
        for (const { fact, count } of counts) {
          const hook = fact.kind === 'branch_line_lost' && count !== null ? stretch.seen[count - 1] : undefined;
          if (hook !== undefined) in_water[hook] = false;
        }
      }
    }
    for (const fact of facts) {
      if (fact.kind !== 'tangle' && fact.kind !== 'gear_lost' && fact.kind !== 'gear_recovered') continue;
      const [from, to] = [whole(fact.data['from_place']), whole(fact.data['to_place'])];
      if (from === null || to === null) continue;
      for (let basket = Math.min(from, to); basket < Math.max(from, to); basket++) {
        const [begin, end] = this.first_of.get(basket) ?? [0, 0];
        in_water.fill(false, begin, end);
      }
    }
    return in_water;
  }

  /** Places called missing at the rail. */
  missing(): Set<number> {
    return new Set(this.standing().flatMap((fact) => (fact.kind === 'float_missing' ? (whole(fact.data['place']) ?? []) : [])));
  }

  /** Places that came aboard, in any part. */
  hauled(): Set<number> {
    return new Set(this.parts().flatMap((part) => part.links.filter((link) => link.fact).map((link) => link.place)));
  }

  /** The float that should come next, by place; null where the line ends, or is up already. */
  expected(): number | null {
    const part = this.part();
    if (!part) return null;
    const missing = this.missing();
    const hauled = this.hauled();
    const last = this.lastPlace();
    let next = this.next(part, missing);
    // A part that goes on where another left off begins at a float that is aboard already.
    if (next !== null && part.links.length === 0 && hauled.has(next)) {
      next += part.step;
      while (next >= 1 && next <= last && missing.has(next)) next += part.step;
    }
    if (next === null || next < 1 || hauled.has(next)) return null;
    return next <= last ? next : null;
  }

  /** True where hooks hang beyond the last float and the haul goes towards them: no float comes, but hooks do. */
  towardsBareEnd(): boolean {
    const part = this.part();
    return part !== null && part.step === 1 && this.bareEnd() !== null && this.expected() === null && (part.links.at(-1)?.place ?? 0) <= this.lastPlace();
  }

  /** The place after which counts run now. */
  lastFloat(): { place: number; at_ms: number; hauled: boolean } | null {
    const part = this.part();
    const stretch = part?.stretches.at(-1);
    return stretch ? { place: stretch.from_place, at_ms: stretch.from_ms, hauled: !stretch.unhauled_start } : null;
  }

  /** Branch lines from the last float to the expected one, or to where the line is up or ends. */
  linesToNext(): number {
    const part = this.part();
    const stretch = part?.stretches.at(-1);
    if (!part || !stretch) return 0;
    const next = this.expected();
    if (next !== null) return this.seenFrom(stretch.from_place, next, part.step).length;
    const { in_water } = this.work();
    const counted = new Set(this.upHere());
    const met = stretch.seen.findIndex((hook) => !in_water[hook] && !counted.has(hook));
    return met < 0 ? stretch.seen.length : met;
  }

  /** Branch lines that are up beyond the last float, by the counts kept. */
  upHere(): number[] {
    const part = this.part();
    const stretch = part?.stretches.at(-1);
    if (!part || !stretch) return [];
    return stretch.seen.slice(0, Math.max(0, ...this.resolved(part, stretch).flatMap((one) => (one.count !== null && one.count <= stretch.seen.length ? [one.count] : []))));
  }

  /** Branch lines in the water by what is kept, and all that were set. */
  toGo(): { in_water: number; set: number } {
    const { in_water } = this.work();
    return { in_water: in_water.reduce((sum, one) => sum + (one ? 1 : 0), 0), set: in_water.length };
  }

  /** Baskets of which no branch line is in the water any more, and those with some up. */
  basketsUp(): Map<number, 'up' | 'part'> {
    const { in_water } = this.work();
    const found = new Map<number, 'up' | 'part'>();
    for (const [basket, [begin, end]] of this.first_of) {
      const wet = in_water.slice(begin, end).filter(Boolean).length;
      if (wet === 0) found.set(basket, 'up');
      else if (wet < end - begin) found.set(basket, 'part');
    }
    return found;
  }

  /** What was kept at the rail, latest last, each with what was said of it later. */
  entries(): Entry[] {
    const facts = this.standing();
    const found = new Map<string, Entry>();
    const home = new Map<string, [Part, number]>();
    for (const part of this.parts()) for (const stretch of part.stretches) for (const fact of stretch.facts) home.set(fact.id, [part, stretch.from_place]);
    for (const fact of facts) {
      if (!SHOWN.has(fact.kind) || (fact.kind === 'released' && !beginsFish(fact))) continue;
      const [part, after] = home.get(fact.id) ?? [null, null];
      found.set(fact.id, { id: fact.id, kind: fact.kind, at_ms: fact.at_ms, data: { ...fact.data }, after, part: part?.id ?? null });
    }
    for (const fact of facts) {
      const entry = fact.kind === 'fish_measured' || fact.kind === 'released' ? found.get(text(fact.data['fish']) ?? '') : undefined;
      if (!entry) continue;
      for (const [field, value] of Object.entries(fact.data)) if (value != null && field !== 'fish') entry.data[field] = field === 'grade' ? { ...(entry.data['grade'] as object), ...(value as object) } : value;
      if (fact.kind === 'released') entry.data['fate'] = 'released';
    }
    return [...found.values()].sort((a, b) => a.at_ms - b.at_ms);
  }

  /** Fish kept and not yet in the cold, by id. */
  openFish(): string[] {
    const done = new Set<string>();
    for (const fact of this.standing()) {
      const ids = Array.isArray(fact.data['fish']) ? (fact.data['fish'] as unknown[]) : [fact.data['fish']];
      if (fact.kind === 'stowed' || (fact.kind === 'fish_step' && fact.data['step'] === 'in_cold')) for (const id of ids) done.add(String(id));
    }
    const kept = (entry: Entry) => (entry.kind === 'bitten' ? entry.data['kept'] === true : entry.kind === 'landed') && (entry.data['fate'] ?? 'retained') === 'retained';
    return this.entries().flatMap((entry) => (kept(entry) && !done.has(entry.id) ? [entry.id] : []));
  }

  /** Fish by code that this set has brought to the rail. */
  seen(): Map<string, number> {
    const found = new Map<string, number>();
    for (const entry of this.entries()) {
      const code = text(entry.data['species']) ?? text(entry.data['kind']);
      if (code && entry.kind !== 'float_hauled') found.set(code, (found.get(code) ?? 0) + 1);
    }
    return found;
  }

  /** A danger called at the rail and not yet over. */
  danger(): { id: string; what: string; at_ms: number } | null {
    const over = new Set(this.standing().flatMap((fact) => (fact.kind === 'danger_over' ? (text(fact.data['target']) ?? []) : [])));
    const call = this.standing().findLast((fact) => fact.kind === 'danger_called' && !over.has(fact.id));
    return call ? { id: call.id, what: text(call.data['what']) ?? 'other', at_ms: call.at_ms } : null;
  }
}

// The small projection that a screen needs of the line being set: anchors, stops, taps and what is not yet sent.
//
// Fed with journal rows and with this device's own unsent events alike, in any order, each once. No physics: depths
// and places come from the ship.
import { type Anchor, type Due, dueAt, type Stop } from './due.ts';

/** An envelope, as far as it is read here. */
export interface Event {
  id: string;
  device: string;
  device_seq: number;
  kind: string;
  happened_at: string;
  set?: string | null;
  haul?: string | null;
  data: Record<string, unknown>;
}

export interface Tap {
  id: string;
  place: number;
  tag: string | null;
  at_ms: number;
}

export interface Overboard {
  id: string;
  at_ms: number;
  latitude_deg: number | null;
  longitude_deg: number | null;
}

/** Somebody aboard. */
export interface Person {
  person: string;
  name: string;
}

/** The gear as the ship tells it. */
export interface Gear {
  hooks_per_basket?: number | null;
  float_takes_a_beat?: boolean | null;
  tag_mode?: string | null;
}

const number = (value: unknown): number | null => (typeof value === 'number' && Number.isFinite(value) ? value : null);
const text = (value: unknown): string | null => (typeof value === 'string' && value !== '' ? value : null);

export class SetLog {
  private readonly events = new Map<string, { event: Event; order: number }>();
  private readonly offsets_s = new Map<string, number>();
  private order = 0;
  private held: Event[] | null = null;
  gear: Gear = {};
  private looked_at: string | null = null;

  /** The set that is looked at: the id of its `setting_started`. */
  get set(): string | null {
    return this.looked_at;
  }

  set set(set: string | null) {
    this.looked_at = set;
    this.held = null;
  }

  clear(): void {
    this.events.clear();
    this.order = 0;
    this.held = null;
  }

  /** How far a device's clock is ahead of the ship's. */
  clockOf(device: string, offset_s: number): void {
    this.offsets_s.set(device, offset_s);
  }

  /** Takes an event in; false when it is known. */
  take(event: Event): boolean {
    if (this.events.has(event.id)) return false;
    if (event.kind === 'clock_offset') {
      const [device, offset_s] = [text(event.data['of_device']), number(event.data['offset_s'])];
      if (device && offset_s !== null) this.clockOf(device, offset_s);
    }
    // Kinds that say nothing of the beat are many (the ship's state every ten seconds) and are not held.
    if (event.kind === 'ship_state') return true;
    this.events.set(event.id, { event, order: this.order++ });
    this.held = null;
    return true;
  }

  /** Ship's UTC of a moment that a device wrote down. */
  private shipMs(event: Event, written: unknown): number | null {
    const ms = typeof written === 'string' ? Date.parse(written) : NaN;
    return Number.isNaN(ms) ? null : ms - (this.offsets_s.get(event.device) ?? 0) * 1_000;
  }

  private standing(): Event[] {
    this.held ??= this.stand();
    return this.held;
  }

  private stand(): Event[] {
    const all = [...this.events.values()];
    // Of corrections the later stands: amending brings a voided event back.
    const voided = new Map<string, boolean>();
    const amended = new Map<string, Event>();
    for (const { event } of all.sort((a, b) => a.order - b.order)) {
      const target = text(event.data['target']);
      if (event.kind === 'voided' && target) voided.set(target, true);
      if (event.kind === 'amended' && target) {
        voided.set(target, false);
        amended.set(target, event);
      }
    }
    const own = (event: Event) => !this.set || !event.set || event.set === this.set;
    return all
      .map(({ event }) => event)
      .filter((event) => own(event) && !voided.get(event.id))
      .map((event) => {
        const by = amended.get(event.id)?.data;
        if (!by) return event;
        const data = by['data'] as Record<string, unknown> | undefined;
        return { ...event, data: data ?? event.data, happened_at: text(by['happened_at']) ?? event.happened_at };
      });
  }

  private of(kind: string): { event: Event; at_ms: number }[] {
    return this.standing()
      .filter((event) => event.kind === kind)
      .flatMap((event) => {
        const at_ms = this.shipMs(event, event.happened_at);
        return at_ms === null ? [] : [{ event, at_ms }];
      })
      .sort((a, b) => a.at_ms - b.at_ms);
  }

  /** Every anchor in order of `at`; of one `at` the later told comes later. */
  anchors(): (Anchor & { count_in: number })[] {
    const anchors = this.of('beat').flatMap(({ event }) => {
      const [basket, position, beat_s] = [number(event.data['basket']), number(event.data['position']), number(event.data['beat_s'])];
      const at = this.shipMs(event, event.data['at']);
      if (basket === null || position === null || beat_s === null || beat_s <= 0 || at === null) return [];
      const takes = event.data['float_takes_a_beat'];
      return [{ basket, position, beat_s, at_ms: at, float_takes_a_beat: typeof takes === 'boolean' ? takes : (this.gear.float_takes_a_beat ?? true), count_in: number(event.data['count_in']) ?? 0 }];
    });
    return anchors.sort((a, b) => a.at_ms - b.at_ms);
  }

  /** The anchor in force at a moment: the latest `at` not after it; the first one before that. */
  anchor(at_ms: number): Anchor | null {
    const anchors = this.anchors();
    return anchors.findLast((anchor) => anchor.at_ms <= at_ms) ?? anchors[0] ?? null;
  }

  /** Silences that somebody has answered for, the answer kept here or told by the ship. */
  answered(): Set<string> {
    const targets = new Set<string>();
    for (const { event } of this.events.values()) {
      const target = event.kind === 'amended' ? text(event.data['target']) : null;
      const data = event.data['data'] as Record<string, unknown> | undefined;
      if (target && number(data?.['hooks_clipped']) !== null) targets.add(target);
    }
    return targets;
  }

  /** The hooks of a basket: a person's count, else the latest statement for it, else the gear. */
  hooksOf(): (basket: number) => number {
    const counted = new Map<number, number>();
    const stated: { from: number; hooks: number; rank: number }[] = [];
    for (const { event } of this.of('basket_counted')) {
      const [basket, hooks] = [number(event.data['basket']), number(event.data['hooks'])];
      if (basket !== null && hooks !== null) counted.set(basket, hooks);
    }
    for (const { event } of this.of('beat')) {
      const [basket, position, hooks] = [number(event.data['basket']), number(event.data['position']), number(event.data['hooks_per_basket'])];
      if (basket !== null && position !== null && hooks !== null) stated.push({ from: position === 0 ? basket : basket + 1, hooks, rank: 0 });
    }
    for (const { event } of this.of('gear_changed')) {
      const [from, hooks] = [number(event.data['from_place']), number(event.data['hooks_per_basket'])];
      if (from !== null && hooks !== null) stated.push({ from, hooks, rank: 1 });
    }
    stated.sort((a, b) => a.from - b.from || a.rank - b.rank);
    const first = this.gear.hooks_per_basket ?? stated[0]?.hooks ?? 1;
    return (basket) => counted.get(basket) ?? stated.findLast((one) => one.from <= basket)?.hooks ?? first;
  }

  stops(): (Stop & { id: string; line_running: boolean | null })[] {
    const ends = [...this.of('stop_ended'), ...this.of('beat').filter(({ event }) => number(event.data['position']) !== null), ...this.of('setting_ended')];
    ends.sort((a, b) => a.at_ms - b.at_ms);
    return this.of('stop_started').map(({ event, at_ms }) => {
      const end = ends.find((one) => one.at_ms > at_ms);
      const said = end?.event.data['line_running'] ?? event.data['line_running'];
      return { id: event.id, from_ms: at_ms, to_ms: end?.at_ms ?? null, line_running: typeof said === 'boolean' ? said : null };
    });
  }

  due(at_ms: number): Due | null {
    const anchor = this.anchor(at_ms);
    if (!anchor || anchor.at_ms > at_ms + 60_000) return null;
    return dueAt(anchor, this.hooksOf(), this.stops(), at_ms);
  }

  /** Floats as they were tapped; of one place tapped twice the earliest. */
  taps(): Map<number, Tap> {
    const found = new Map<number, Tap>();
    for (const { event, at_ms } of this.of('float_clipped')) {
      const place = number(event.data['place']);
      if (place !== null && !found.has(place)) found.set(place, { id: event.id, place, tag: text(event.data['tag']), at_ms });
    }
    return found;
  }

  /** The plan kept last, unless a set has been started after it. */
  planned(): { id: string; data: Record<string, unknown> } | null {
    const plan = this.of('set_planned').at(-1);
    const started = this.of('setting_started').at(-1);
    return plan && (!started || started.at_ms < plan.at_ms) ? { id: plan.event.id, data: plan.event.data } : null;
  }

  ended(): boolean {
    return this.of('setting_ended').length > 0;
  }

  /** The bin in use and the last radio buoy launched. */
  bin(): string | null {
    const last = this.of('bin_started').at(-1);
    return last ? (text(last.event.data['bin']) ?? (number(last.event.data['bin'])?.toString() ?? null)) : null;
  }

  buoys(): { buoy: string; place: number | null }[] {
    return this.of('radio_buoy_launched').flatMap(({ event }) => {
      const buoy = text(event.data['buoy']);
      return buoy ? [{ buoy, place: number(event.data['place']) }] : [];
    });
  }

  /** Shooter speed in force. */
  shooter_m_s(): number | null {
    return number(this.of('shooter_speed').at(-1)?.event.data['shooter_speed_m_s']);
  }

  /** The gears that were described, the latest word on each. */
  gears(): (Gear & { gear: string; branch_types: string[] })[] {
    const found = new Map<string, Gear & { gear: string; branch_types: string[] }>();
    for (const { event } of this.of('gear_described')) {
      const gear = text(event.data['gear']);
      const takes = event.data['float_takes_a_beat'];
      const lines = event.data['branch_lines'];
      const branch_types = Array.isArray(lines) ? lines.flatMap((line: unknown) => text((line as { type?: unknown } | null)?.type) ?? []) : [];
      if (gear) found.set(gear, { gear, branch_types, hooks_per_basket: number(event.data['hooks_per_basket']), float_takes_a_beat: typeof takes === 'boolean' ? takes : null, tag_mode: text(event.data['tag_mode']) });
    }
    return [...found.values()];
  }

  /** Who is aboard, in the order in which they came. */
  people(): Person[] {
    const aboard = new Map<string, Person>();
    for (const { event } of [...this.of('person_added'), ...this.of('person_left')].sort((a, b) => a.at_ms - b.at_ms)) {
      const person = text(event.data['person']);
      if (!person) continue;
      if (event.kind === 'person_left') aboard.delete(person);
      else aboard.set(person, { person, name: text(event.data['name']) ?? person });
    }
    return [...aboard.values()];
  }

  /** A man overboard of the last hours that nobody called a false alarm. */
  overboard(now_ms: number): Overboard | null {
    const false_ones = new Set<string>();
    for (const { event } of this.events.values()) {
      const target = text(event.data['target']);
      if ((event.kind === 'man_overboard_false' || event.kind === 'voided') && target) false_ones.add(target);
    }
    const calls = [...this.events.values()].flatMap(({ event }) => {
      const at_ms = event.kind === 'man_overboard' ? this.shipMs(event, event.happened_at) : null;
      return at_ms === null || false_ones.has(event.id) || Math.abs(now_ms - at_ms) > 6 * 3_600_000
        ? []
        : [{ id: event.id, at_ms, latitude_deg: number(event.data['latitude_deg']), longitude_deg: number(event.data['longitude_deg']) }];
    });
    return calls.sort((a, b) => a.at_ms - b.at_ms).at(-1) ?? null;
  }
}

/** The tag that should be on a place, from the last one known and the way tags run; null where they do not run. */
export function expectedTag(place: number, mode: string | null | undefined, known: ReadonlyMap<number, string>): string | null {
  const here = known.get(place);
  if (here !== undefined) return here;
  if (mode !== 'sequence_up' && mode !== 'sequence_down') return null;
  const step = mode === 'sequence_up' ? 1 : -1;
  const before = [...known.entries()].filter(([at, tag]) => at < place && /^\d+$/.test(tag)).sort((a, b) => b[0] - a[0])[0];
  if (!before) return null;
  const tag = Number(before[1]) + step * (place - before[0]);
  return tag >= 0 ? String(tag) : null;
}

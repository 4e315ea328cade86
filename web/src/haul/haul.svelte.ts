// The haul as a screen looks at it: which set, the line as the ship last told it (kept on this device, so that a page
// reloaded without the ship goes on), the small projection over what was kept since, and what comes next.
import { ask } from '../api/client.ts';
import type { components } from '../api/api.d.ts';
import type { Event } from '../set/log.ts';
import { expectedTag } from '../set/log.ts';
import { ship } from '../ship.svelte.ts';
import { say } from '../words/words.svelte.ts';
import { HaulLog, type Line, text } from './log.ts';
import { countAt, endAt, paceOf } from './pace.ts';
import { commonest } from './species.ts';

type Schemas = components['schemas'];
const STORE = 'haul';
/** How soon after a change the copy on this device is renewed. */
const COPY_MS = 1_500;

/** The copy that a page reloaded without the ship begins with. */
interface Copy {
  set: string;
  number: number | null;
  tag_mode: string | null;
  line: Line;
  caught: [string, number][];
  order: { haul: string; codes: string[] } | null;
  events: Event[];
}

class Haul {
  readonly log = new HaulLog();
  /** Moves with every event of the haul, so that what is derived from the log is looked at again. */
  version = $state(0);
  set = $state<string | null>(null);
  number = $state<number | null>(null);
  tag_mode = $state<string | null>(null);
  /** Fish of the trip by code, without those of this set. */
  private caught = $state.raw<[string, number][]>([]);
  private order = $state.raw<{ haul: string; codes: string[] } | null>(null);
  private copying: ReturnType<typeof setTimeout> | null = null;
  private line_text = '';
  private asked_for: string | null = null;

  /** Whole seconds of the ship's time: what runs by the clock is looked at so often. */
  second = $derived(Math.floor(ship.now_ms / 1_000));
  part = $derived.by(() => (void this.version, this.log.part()));
  parts = $derived.by(() => (void this.version, this.log.parts()));
  expected = $derived.by(() => (void this.version, this.log.expected()));
  last = $derived.by(() => (void this.version, this.log.lastFloat()));
  lines = $derived.by(() => (void this.version, this.log.linesToNext()));
  to_go = $derived.by(() => (void this.version, this.log.toGo()));
  entries = $derived.by(() => (void this.version, this.log.entries()));
  danger = $derived.by(() => (void this.version, this.log.danger()));
  seen = $derived.by(() => (void this.version, this.log.seen()));
  pace = $derived.by(() => (void this.version, paceOf(this.log.parts())));
  count = $derived.by(() => (void this.version, void this.second, countAt(this.log, ship.now_ms)));
  end = $derived.by(() => (void this.version, void Math.floor(this.second / 10), endAt(this.log, ship.now_ms)));
  standing = $derived(this.count.standing);
  /** Sets whose line is out or partly out, the one to haul first. */
  open_sets = $derived.by(() => {
    const rank = { hauling: 0, haul_broken_off: 1, soaking: 2, setting: 3, closed: 9 } as const;
    return (ship.voyage?.sets ?? []).filter((set) => set.open).sort((a, b) => rank[a.stage] - rank[b.stage] || a.number - b.number);
  });
  /** The fish of the trip, this set's with them. */
  trip = $derived.by(() => {
    const found = new Map(this.caught);
    for (const [code, count] of this.seen) found.set(code, (found.get(code) ?? 0) + count);
    return found;
  });
  /** The keys of the first row, frozen for a haul. */
  keys = $derived.by((): string[] => {
    const haul = this.parts[0]?.id ?? null;
    return this.order && (haul === null || this.order.haul === haul) ? this.order.codes : commonest(new Map(this.caught));
  });
  /** Animals let go whose card was put aside. */
  parked = $derived.by(() => (void this.version, this.entries.filter((entry) => parked.has(entry.id) && !entry.data['handling'])));

  constructor() {
    this.log.by_counter = (boot, counter_ms) => (typeof counter_ms === 'number' && boot === ship.outbox?.boot ? ship.time.utcAtMs(counter_ms) : null);
    this.restore();
    ship.ears.push((event) => {
      if (event.kind === 'haul_started' && event.device === ship.outbox?.device && event.set && event.set !== this.set) this.lookAt(event.set);
      if (this.log.take(event)) this.changed();
    });
    $effect.root(() => {
      $effect(() => {
        void ship.view_version;
        void this.follow();
      });
      $effect(() => {
        ship.settle_ms = this.part ? 2_000 : 400;
      });
      // A device's own clock is measured now and then; what it wrote is moved by that.
      $effect(() => {
        void Math.floor(this.second / 15);
        const offset = ship.time.offset();
        if (offset && ship.outbox) this.log.clockOf(ship.outbox.device, offset.offset_s);
      });
      $effect(() => {
        const haul = this.parts[0]?.id;
        if (haul && this.order?.haul !== haul) this.order = { haul, codes: commonest(new Map(this.caught)) };
      });
    });
  }

  /** What is painted on the float of a place; null where nobody knows. */
  tagOf(place: number): string | null {
    const known = new Map(this.log.line.places.flatMap((one) => (one.tag === null ? [] : [[one.place, one.tag] as const])));
    return expectedTag(place, this.tag_mode, known);
  }

  buoyOf(place: number): string | null {
    return this.log.line.places.find((one) => one.place === place)?.buoy ?? null;
  }

  /** A float or buoy as it is painted, or its place. */
  nameOf(place: number | null): string {
    if (place === null) return '—';
    if (place > (this.log.line.places.at(-1)?.place ?? Infinity)) return say('haul-end-of-line');
    const buoy = this.buoyOf(place);
    return buoy !== null ? say('haul-buoy', { buoy }) : (this.tagOf(place) ?? say('float-unnamed', { place }));
  }

  /** The place that a typed tag means; the next in direction where several bear it. */
  placeOf(tag: string): number | null {
    const step = this.part?.step ?? -1;
    const from = this.last?.place ?? (step < 0 ? Infinity : 0);
    const bearing = this.log.line.places.filter((one) => one.tag === tag).sort((a, b) => step * (a.place - b.place));
    return (bearing.find((one) => step * (one.place - from) > 0) ?? bearing[0])?.place ?? null;
  }

  lookAt(set: string): void {
    if (set === this.set) return;
    this.set = set;
    this.log.set = set;
    this.line_text = '';
    this.log.line = { places: [], baskets: [] };
    this.number = ship.voyage?.sets.find((one) => one.id === set)?.number ?? null;
    this.changed();
    void this.follow();
  }

  /** The ship's views have come: the line, and what the trip has caught. */
  private async follow(): Promise<void> {
    const wanted = this.open_sets[0];
    // Which line is hauled is not changed in the middle of it.
    if (wanted && (this.set === null || (!this.part && this.set !== wanted.id && wanted.stage !== 'setting'))) this.lookAt(wanted.id);
    const head = ship.voyage?.sets.find((one) => one.id === this.set);
    if (!head) return;
    this.number = head.number;
    if (ship.head?.id === head.id) this.lay(ship.baskets, ship.places);
    else await this.fetchLine(head.number);
    this.tag_mode = (ship.head?.id === head.id ? ship.set?.gear.tag_mode : null) ?? this.tag_mode;
    if (this.asked_for === head.id) return;
    this.asked_for = head.id;
    const others = (ship.voyage?.sets ?? []).filter((one) => one.id !== head.id).slice(-10);
    const answers = await Promise.all(others.map((one) => ask('/api/sets/{number}/fish', {}, String(one.number))));
    const found = new Map<string, number>();
    for (const answer of answers) for (const fish of answer.json ?? []) if (fish.species) found.set(fish.species, (found.get(fish.species) ?? 0) + 1);
    this.caught = [...found];
    this.copySoon();
  }

  private async fetchLine(number: number): Promise<void> {
    const [baskets, places] = await Promise.all([ask('/api/sets/{number}/baskets', {}, String(number)), ask('/api/sets/{number}/places', {}, String(number))]);
    if (baskets.json && places.json && this.number === number) this.lay(baskets.json, places.json);
  }

  private lay(baskets: Schemas['BasketRow'][], places: Schemas['PlaceRow'][]): void {
    if (places.length === 0) return;
    const line: Line = {
      places: places.map((one) => ({ place: one.place, tag: one.tag ?? null, buoy: one.radio_buoy ?? null })),
      baskets: baskets.map((one) => ({ basket: one.basket, lines: one.hooks - one.hooks_missed })),
    };
    const text = JSON.stringify(line);
    if (text === this.line_text) return;
    this.line_text = text;
    this.log.line = line;
    this.changed();
  }

  private changed(): void {
    this.version += 1;
    this.copySoon();
  }

  private copySoon(): void {
    this.copying ??= setTimeout(() => {
      this.copying = null;
      if (!this.set || this.log.line.places.length === 0) return;
      const events = this.log.all().filter((event) => !event.set || event.set === this.set);
      const copy: Copy = { set: this.set, number: this.number, tag_mode: this.tag_mode, line: this.log.line, caught: this.caught, order: this.order, events };
      try {
        localStorage.setItem(STORE, JSON.stringify(copy));
      } catch {
        // No room: the page goes on, only a reload without the ship would begin empty.
      }
    }, COPY_MS);
  }

  private restore(): void {
    try {
      const copy = JSON.parse(localStorage.getItem(STORE) ?? 'null') as Copy | null;
      if (!copy || !text(copy.set)) return;
      [this.set, this.number, this.tag_mode, this.caught, this.order] = [copy.set, copy.number, copy.tag_mode, copy.caught, copy.order];
      this.log.set = copy.set;
      this.log.line = copy.line;
      for (const event of copy.events) this.log.take(event);
      this.version += 1;
    } catch {
      localStorage.removeItem(STORE);
    }
  }
}

/** Cards put aside on this device. */
export const parked = new Set<string>(JSON.parse(localStorage.getItem('parked') ?? '[]') as string[]);
export function park(id: string, aside: boolean): void {
  if (aside) parked.add(id);
  else parked.delete(id);
  localStorage.setItem('parked', JSON.stringify([...parked].slice(-50)));
  haul.version += 1;
}

export const haul = new Haul();

// What the screens look at: the link, the queue, the set in hand. One for the page.
import type { components } from './api/api.d.ts';
import { ask } from './api/client.ts';
import { type Beat, type Health, type Link, Live, type Row } from './api/live.ts';
import { ShipTime } from './clock/ship-time.ts';
import type { Line } from './clock/tones.ts';
import { type Counts, type Happening, Outbox } from './outbox/outbox.ts';
import { Sender, usual, type Way } from './outbox/send.ts';
import { offline } from './offline.svelte.ts';
import type { Due } from './set/due.ts';
import { say, words } from './words/words.svelte.ts';
import { type Ahead, askAhead, askPeople, askZones, type PersonAboard, type Zone } from './set/ahead.ts';
import { type Event, expectedTag, type Overboard, type Person, SetLog } from './set/log.ts';

type Schemas = components['schemas'];
export type BasketRow = Schemas['BasketRow'];

/** The last thing done here, to be taken back by one tap. */
export interface Done {
  id: string;
  words: string;
  values: Record<string, string | number>;
}

/** Rows that are fetched at a time while looking back for the start of the set. */
const PAGE = 1_000;
/** The views are asked for again so long after a row that changes them. */
const SETTLE_MS = 400;

class Ship {
  link = $state<Link>('opening');
  way = $state<Way>('unknown');
  counts = $state<Counts>({ unsent: 0, aside: 0, held: 0 });
  /** False until the store has said how many wait: none and not known are not the same. */
  counted = $state(false);
  /** Why this device could not write, until somebody has seen it. */
  broken = $state<string | null>(null);
  /** The store was full. */
  full = $state(false);
  /** Taps that were not kept, until somebody has seen it. */
  not_kept = $state(0);
  health = $state<Health | null>(null);
  /** The beat as the ship tells it: places of radio buoys, bins, what stands unanswered, whether the ship's computer sounds. */
  beat = $state.raw<Beat | null>(null);
  me = $state<Schemas['DeviceMe'] | null>(null);
  voyage = $state.raw<Schemas['VoyageView'] | null>(null);
  set = $state.raw<Schemas['SetView'] | null>(null);
  baskets = $state.raw<BasketRow[]>([]);
  places = $state.raw<Schemas['PlaceRow'][]>([]);
  strip = $state.raw<Schemas['ScreenStrip'] | null>(null);
  /** What the ship forecasts of the set that goes out; null while none does. */
  ahead = $state.raw<Ahead | null>(null);
  zones = $state.raw<Zone[]>([]);
  /** Who the ship says is aboard; what waits here comes on top. */
  private told_people = $state.raw<PersonAboard[] | null>(null);
  /** Moves when the ship's views have come: all of them are of one moment. */
  view_version = $state(0);
  state_now = $state.raw<Record<string, unknown> | null>(null);
  now_ms = $state(Date.now());
  time_basis = $state<ShipTime['basis']>(null);
  done = $state<Done | null>(null);
  /** False until the ship's record of the set has come: what is due is not known before. */
  loaded = $state(false);
  /** Moves at every event taken in, so that what is derived from the log is looked at again. */
  version = $state(0);

  readonly time = new ShipTime();
  readonly log = new SetLog();
  /** How long after news the ship's views are asked for again: a rail that reckons for itself is in no hurry. */
  settle_ms = SETTLE_MS;
  /** Who else hears every event that is taken in, each once. */
  readonly ears: ((event: Event) => void)[] = [];
  outbox = $state.raw<Outbox | null>(null);
  private sender: Sender | null = null;
  private seen_basket = 0;
  private refresh_timer: ReturnType<typeof setTimeout> | null = null;
  private told_offset_s: number | null = null;

  head = $derived.by(() => {
    const sets = this.voyage?.sets ?? [];
    return sets.find((set) => set.stage === 'setting') ?? sets.at(-1) ?? null;
  });
  /** The id of the set being laid, from the ship or from what was started here and has not reached it. */
  started_here = $state<string | null>(null);
  setting = $derived.by(() => {
    void this.version;
    if (this.log.ended() && this.log.set === (this.started_here ?? this.head?.id)) return null;
    return this.started_here ?? (this.head?.stage === 'setting' ? this.head.id : null);
  });
  /** A set is being laid or hauled; also where that is not known. */
  at_work = $derived(this.setting !== null || !this.voyage || this.voyage.sets.some((set) => set.stage === 'setting' || set.stage === 'hauling'));
  due = $derived.by((): Due | null => {
    void this.version;
    return this.setting ? this.log.due(this.now_ms) : null;
  });
  /** What sounds: from the events here, so that it goes on without a link; the ship adds what its plan says. */
  line = $derived.by((): Line | null => {
    void this.version;
    if (!this.setting) return null;
    const buoys = this.log.buoys().flatMap((buoy) => (buoy.place === null ? [] : [buoy.place]));
    const told = this.beat?.set === this.setting ? this.beat : null;
    return {
      anchors: this.log.anchors(),
      hooksOf: this.log.hooksOf(),
      stops: this.log.stops(),
      radio_buoys: [...new Set([...buoys, ...(told?.radio_buoys ?? [])])],
      bin_empty_at: told?.bins.empty_at_place ?? null,
    };
  });
  /** Silences of which nobody has said how many hooks were clipped. */
  silences = $derived.by(() => {
    void this.version;
    const answered = this.log.answered();
    return (this.beat?.set === this.setting ? (this.beat?.silences ?? []) : []).filter((silence) => !answered.has(silence.id));
  });
  tags = $derived.by(() => {
    void this.version;
    const known = new Map<number, string>();
    for (const place of this.places) if (place.tag) known.set(place.place, place.tag);
    for (const tap of this.log.taps().values()) if (tap.tag) known.set(tap.place, tap.tag);
    return known;
  });
  overboard = $derived.by((): Overboard | null => {
    void this.version;
    return this.log.overboard(this.now_ms);
  });
  /** Whose hands this device is in; kept on the device, written in every event. */
  person = $state<string | null>(localStorage.getItem('person'));
  /** Who is aboard, as far as the ship has told. */
  people = $derived.by((): Person[] => {
    void this.version;
    const own = this.log.people();
    if (!this.told_people) return own;
    const told = this.told_people.filter((one) => one.aboard).map((one) => ({ person: one.person, name: one.name ?? one.person }));
    return [...told, ...own.filter((one) => !this.told_people!.some((other) => other.person === one.person))];
  });
  holder = $derived(this.people.find((one) => one.person === this.person) ?? null);
  /** The wheelhouse: the ship's own computer or one paired by https, with its PIN entered. */
  wheelhouse = $derived(this.me?.role === 'wheelhouse');
  /** Moves when the list of devices or the open code has changed. */
  devices_changed = $state(0);
  /** Whether this device may send anything but man overboard. */
  may = $derived(this.me?.role !== 'look_only');
  utc_offset_min = $derived(this.voyage?.voyage?.utc_offset_min ?? null);

  /** What a float bears; null where that is not known. */
  tagOf(place: number): string | null {
    return expectedTag(place, this.set?.gear.tag_mode, this.tags);
  }

  /** What a float bears, with its place in the line beside it where the two differ. */
  floatName(place: number): string {
    const tag = this.tagOf(place);
    if (tag === null) return say('float-unnamed', { place });
    return tag === String(place) ? tag : say('float-tag-place', { tag, place });
  }

  /** What a float bears, else its place: for keys, where the place stands below. */
  floatShort(place: number): string {
    return this.tagOf(place) ?? say('float-unnamed', { place });
  }

  async start(): Promise<void> {
    setInterval(() => {
      this.now_ms = this.time.utcMs();
      this.time_basis = this.time.basis;
      // What the ship draws must not fall behind what the beat says here.
      const basket = this.due?.basket ?? 0;
      if (basket !== this.seen_basket && this.link === 'up') this.refresh();
      this.seen_basket = basket;
    }, 100);
    try {
      this.outbox = await Outbox.open({
        now_ms: () => Date.now(),
        counter_ms: () => performance.now(),
        ship_ms: () => this.time.realMs(),
      });
    } catch (error) {
      this.broken = String(error);
      return this.follow();
    }
    const box = this.outbox;
    // However quickly changes come, one count is under way and one more follows it.
    let counting = false;
    let changed = false;
    const recount = async (): Promise<void> => {
      changed = true;
      if (counting) return;
      counting = true;
      while (changed) {
        changed = false;
        const counts = await box.counts().catch(() => null);
        if (counts) this.counts = counts;
        this.counted ||= counts !== null;
      }
      counting = false;
    };
    box.watch(() => void recount());
    void recount();
    for (const event of await box.unsent()) this.takeIn(JSON.parse(event.text) as Event);
    this.sender = new Sender(box, usual, (way) => (this.way = way));
    void this.sender.run();
    void this.follow();
  }

  /** Keeps what happened on this device; null when even that failed, which is then told in the largest words. */
  async keep(happening: Happening, words?: string, values: Record<string, string | number> = {}): Promise<string | null> {
    try {
      if (!this.outbox) throw new Error(this.broken ?? 'no store');
      const set = happening.set === undefined ? this.setting : happening.set;
      const kept = await this.outbox.put({ person: this.person, ...happening, set });
      this.takeIn(JSON.parse(kept.text) as Event);
      if (words) this.done = { id: kept.id, words, values };
      navigator.vibrate?.(30);
      return kept.id;
    } catch (error) {
      // Told until it has been seen: a later tap that is kept must not wipe it away.
      this.broken = error instanceof Error ? error.message : String(error);
      this.full = (error as { name?: unknown } | null)?.name === 'QuotaExceededError';
      this.not_kept += 1;
      navigator.vibrate?.([200, 100, 200]);
      return null;
    }
  }

  /** This device changes hands. The language goes with the person, where it was chosen before. */
  handTo(person: string | null): void {
    this.person = person;
    if (person === null) localStorage.removeItem('person');
    else localStorage.setItem('person', person);
    const language = person === null ? null : localStorage.getItem(`language:${person}`);
    if (language) words.choose(language);
  }

  /** A language is the person's, as long as one is named. */
  speak(tag: string): void {
    words.choose(tag);
    if (this.person !== null) localStorage.setItem(`language:${this.person}`, tag);
  }

  /** Asks anew what this device is and may. */
  async whoAmI(): Promise<void> {
    const me = await ask('/api/devices/me', this.outbox ? { device: this.outbox.device } : {});
    if (me.json) this.me = me.json;
  }

  /** The taps that were not kept have been written down. */
  seenNotKept(): void {
    this.not_kept = 0;
    this.full = false;
    if (this.outbox) this.broken = null;
  }

  async undo(): Promise<void> {
    if (!this.done) return;
    await this.keep({ kind: 'voided', data: { target: this.done.id, why: 'undo' } });
    if (this.done.id === this.started_here) this.started_here = null;
    this.done = { id: '', words: 'done-undone', values: {} };
  }

  /** Now by this device's clock, as events bear it, for a moment of the ship's time. */
  byDevice(ship_ms: number): string {
    return new Date(ship_ms + (Date.now() - this.time.utcMs())).toISOString();
  }

  position(): { latitude_deg: number | null; longitude_deg: number | null } {
    const of = (name: string) => (typeof this.state_now?.[name] === 'number' ? (this.state_now[name] as number) : null);
    return { latitude_deg: of('latitude_deg'), longitude_deg: of('longitude_deg') };
  }

  private takeIn(event: Event): void {
    if (event.kind === 'ship_state') this.state_now = event.data;
    for (const ear of this.ears) ear(event);
    if (this.log.take(event)) {
      const own_start = event.kind === 'setting_started' && event.device === this.outbox?.device;
      const going_on = this.head?.stage === 'setting' && !this.log.ended();
      if (own_start && !going_on && !this.voyage?.sets.some((set) => set.id === event.id)) {
        this.started_here = event.id;
        this.log.set = event.id;
        // What the ship told is of the set before.
        this.baskets = [];
        this.places = [];
        this.strip = null;
        this.ahead = null;
        this.beat = null;
      }
      if (event.kind === 'voided' && event.data['target'] === this.started_here) this.started_here = null;
      this.version += 1;
    }
  }

  private async follow(): Promise<void> {
    let cursor: string | null = null;
    while (cursor === null) {
      cursor = await this.load().catch(() => null);
      if (cursor === null) {
        if (this.link !== 'not_paired') this.link = 'down';
        await new Promise((done) => setTimeout(done, 2_000));
      }
    }
    const live = new Live(cursor, {
      link: (link) => (this.link = link),
      hello: (hello) => {
        if (hello.afresh) {
          this.log.clear();
          // What waits here is as true as before.
          void this.outbox?.unsent().then((unsent) => unsent.forEach((event) => this.takeIn(JSON.parse(event.text) as Event)));
        }
        this.sender?.linkIsNew();
        offline.look();
        this.refresh();
        void this.measure();
      },
      kept: (row: Row) => {
        const event = row.event as unknown as Event;
        this.takeIn(event);
        if (event.kind !== 'ship_state' && event.kind !== 'clock_offset') this.refresh();
        if (event.kind === 'table_loaded' || event.kind.startsWith('person_') || event.kind === 'amended' || event.kind === 'voided') void this.aboard();
      },
      ship: (state) => (this.state_now = state),
      beat: (beat) => (this.beat = beat),
      health: (health) => (this.health = health),
      devices: () => {
        this.devices_changed += 1;
        void this.whoAmI();
      },
    });
    setInterval(() => this.link === 'up' && void this.measure(), 15_000);
    setInterval(() => this.setting && this.link === 'up' && this.refresh(), 10_000);
    await live.run();
  }

  /** Fetches the snapshot; answers the cursor from which the live stream goes on. */
  private async load(): Promise<string | null> {
    const me = await ask('/api/devices/me', this.outbox ? { device: this.outbox.device } : {});
    if (me.status === 401 || me.status === 403) this.link = 'not_paired';
    if (!me.json) return null;
    this.me = me.json;
    // All that does not wait for one another goes at once: over a ship's Wi-Fi each question costs a trip.
    const [voyage, health, beat, opening] = (
      await Promise.all([ask('/api/voyage'), ask('/api/health'), ask('/api/beat'), ask('/api/events', { after: `${me.json.epoch}.0`, limit: '200' }), this.measure()])
    ).map((got) => got && got.json) as [Schemas['VoyageView'] | null, Health | null, Beat | null, Schemas['Rows'] | null];
    this.health = health;
    this.beat = beat;
    if (!voyage) return null;
    this.voyage = voyage;
    void this.aboard();
    // As far back as the line being set, or the haul that is under way, was begun.
    const setting = this.head?.stage === 'setting';
    const viewed = this.views();
    if (!setting) await viewed;
    const pages = await this.rowsBack(voyage.cursor, setting ? (this.head?.id ?? null) : this.head?.open ? (this.set?.report.hauling.parts[0]?.haul ?? null) : null);
    await viewed;
    if (!pages) return null;
    // Who is aboard stands at the voyage's beginning.
    for (const row of opening?.events ?? []) if (row.event.kind.startsWith('person_') || row.event.kind === 'gear_described') this.takeIn(row.event as unknown as Event);
    for (const row of pages) this.takeIn(row.event as unknown as Event);
    this.loaded = true;
    return voyage.cursor;
  }

  /** Rows up to a cursor, from that of the wanted event on; the last page where none is wanted. */
  private async rowsBack(cursor: string, wanted: string | null): Promise<Row[] | null> {
    const [epoch, last] = [cursor.slice(0, cursor.lastIndexOf('.')), Number(cursor.slice(cursor.lastIndexOf('.') + 1))];
    let found = wanted === null;
    const pages: Row[][] = [];
    for (let upto = last; upto > 0 && (!found || pages.length === 0); upto -= PAGE) {
      const from = Math.max(0, upto - PAGE);
      const rows = (await ask('/api/events', { after: `${epoch}.${from}`, limit: String(upto - from) })).json;
      if (!rows) return null;
      pages.unshift(rows.events);
      found ||= rows.events.some((row) => row.event.id === wanted);
    }
    return pages.flat();
  }

  /** Who is aboard and which zones were loaded: asked for when that may have changed. */
  private async aboard(): Promise<void> {
    const [people, zones] = await Promise.all([askPeople(), askZones()]);
    if (people) this.told_people = people;
    this.zones = zones;
  }

  private async views(): Promise<void> {
    const head = this.head;
    if (!head || (this.started_here && this.started_here !== head.id)) return;
    const number = String(head.number);
    const setting = head.stage === 'setting';
    const [set, baskets, places, strip, beat, ahead] = await Promise.all([
      ask('/api/sets/{number}', {}, number),
      ask('/api/sets/{number}/baskets', {}, number),
      ask('/api/sets/{number}/places', {}, number),
      ask('/api/sets/{number}/strip', {}, number),
      setting ? ask('/api/beat') : null,
      setting ? askAhead(head.number) : null,
    ]);
    // A set that was started meanwhile is another one.
    if (this.head?.number !== head.number) return;
    if (set.json) {
      this.set = set.json;
      this.log.gear = set.json.gear;
      this.log.set = this.started_here ?? head.id;
    }
    if (baskets.json) this.baskets = baskets.json;
    if (places.json) this.places = places.json;
    if (strip.json) this.strip = strip.json;
    // The live stream tells it too, and sooner: an answer that failed takes nothing away.
    if (beat?.json) this.beat = beat.json;
    this.ahead = ahead;
    this.view_version += 1;
    this.version += 1;
  }

  private refresh(): void {
    this.refresh_timer ??= setTimeout(() => {
      this.refresh_timer = null;
      void (async () => {
        const [voyage, health] = await Promise.all([ask('/api/voyage'), ask('/api/health')]);
        if (health.json) this.health = health.json;
        if (!voyage.json) return;
        if (this.time.strays(voyage.json.now_utc)) await this.measure();
        this.voyage = voyage.json;
        if (this.started_here && voyage.json.sets.some((set) => set.id === this.started_here)) this.started_here = null;
        await this.views();
      })();
    }, this.settle_ms);
  }

  /** Measures the ship's time, and tells the ship how far this device's clock is off where that is news. */
  private async measure(): Promise<void> {
    const answered = await this.time.measure(async () => (await ask('/api/clock')).json, 4);
    const offset = this.time.offset();
    const device = this.outbox?.device;
    if (!answered || !offset || !device || !this.outbox) return;
    this.log.clockOf(device, offset.offset_s);
    const moved = this.told_offset_s === null || Math.abs(offset.offset_s - this.told_offset_s) > Math.max(0.25, 2 * offset.uncertainty_s);
    if (!moved || this.me?.role === 'look_only') return;
    this.told_offset_s = offset.offset_s;
    const data = { of_device: device, ...offset, of_boot: this.outbox.boot, of_monotonic_ms: Math.floor(performance.now()) };
    await this.outbox.put({ kind: 'clock_offset', basis: 'instrument', data }).catch(() => {});
  }
}

export const ship = new Ship();

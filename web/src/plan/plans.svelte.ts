// The plans in work on this device: what is wanted, what the ship reckons of it, which one is open. One for the page.
import { tick } from 'svelte';
import { ship } from '../ship.svelte.ts';
import { clock } from '../words/shown.ts';
import { askPlan, askStart, type Answer } from './ask.ts';
import { fix, letFollow, type Pace } from './follow.ts';
import { Latest } from './latest.ts';
import { hooksOf, type Kept, keptOf, lastTakesRest, type Letter, letters, otherWay, read, sent, write } from './store.ts';
import type { Level, Planned, PlanWanted } from './types.ts';

const KEY = 'plans';
const SAVE_MS = 250;
const CALM_MS = 120;
/** Decimals with which a value that followed is fixed. */
export const DIGITS: Record<string, number> = { vessel_speed_through_water_kn: 1, shooter_speed_m_s: 2, sag_ratio: 3, beat_s: 1, clip_spacing_m: 1 };

/** Whether what is offered says nothing of a pace or of hooks. */
const nothingIn = (wanted: PlanWanted) => Object.values(wanted.setting ?? {}).every((value) => value == null || typeof value === 'boolean');
const rounded = (value: number, digits: number) => Math.round(value * 10 ** digits) / 10 ** digits;

class Plans {
  all = $state.raw<Kept[]>([]);
  open = $state<Letter>('A');
  /** The last good answer for each plan. */
  answers = $state.raw<Partial<Record<Letter, Planned>>>({});
  /** The same a moment later, when nothing moves: what is painted from it need not run with a slider. */
  calm = $state.raw<Partial<Record<Letter, Planned>>>({});
  /** What the ship said against the newest wish. */
  problems = $state.raw<Partial<Record<Letter, { problem: string; status: number }>>>({});
  /** True once it is known what to start from. */
  ready = $state(false);
  /** The ship offered nothing to start from. */
  thin = $state(false);
  leg = $state(0);
  private readonly asking = new Map<Letter, Latest<{ wanted: PlanWanted; moved_ms: number }, Answer>>();
  /** Of the plans whose legs are the last set's: those legs, and whether they run the other way. */
  private readonly lasts = new Map<Letter, { legs: string; turned: boolean }>();
  private beginning = false;
  private calm_timer: ReturnType<typeof setTimeout> | null = null;
  private save_timer: ReturnType<typeof setTimeout> | null = null;

  plan = $derived(this.all.find((plan) => plan.letter === this.open) ?? this.all[0] ?? null);
  /** The open plan's answer, when nothing moves. */
  still = $derived(this.plan ? (this.calm[this.plan.letter] ?? null) : null);
  planned = $derived(this.plan ? (this.answers[this.plan.letter] ?? null) : null);
  problem = $derived(this.plan ? (this.problems[this.plan.letter] ?? null) : null);
  stretch = $derived(this.planned ? (this.planned.stretches[Math.min(this.leg, this.planned.stretches.length - 1)] ?? null) : null);

  /** Once, when the screen is first opened. */
  async begin(): Promise<void> {
    if (this.ready) return;
    const stored = read(localStorage.getItem(KEY));
    if (stored) {
      [this.all, this.open] = [stored.plans, stored.open];
      this.ready = true;
      this.askAll();
      return;
    }
    if (this.beginning) return;
    this.beginning = true;
    const wanted = await this.offered();
    this.beginning = false;
    if (wanted === undefined) {
      setTimeout(() => void this.begin(), 3_000);
      return;
    }
    this.thin = wanted === null || nothingIn(wanted);
    this.all = [keptOf('A', wanted ?? this.blank())];
    this.lasts.set('A', { legs: JSON.stringify(this.all[0]!.wanted.legs), turned: false });
    this.ready = true;
    if (wanted) this.save();
    this.askAll();
  }

  private async offered(): Promise<PlanWanted | null | undefined> {
    const last = await askStart('last');
    return last === null ? askStart('gear') : last;
  }

  private blank(): PlanWanted {
    const { latitude_deg, longitude_deg } = ship.position();
    const start = latitude_deg !== null && longitude_deg !== null ? { latitude_deg, longitude_deg } : null;
    return { start_at: new Date(Math.ceil(ship.now_ms / 3_600_000) * 3_600_000).toISOString(), start, legs: [{ course_deg_true: 0, hooks: null }], setting: {}, utc_offset_min: ship.utc_offset_min };
  }

  /** Starts the open plan anew from the last set; false when the ship offers nothing. */
  async fromLast(): Promise<boolean> {
    const wanted = await this.offered();
    if (!wanted || !this.plan) return false;
    this.thin = nothingIn(wanted);
    const { letter, name } = this.plan;
    const kept = keptOf(letter, wanted, name);
    this.lasts.set(letter, { legs: JSON.stringify(kept.wanted.legs), turned: false });
    this.put(kept);
    this.leg = 0;
    return true;
  }

  private put(kept: Kept): void {
    this.all = this.all.map((plan) => (plan.letter === kept.letter ? kept : plan));
    this.save();
    this.ask(kept);
  }

  /** Changes what is wanted of the open plan. */
  change(edit: (wanted: PlanWanted) => PlanWanted): void {
    if (this.plan) this.put({ ...this.plan, wanted: edit(this.plan.wanted) });
  }

  /** A value of the setting, typed or by its slider. One that followed is fixed by that, and another follows instead. */
  set(name: string, value: number | null): void {
    const { plan } = this;
    if (!plan) return;
    const follows = value === null ? plan.follows : fix(plan.follows, name as Pace);
    const count = name === 'hooks' || name === 'baskets' ? name : plan.count;
    this.put({ ...plan, follows, count, wanted: { ...plan.wanted, setting: { ...plan.wanted.setting, [name]: value } } });
  }

  /** Lets a value follow from the others; what followed before is fixed where it stands. */
  follow(value: Pace): void {
    const { plan } = this;
    if (!plan || plan.follows.includes(value)) return;
    const follows = letFollow(plan.follows, value);
    const setting = { ...plan.wanted.setting };
    for (const freed of plan.follows.filter((one) => !follows.includes(one))) {
      const worked_out = this.planned?.setting[freed];
      if (worked_out != null) setting[freed] = rounded(worked_out, DIGITS[freed] ?? 2);
    }
    this.put({ ...plan, follows, wanted: { ...plan.wanted, setting } });
  }

  /** A value of the setting as shown: worked out where it follows, else as fixed. */
  value(name: string): number | null {
    const { plan } = this;
    if (!plan) return null;
    const key = name as Pace;
    const derived = (plan.follows as readonly string[]).includes(name) || ((name === 'hooks' || name === 'baskets') && name !== plan.count);
    return (derived ? this.planned?.setting[key] : (plan.wanted.setting[key] ?? this.planned?.setting[key])) ?? null;
  }

  water(levels: Level[], source: string): void {
    if (!this.plan) return;
    const water = levels.length > 0 ? { levels, source, taken_at: new Date(ship.now_ms).toISOString() } : null;
    this.put({ ...this.plan, own_water: levels.length > 0, wanted: { ...this.plan.wanted, water } });
  }

  /**
   * The other way round. As long as the legs are the last set's own, it begins where that set ended; legs that were
   * changed here are gone back along from their end.
   */
  async turnRound(): Promise<void> {
    const { plan, planned } = this;
    if (!plan) return;
    this.leg = 0;
    const last = this.lasts.get(plan.letter);
    if (last && last.legs === JSON.stringify(plan.wanted.legs)) {
      const wanted = await askStart('last', !last.turned);
      if (wanted?.legs.length && this.plan === plan) {
        const legs = lastTakesRest(wanted.legs);
        this.lasts.set(plan.letter, { legs: JSON.stringify(legs), turned: !last.turned });
        this.change((was) => ({ ...was, start: wanted.start ?? was.start ?? null, legs }));
        return;
      }
    }
    const end = planned?.track.at(-1);
    const hooks = plan.wanted.legs.map((_, leg) => hooksOf(planned?.stretches.find((one) => one.leg === leg + 1)));
    this.change((wanted) => otherWay(wanted, end ? { latitude_deg: end.latitude_deg, longitude_deg: end.longitude_deg } : null, hooks));
  }

  pick(letter: Letter): void {
    this.open = letter;
    this.leg = 0;
    this.save();
  }

  copy(): void {
    const free = letters.find((letter) => !this.all.some((plan) => plan.letter === letter));
    if (!free || !this.plan) return;
    const last = this.lasts.get(this.plan.letter);
    if (last) this.lasts.set(free, last);
    this.all = [...this.all, { ...this.plan, letter: free, name: '' }].sort((a, b) => a.letter.localeCompare(b.letter));
    this.pick(free);
    this.ask(this.plan);
  }

  remove(letter: Letter): void {
    if (this.all.length < 2) return;
    this.all = this.all.filter((plan) => plan.letter !== letter);
    this.answers = { ...this.answers, [letter]: undefined };
    this.calm = this.answers;
    if (this.open === letter) this.pick(this.all[0]!.letter);
    this.save();
  }

  rename(letter: Letter, name: string): void {
    this.all = this.all.map((plan) => (plan.letter === letter ? { ...plan, name: name.slice(0, 40) } : plan));
    this.save();
  }

  askAll(): void {
    for (const plan of this.all) this.ask(plan);
  }

  private ask(plan: Kept): void {
    let latest = this.asking.get(plan.letter);
    if (!latest) {
      latest = new Latest(
        ({ wanted }) => askPlan(wanted),
        (answer, { moved_ms }, newest) => this.show(plan.letter, answer, moved_ms, newest),
      );
      this.asking.set(plan.letter, latest);
    }
    latest.want({ wanted: sent(plan, ship.utc_offset_min), moved_ms: performance.now() });
  }

  private show(letter: Letter, answer: Answer, moved_ms: number, newest: boolean): void {
    if ('planned' in answer) {
      this.answers = { ...this.answers, [letter]: answer.planned };
      this.problems = { ...this.problems, [letter]: undefined };
      this.settle(letter);
    } else if (newest) this.problems = { ...this.problems, [letter]: answer };
    if (letter !== this.open) return;
    // From the move of a slider to the picture of it: told to whoever measures.
    void tick().then(() => requestAnimationFrame(() => {
      if (performance.getEntriesByName('plan-redraw').length > 500) performance.clearMeasures('plan-redraw');
      performance.measure('plan-redraw', { start: moved_ms, end: performance.now() });
    }));
  }

  private settle(letter: Letter): void {
    if (this.calm_timer) clearTimeout(this.calm_timer);
    if (!this.calm[letter]) this.calm = this.answers;
    else this.calm_timer = setTimeout(() => (this.calm = this.answers), CALM_MS);
  }

  private save(): void {
    this.save_timer ??= setTimeout(() => {
      this.save_timer = null;
      try {
        localStorage.setItem(KEY, write({ open: this.open, plans: this.all }));
      } catch {
        // A full store: the plan still stands on the screen.
      }
    }, SAVE_MS);
  }

  /** Makes the open plan the plan of the next set: events in the queue, like everything else. */
  async use(): Promise<void> {
    const { plan, planned } = this;
    if (!plan || !planned) return;
    const { wanted } = plan;
    if (plan.own_water && wanted.water) {
      const data = { taken_at: wanted.water.taken_at ?? null, ...wanted.start, levels: wanted.water.levels, source: wanted.water.source ?? 'typed' };
      if (await ship.keep({ kind: 'water_profile', data, basis: 'typed', set: null })) this.all = this.all.map((one) => ({ ...one, own_water: one.letter === plan.letter ? false : one.own_water }));
    }
    await ship.keep({ kind: 'set_planned', data: planned.event_data as Record<string, unknown>, set: null }, 'done-plan', { letter: plan.letter, time: clock(ship.now_ms, ship.utc_offset_min ?? 0, true) });
    this.save();
  }
}

export const plans = new Plans();

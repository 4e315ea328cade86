// The one sentence of a screen, what follows, and what it costs or rests on.
import { ship } from '../ship.svelte.ts';
import { clock } from '../words/shown.ts';
import { say, words } from '../words/words.svelte.ts';

export interface Told {
  now: string;
  next: string;
  costs: string;
  /** What to do about it; empty for nothing. */
  advice: string;
}

export interface Figure {
  name: string;
  value: string;
  doubt: boolean;
}

const NMI_M = 1_852;

/** Baskets until the next place at which a radio buoy hangs by the plan; null where no plan tells. */
export function basketsToBuoy(): number | null {
  const due = ship.due;
  const place = due && ship.beat?.radio_buoys.find((place) => place > due.basket);
  return due && place !== undefined && place !== null ? place - due.basket : null;
}

export function sentences(): Told {
  const due = ship.due;
  return { now: now(), next: next(), costs: costs(), advice: advice() };

  function now(): string {
    if (!ship.loaded && !due) return say('now-loading');
    if (!ship.setting) return ship.log.ended() && ship.head ? say('now-ended') : say('now-no-set');
    if (!due) return say('now-no-beat');
    const where = { basket: due.basket, hook: due.position, hooks: due.hooks };
    if (due.stopped) return say('now-stopped', where);
    return due.position === 0 ? say('now-float', { float: ship.floatName(due.basket), basket: due.basket }) : say('now-hook', where);
  }

  function next(): string {
    if (!ship.loaded && !due) return say('next-loading');
    if (!ship.setting) return say('next-begin');
    if (!due) return say('next-anchor');
    const float = ship.floatName(due.basket + 1);
    const said = [due.hooks_to_float === 0 ? say('next-float-now', { float }) : say('next-float', { float, hooks: due.hooks_to_float })];
    const baskets = basketsToBuoy();
    if (baskets !== null) said.push(baskets === 1 ? say('next-buoy-now') : say('next-buoy', { baskets }));
    return said.join(' ');
  }

  function costs(): string {
    if (!ship.setting) return '';
    const said: string[] = [];
    const end = ship.ahead?.end_of_setting;
    if (end) said.push(say('costs-end', { time: clock(Date.parse(end.at), ship.utc_offset_min ?? 0), minutes: words.number(Math.max(1, Math.round(end.band_s / 60))) }));
    const pace = ship.ahead?.pace;
    const shooter = pace?.shooter_speed_m_s ?? ship.log.shooter_m_s();
    if (shooter != null) said.push(pace?.planned_shooter_speed_m_s != null ? say('costs-shooter', { now: words.number(shooter, 1), planned: words.number(pace.planned_shooter_speed_m_s, 1) }) : say('rests-shooter', { speed: words.number(shooter, 1) }));
    if (pace?.sag_ratio != null && pace.planned_sag_ratio != null) said.push(say('costs-sag', { now: words.number(pace.sag_ratio, 2), planned: words.number(pace.planned_sag_ratio, 2) }));
    // The last basket that is wholly in the water and has a depth: never without its band.
    const hung = ship.baskets.findLast((row) => row.deepest_m != null && row.band_m != null && row.basket < (due?.basket ?? Infinity));
    if (!pace && hung?.sag_ratio != null) said.push(say('rests-sag', { sag: words.number(hung.sag_ratio, 2), basis: say(`basis-${hung.sag_basis === 'measured' ? 'measured' : 'plan'}`) }));
    if (pace?.ship_speed_kn != null && pace.planned_ship_speed_kn != null) said.push(say('costs-speed', { now: words.number(pace.ship_speed_kn, 1), planned: words.number(pace.planned_ship_speed_kn, 1) }));
    if (hung) said.push(say('rests-basket', { basket: hung.basket, deep: words.number(hung.deepest_m!), band: words.band(hung.band_m!) }));
    return said.join(' ');
  }

  /** What keeps the plan, and what a change would do; warnings of the ship come before. */
  function advice(): string {
    if (!ship.setting || !ship.ahead) return '';
    const warned = ship.ahead.warnings.flatMap((one) => one.text ?? []);
    if (warned.length > 0) return warned.join(' ');
    const one = ship.ahead.suggestions[0];
    if (!one) return '';
    if (one.kind === 'shooter_and_beat' && one.shooter_speed_m_s != null) {
      const keeps = say('advice-shooter', { sag: words.number(one.sag_ratio ?? 0, 2), shooter: words.number(one.shooter_speed_m_s, 1), minute: words.number(one.shooter_speed_m_min ?? one.shooter_speed_m_s * 60) });
      return [keeps, one.beat_s != null ? say('advice-then-beat', { beat: words.number(one.beat_s, 1) }) : '', say('advice-smaller')].filter(Boolean).join(' ');
    }
    return one.beat_s != null ? say('advice-beat', { spacing: words.number(one.clip_spacing_m ?? 0, 1), beat: words.number(one.beat_s, 1) }) : '';
  }
}

/** The figures under the sentence: a name and a number each. */
export function figures(): Figure[] {
  const found: Figure[] = [];
  const add = (name: string, value: string | null, doubt = false) => value !== null && found.push({ name: say(name), value, doubt });
  if (!ship.setting || ship.head?.id !== ship.setting) return found;
  const { ahead, beat } = ship;
  const hooks = ship.head.hooks_set;
  add('figure-hooks', ahead?.hooks_to_come != null ? say('figure-of', { now: words.number(hooks), all: words.number(hooks + ahead.hooks_to_come) }) : words.number(hooks));
  const bin = ship.log.bin();
  const next = beat?.bins.next ?? [];
  add('figure-bin', bin);
  add('figure-next-bins', next.length > 0 ? next.slice(0, 3).join(' · ') : null);
  add('figure-buoy', ship.log.buoys().at(-1)?.buoy ?? null);
  for (const store of ahead?.stores ?? []) {
    if (store.left === null) continue;
    const amount = (value: number) => (store.what === 'main_line_m' ? `${words.number(value / 1_000, 1)} km` : words.number(value));
    const lacks = store.left_at_end !== null && store.left_at_end < 0;
    add(`figure-left-${store.what}`, store.needed !== null ? say('figure-needs', { left: amount(store.left), needed: amount(store.needed) }) : amount(store.left), lacks);
  }
  if (ahead && ahead.daylight.hooks_judged > 0) add('figure-daylight', words.number(ahead.daylight.hooks_by_daylight));
  const near = (ahead?.zones ?? []).flatMap((zone) => [zone.line_so_far, zone.way_ahead].flatMap((near) => (near ? [{ name: zone.name, ...near }] : []))).sort((a, b) => a.least_distance_m - b.least_distance_m)[0];
  if (near) add('figure-zone', near.inside ? say('figure-zone-inside', { zone: near.name }) : say('figure-zone-near', { zone: near.name, distance: words.number(near.least_distance_m / NMI_M, 1) }), near.inside || near.least_distance_m < 2 * NMI_M);
  return found;
}

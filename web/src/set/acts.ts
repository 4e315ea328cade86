// What the keys do: each a fact with its place in the line, kept on this device before anything is said.
import { tell } from '../api/client.ts';
import { uuid7 } from '../outbox/id.ts';
import { ship } from '../ship.svelte.ts';
import { clock } from '../words/shown.ts';
import { words } from '../words/words.svelte.ts';

const now = () => clock(ship.now_ms, ship.utc_offset_min ?? 0, true);

/** The next place to tap: the one whose beat is nearest, unless it was tapped already. */
export function tapPlace(): number {
  const nearest = nearestPlace();
  const due = ship.due;
  if (!due || nearest !== due.basket) return nearest;
  const tapped = ship.log.taps().has(nearest) || ship.places.some((place) => place.place === nearest && place.tapped);
  return tapped ? due.basket + 1 : nearest;
}

/** The place whose beat is nearest: the float that a man at the stern has just had in hand, or has now. */
export function nearestPlace(): number {
  const due = ship.due;
  if (!due) return Math.max(0, ...ship.log.taps().keys(), ...ship.places.map((place) => place.place)) + 1;
  const past_half = due.position > due.hooks / 2;
  return past_half ? due.basket + 1 : due.basket;
}

export async function tapFloat(place: number, tag?: string): Promise<void> {
  if (!ship.loaded && !ship.due) {
    // Before the record has come the place is not known; the ship finds it by the time.
    await ship.keep({ kind: 'float_clipped', data: tag === undefined ? {} : { tag } }, 'done-float', { float: tag ?? '', time: now() });
    return;
  }
  const bears = tag ?? (ship.tags.get(place) || undefined);
  const data = bears === undefined ? { place } : { place, tag: bears };
  await ship.keep({ kind: 'float_clipped', data }, 'done-float', { float: tag ?? ship.floatName(place), time: now() });
}

/** Names a float: a tap that stands is mended, so that its time stays; else it is tapped now. */
export async function nameFloat(place: number, tag: string): Promise<void> {
  const tap = ship.loaded ? ship.log.taps().get(place) : undefined;
  if (!tap) return tapFloat(place, tag);
  const data = { target: tap.id, data: { place, tag }, why: 'wrong tag' };
  await ship.keep({ kind: 'amended', data }, 'done-tag', { tag, float: place });
}

export async function missed(): Promise<void> {
  const due = ship.due;
  if (!due || due.position < 1) return;
  await ship.keep({ kind: 'hook_missed', data: { basket: due.basket, position: due.position } }, 'done-missed', { hook: due.position, basket: due.basket });
}

export const openStop = () => ship.log.stops().find((stop) => stop.to_ms === null) ?? null;

export async function stop(): Promise<void> {
  if (openStop()) return;
  await ship.keep({ kind: 'stop_started', data: {} }, 'done-stop', { time: now() });
}

/** Answers what the line does in the stop that lasts. */
export async function stopAnswer(line_running: boolean): Promise<void> {
  const open = openStop();
  if (open) await ship.keep({ kind: 'amended', data: { target: open.id, data: { line_running }, why: 'answer' } });
}

export async function goOn(): Promise<void> {
  await ship.keep({ kind: 'stop_ended', data: {} }, 'done-go', { time: now() });
}

export async function buoy(name: string): Promise<void> {
  await ship.keep({ kind: 'radio_buoy_launched', data: { buoy: name, place: tapPlace() } }, 'done-buoy', { buoy: name, time: now() });
}

export async function bin(name: string): Promise<void> {
  await ship.keep({ kind: 'bin_started', data: { bin: name } }, 'done-bin', { bin: name, time: now() });
}

export async function notePlace(): Promise<void> {
  await ship.keep({ kind: 'place_noted', data: ship.position() }, 'done-note', { time: now() });
}

/** A beat from now on: at the float that begins a basket, or where the running one stands. */
export async function beat(basket: number, position: number, at_ms: number, beat_s: number, hooks_per_basket: number, float_takes_a_beat: boolean, set?: string): Promise<void> {
  const data = { basket, position, at: ship.byDevice(at_ms), beat_s, hooks_per_basket, float_takes_a_beat };
  await ship.keep({ kind: 'beat', data, ...(set ? { set } : {}) }, 'done-beat', { seconds: words.number(beat_s, 1), time: now() });
}

/** How long the ship may take to answer an order; then this device sets the beat by itself. */
const ORDER_MS = 1_500;

/**
 * Quicker or slower by so much: the ship anchors it at the thing clipped last, so that the count goes on; without a
 * link this device does. The seconds are said, not the step, so that an order that came in late changes nothing.
 */
export async function beatBy(change_s: number): Promise<void> {
  const [due, anchor] = [ship.due, ship.log.anchor(ship.now_ms)];
  if (!due || !anchor || due.stopped) return;
  const beat_s = Math.round(Math.max(0.5, anchor.beat_s + change_s) * 10) / 10;
  if (ship.link === 'up') {
    const id = uuid7(Date.now());
    const late = new Promise<null>((done) => setTimeout(done, ORDER_MS, null));
    const got = await Promise.race([tell<{ id: string }>('/api/beat', { id, do: 'set', beat_s }), late]);
    if (got?.json) {
      ship.done = { id, words: 'done-beat', values: { seconds: beat_s, time: now() } };
      return;
    }
    if (got && [400, 403, 409].includes(got.status)) {
      ship.done = { id: '', words: 'beat-refused', values: { why: got.text ?? '' } };
      return;
    }
  }
  const passed_s = due.interval_s - due.next_in_s;
  // Of two anchors at one thing the later moment stands: clocks that differ by a hair must not undo this one.
  const here = anchor.basket === due.basket && anchor.position === due.position;
  const at_ms = Math.max(ship.now_ms - passed_s * 1_000, here ? anchor.at_ms + 20 : -Infinity);
  const hooks = ship.log.hooksOf()(due.position === 0 ? due.basket : due.basket + 1);
  await beat(due.basket, due.position, at_ms, beat_s, hooks, anchor.float_takes_a_beat);
}

/** Says how many hooks were clipped while no tones sounded. */
export async function answerSilence(silence: { id: string; from_utc: string; to_utc: string }, hooks_clipped: number): Promise<void> {
  const at = (utc: string) => ship.byDevice(Date.parse(utc));
  const data = { target: silence.id, data: { from_at: at(silence.from_utc), to_at: at(silence.to_utc), hooks_clipped }, why: 'answer' };
  await ship.keep({ kind: 'amended', data }, 'done-silence', { hooks: hooks_clipped });
}

export async function startSetting(gear: string, hooks: number, beat_s: number, float_takes_a_beat: boolean): Promise<void> {
  const at_ms = ship.now_ms;
  // The set names the plan that it follows, and takes target and night from it.
  const plan = ship.log.planned();
  const { target, night } = plan?.data ?? {};
  const id = await ship.keep({ kind: 'setting_started', data: { gear, ...(plan ? { plan: plan.id } : {}), ...(target != null ? { target } : {}), ...(night != null ? { night } : {}) }, set: null });
  if (!id) return;
  await beat(1, 0, at_ms, beat_s, hooks, float_takes_a_beat, id);
  await ship.keep({ kind: 'float_clipped', data: { place: 1 }, set: id });
  // What is taken back is the start itself.
  ship.done = { id, words: 'done-start', values: { time: now() } };
}

export async function endSetting(last_place: number, hooks_after: number): Promise<void> {
  await ship.keep({ kind: 'setting_ended', data: { last_place, hooks_after } }, 'done-end', { time: now() });
}

/** What `gear_changed` may say; what is null stays as it is. */
export interface GearChange {
  hooks_per_basket: number | null;
  float_line_m: number | null;
  branch_type: string | null;
  lead_g: number | null;
}

/** Other gear from a float on. */
export async function changeGear(from_place: number, change: GearChange): Promise<void> {
  const said = Object.fromEntries(Object.entries(change).filter(([, value]) => value !== null));
  await ship.keep({ kind: 'gear_changed', data: { from_place, ...said } }, 'done-gear', { float: ship.floatName(from_place) });
}

// The score: which tone sounds at which moment. A pure function of the beat and the time, the same as the ship's own.
//
// The table of sounds is made from the ship's program (crates/voyage/src/score.rs, which gives the reasons and
// sources); nothing of it is written here by hand.
import { type Anchor, dueAt, type Stop } from '../set/due.ts';
import table from './sounds.json';

export type Sound = keyof typeof table.sounds;

export interface Note {
  after_ms: number;
  length_ms: number;
  frequency_hz: number;
}

export const notes = (sound: Sound): readonly Note[] => table.sounds[sound];

export interface Tone {
  at_ms: number;
  sound: Sound;
  basket: number;
  position: number;
}

/** The line that is being laid, as far as it sounds. */
export interface Line {
  /** In order of `at_ms`; of one `at_ms` the later told comes later. */
  anchors: readonly (Anchor & { count_in: number })[];
  hooksOf: (basket: number) => number;
  stops: readonly Stop[];
  /** Places at which a radio buoy hangs or will hang. */
  radio_buoys: readonly number[];
  /** The place at which the bin in use is empty. */
  bin_empty_at: number | null;
}

/** A moment may be rounded: a hair of a millisecond must not make two of one. */
const HAIR_MS = 1e-3;

/** The moment at which so much beat has run, stops put in; Infinity in a stop that lasts. */
export function afterRunning(from_ms: number, running_ms: number, stops: readonly Stop[]): number {
  let t = from_ms + running_ms;
  let until = from_ms;
  for (const stop of [...stops].sort((a, b) => a.from_ms - b.from_ms)) {
    const to_ms = stop.to_ms ?? Infinity;
    if (to_ms <= until) continue;
    const begin = Math.max(stop.from_ms, until);
    // What is due at the exact start of a stop was clipped before it.
    if (begin >= t - HAIR_MS) break;
    t += to_ms - begin;
    until = to_ms;
  }
  return t;
}

/** Everything that is due after one moment and up to another, each by the anchor that rules then. */
export function clips(line: Line, from_ms: number, to_ms: number): { at_ms: number; basket: number; position: number }[] {
  const found: { at_ms: number; basket: number; position: number }[] = [];
  line.anchors.forEach((anchor, index) => {
    const until_ms = line.anchors[index + 1]?.at_ms ?? Infinity;
    if (anchor.at_ms > to_ms || until_ms <= anchor.at_ms || until_ms <= from_ms) return;
    const takes = anchor.float_takes_a_beat;
    const ofPosition = (position: number) => (takes || position === 0 ? position : position - 0.5);
    const begin_ms = Math.max(from_ms, anchor.at_ms - HAIR_MS);
    const start = dueAt(anchor, line.hooksOf, line.stops, Math.max(begin_ms, anchor.at_ms));
    if (!start) return;
    let [basket, position] = [start.basket, start.position];
    // Beats from the anchor to the float that begins this basket.
    let beats = -ofPosition(anchor.position);
    for (let one = anchor.basket; one < basket; one++) beats += Math.max(1, line.hooksOf(one) + (takes ? 1 : 0));
    for (let most = 0; most < 10_000; most++) {
      const hooks = line.hooksOf(basket);
      const count = beats + ofPosition(position);
      const at_ms = Math.abs(count) < 1e-9 ? anchor.at_ms : afterRunning(anchor.at_ms, count * anchor.beat_s * 1_000, line.stops);
      if (at_ms > to_ms + HAIR_MS || at_ms >= until_ms - HAIR_MS) break;
      if (at_ms > begin_ms + (begin_ms === from_ms ? HAIR_MS : 0)) found.push({ at_ms, basket, position });
      if (position < hooks) position += 1;
      else {
        beats += Math.max(1, hooks + (takes ? 1 : 0));
        basket += 1;
        position = 0;
      }
    }
  });
  return found;
}

/** What sounds for a thing; the most telling where several would. */
export function soundOf(line: Line, basket: number, position: number): Sound {
  if (position > 0) return line.hooksOf(basket) - position === table.hooks_before_float ? 'float_soon' : 'hook';
  if (line.radio_buoys.includes(basket)) return 'radio_buoy';
  if (line.bin_empty_at === basket) return 'bin_change';
  return line.radio_buoys.includes(basket + 1) ? 'radio_buoy_soon' : 'float';
}

/** Everything that sounds after one moment and up to another; while a beat is counted in only the count is heard. */
export function tones(line: Line, from_ms: number, to_ms: number): Tone[] {
  const found: Tone[] = [];
  const counts: [number, number][] = [];
  for (const anchor of line.anchors) {
    if (anchor.count_in < 1 || anchor.at_ms <= from_ms) continue;
    const tick_ms = Math.min(anchor.beat_s, table.tick_s) * 1_000;
    counts.push([anchor.at_ms - anchor.count_in * tick_ms, anchor.at_ms]);
    for (let back = anchor.count_in; back >= 1; back--) {
      const at_ms = anchor.at_ms - back * tick_ms;
      if (at_ms > from_ms && at_ms <= to_ms) found.push({ at_ms, sound: 'count_in', basket: anchor.basket, position: anchor.position });
    }
  }
  for (const clip of clips(line, from_ms, to_ms)) {
    const counted_in = counts.some(([begin, end]) => clip.at_ms >= begin && clip.at_ms < end);
    if (!counted_in) found.push({ ...clip, sound: soundOf(line, clip.basket, clip.position) });
  }
  // A stop that came into a count-in ends it.
  const stands = (at_ms: number) => line.stops.some((stop) => stop.from_ms < at_ms - HAIR_MS && at_ms < (stop.to_ms ?? Infinity));
  return found.filter((tone) => !stands(tone.at_ms)).sort((a, b) => a.at_ms - b.at_ms);
}

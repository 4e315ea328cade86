// What is due now: a pure function of the last anchor of the beat, the stops since, and the time. No clock in here.
//
// A beat is the time from clip to clip. Where the float takes a beat of its own, a basket is n + 1 beats and hook j
// falls j beats after its float; where it does not, n beats and hook j falls j − ½ beats after it. Beats stand still
// in a stop; a hook due at its exact start was clipped before it. Position 0 is the float that begins the basket.

/** A place in the line at a moment from which beats are counted. */
export interface Anchor {
  basket: number;
  position: number;
  at_ms: number;
  beat_s: number;
  float_takes_a_beat: boolean;
}

/** A time in which no beat runs; `to_ms` null while it lasts. */
export interface Stop {
  from_ms: number;
  to_ms: number | null;
}

/** Where the beat is. */
export interface Due {
  basket: number;
  /** The hook clipped last; 0 when it was the float that begins the basket. */
  position: number;
  hooks: number;
  /** What comes next. */
  next: 'hook' | 'float';
  next_in_s: number;
  /** From the thing before to the next. */
  interval_s: number;
  hooks_to_float: number;
  stopped: boolean;
}

/** Rounding of times to milliseconds must not put a clip one beat back. */
const HAIR = 1e-6;

/** Milliseconds of beat between two moments, stops taken out; negative backwards. */
export function runningMs(from_ms: number, to_ms: number, stops: readonly Stop[]): number {
  if (to_ms < from_ms) return -runningMs(to_ms, from_ms, stops);
  const cut = stops
    .map((stop) => [Math.max(from_ms, stop.from_ms), Math.min(to_ms, stop.to_ms ?? to_ms)] as const)
    .filter(([begin, end]) => end > begin)
    .sort((a, b) => a[0] - b[0]);
  let stood = 0;
  let until = -Infinity;
  for (const [begin, end] of cut) {
    stood += Math.max(0, end - Math.max(begin, until));
    until = Math.max(until, end);
  }
  return to_ms - from_ms - stood;
}

/** What is due at a moment; null before the line's first float. */
export function dueAt(anchor: Anchor, hooksOf: (basket: number) => number, stops: readonly Stop[], at_ms: number): Due | null {
  const takes = anchor.float_takes_a_beat;
  const beatsOf = (basket: number) => Math.max(1, hooksOf(basket) + (takes ? 1 : 0));
  let basket = anchor.basket;
  const begun = takes || anchor.position === 0 ? anchor.position : anchor.position - 0.5;
  let phase = begun + runningMs(anchor.at_ms, at_ms, stops) / (anchor.beat_s * 1_000);
  while (phase < -HAIR) {
    if (basket <= 1) return null;
    basket -= 1;
    phase += beatsOf(basket);
  }
  while (phase >= beatsOf(basket) - HAIR) {
    phase -= beatsOf(basket);
    basket += 1;
  }
  const hooks = hooksOf(basket);
  const position = Math.max(0, Math.min(hooks, Math.floor(phase + (takes ? 0 : 0.5) + HAIR)));
  const last = position >= hooks;
  const last_phase = takes || position === 0 ? position : position - 0.5;
  const next_phase = last ? beatsOf(basket) : takes ? position + 1 : position + 0.5;
  return {
    basket,
    position,
    hooks,
    next: last ? 'float' : 'hook',
    next_in_s: Math.max(0, next_phase - phase) * anchor.beat_s,
    interval_s: (next_phase - last_phase) * anchor.beat_s,
    hooks_to_float: hooks - position,
    stopped: stops.some((stop) => stop.from_ms <= at_ms && (stop.to_ms === null || at_ms < stop.to_ms)),
  };
}

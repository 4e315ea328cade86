// The running count at the rail: by the pace of the floats before, standing while the hauler stands.
//
// Of m branch lines between two floats the i-th comes up at i/(m + 1) of the time, the hauler's stops taken out; so one
// branch line takes that time ÷ (m + 1). How far the paces of the last stretches lie apart makes the ±.
import { type Fact, type HaulLog, number, type Part } from './log.ts';

/** A time in which the hauler stands; `to_ms` null while it lasts. */
export interface Stop {
  from_ms: number;
  to_ms: number | null;
}

export function stopsOf(facts: readonly Fact[]): Stop[] {
  const stops: Stop[] = [];
  for (const fact of facts) {
    const open = stops.at(-1);
    if (fact.kind === 'hauler_stopped' && (!open || open.to_ms !== null)) stops.push({ from_ms: fact.at_ms, to_ms: null });
    if (fact.kind === 'hauler_started' && open && open.to_ms === null) open.to_ms = fact.at_ms;
  }
  return stops;
}

/** Milliseconds between two moments in which the hauler ran. */
export function running(stops: readonly Stop[], from_ms: number, to_ms: number): number {
  const stood = stops.reduce((sum, stop) => sum + Math.max(0, Math.min(to_ms, stop.to_ms ?? to_ms) - Math.max(from_ms, stop.from_ms)), 0);
  return to_ms - from_ms - stood;
}

/** Stretches that make the pace. */
const LAST = 5;
/** Common practice, no source: the share by which a count from one stretch alone, or from an earlier part, may be off. */
const ONE_STRETCH = 0.2;
const LEAST = 0.05;
const MOST = 0.5;

export interface Pace {
  line_ms: number;
  /** Share by which it may be off. */
  share: number;
}

/** The pace of a part's last stretches; of the part before while this one has none. */
export function paceOf(parts: readonly Part[]): Pace | null {
  for (const part of parts.toReversed()) {
    const done = part.stretches
      .filter((stretch) => stretch.to && !stretch.unhauled_start && stretch.seen.length > 0)
      .slice(-LAST)
      .map((stretch) => ({ ms: running(part.stops, stretch.from_ms, stretch.to!.at_ms), lines: stretch.seen.length + 1 }))
      .filter((one) => one.ms > 0);
    if (done.length === 0) continue;
    const line_ms = done.reduce((sum, one) => sum + one.ms, 0) / done.reduce((sum, one) => sum + one.lines, 0);
    const paces = done.map((one) => one.ms / one.lines);
    const apart = (Math.max(...paces) - Math.min(...paces)) / 2 / line_ms;
    return { line_ms, share: done.length === 1 ? ONE_STRETCH : Math.min(MOST, Math.max(LEAST, apart)) };
  }
  return null;
}

export interface Count {
  /** Branch lines up since the last float; null where neither a hand nor a pace says. */
  count: number | null;
  /** How many it may be off; 0: counted. */
  uncertainty: number;
  /** The hauler stands. */
  standing: boolean;
  /** All that hang before the next float should be up. */
  float_due: boolean;
}

/** The count at a moment. */
export function countAt(log: HaulLog, at_ms: number): Count {
  const parts = log.parts();
  const part = log.part();
  const stretch = part?.stretches.at(-1);
  if (!part || !stretch) return { count: null, uncertainty: 0, standing: false, float_due: false };
  const standing = part.stops.some((stop) => stop.from_ms <= at_ms && (stop.to_ms === null || at_ms < stop.to_ms));
  let from = { count: 0, at_ms: stretch.from_ms };
  for (const fact of stretch.facts) {
    const exact = fact.kind === 'hooks_counted' ? number(fact.data['count']) : (number(fact.data['uncertainty_hooks']) ?? 0) > 0 ? null : number(fact.data['count_since_float']);
    if (exact !== null && fact.at_ms <= at_ms) from = { count: exact, at_ms: fact.at_ms };
  }
  const pace = paceOf(parts);
  const most = log.linesToNext();
  // The part begins at a float that is still to come: nothing is counted before it is up.
  if (most === 0 && from.count === 0 && log.expected() !== null) return { count: null, uncertainty: 0, standing, float_due: false };
  if (!pace) return { count: from.count > 0 ? from.count : null, uncertainty: 0, standing, float_due: false };
  const since = Math.max(0, Math.floor(running(part.stops, from.at_ms, at_ms) / pace.line_ms + 1e-9));
  const count = Math.max(from.count, Math.min(most, from.count + since));
  const uncertainty = since === 0 && from.count > 0 ? 0 : Math.max(1, Math.round(since * pace.share));
  return { count, uncertainty: Math.min(uncertainty, Math.max(1, most)), standing, float_due: count >= most && since > 0 };
}

/** When all will be up if it goes on as so far in this part, stops and all; null where that is not known. */
export function endAt(log: HaulLog, at_ms: number): { at_ms: number; uncertainty_ms: number } | null {
  const part = log.part();
  const pace = paceOf(log.parts());
  if (!part || !pace) return null;
  const stretches = part.stretches.filter((stretch) => stretch.to && !stretch.unhauled_start);
  const [first, last] = [stretches[0], stretches.at(-1)];
  if (!first || !last) return null;
  const lines = stretches.reduce((sum, stretch) => sum + stretch.seen.length + 1, 0);
  const line_ms = (last.to!.at_ms - first.from_ms) / lines;
  const { in_water } = log.toGo();
  const floats = log.line.places.length - log.hauled().size - log.missing().size;
  // Of those in the water some are up by the pace.
  const here = Math.max(0, (countAt(log, at_ms).count ?? 0) - log.upHere().length);
  const left_ms = Math.max(0, in_water + Math.max(0, floats) - here) * line_ms;
  return { at_ms: at_ms + left_ms, uncertainty_ms: left_ms * Math.max(0.1, pace.share) };
}

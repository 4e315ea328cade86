// The strip as the rail has it before the ship does: what came up by the small projection is shown as hauled, and the
// arrow stands at the last float. The geometry stays the ship's own.
import type { Strip } from '../draw/strip.ts';
import type { HaulLog } from './log.ts';

export function stripAtRail(strip: Strip, log: HaulLog): Strip {
  const part = log.part();
  const last = log.lastFloat();
  if (!part || !last) return strip;
  const up = log.basketsUp();
  const fresh = new Set(strip.arcs.filter((arc) => arc.state === 'in_water' && up.get(arc.basket) === 'up').map((arc) => arc.basket));
  const at = strip.floats.find((float) => float.place === last.place)?.at ?? strip.haul?.at;
  const haul = at === undefined ? strip.haul : { at, towards: part.step < 0 ? ('first' as const) : ('last' as const) };
  if (fresh.size === 0 && haul?.at === strip.haul?.at) return strip;
  const bars = [...fresh].map((basket) => {
    const along = strip.arcs.filter((arc) => arc.basket === basket).flatMap((arc) => arc.points.map((point) => point[0]!));
    return [Math.min(...along), Math.max(...along)];
  });
  return { ...strip, haul, arcs: strip.arcs.map((arc) => (fresh.has(arc.basket) ? { ...arc, state: 'hauled' as const } : arc)), hauled_bars: [...strip.hauled_bars, ...bars] };
}

// The one sentence of a screen, what follows, and what it costs or rests on.
import { ship } from '../ship.svelte.ts';
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

export function sentences(): Told {
  const due = ship.due;
  return { now: now(), next: next(), costs: costs(), advice: '' };

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
    return due.hooks_to_float === 0 ? say('next-float-now', { float }) : say('next-float', { float, hooks: due.hooks_to_float });
  }

  function costs(): string {
    if (!ship.setting) return '';
    const said: string[] = [];
    // The last basket that is wholly in the water and has a depth: never without its band.
    const hung = ship.baskets.findLast((row) => row.deepest_m != null && row.band_m != null && row.basket < (due?.basket ?? Infinity));
    if (hung) said.push(say('rests-basket', { basket: hung.basket, deep: words.number(hung.deepest_m!), band: words.band(hung.band_m!) }));
    if (hung?.sag_ratio != null) said.push(say('rests-sag', { sag: words.number(hung.sag_ratio, 2), basis: say(`basis-${hung.sag_basis === 'measured' ? 'measured' : 'plan'}`) }));
    const shooter = ship.log.shooter_m_s();
    if (shooter !== null) said.push(say('rests-shooter', { speed: words.number(shooter, 1) }));
    return said.join(' ');
  }
}

/** The figures under the sentence: a name and a number each. */
export function figures(): Figure[] {
  const found: Figure[] = [];
  const add = (name: string, value: string | null, doubt = false) => value !== null && found.push({ name: say(name), value, doubt });
  if (!ship.setting || ship.head?.id !== ship.setting) return found;
  add('figure-hooks', words.number(ship.head.hooks_set));
  const bin = ship.log.bin();
  add('figure-bin', bin);
  add('figure-buoy', ship.log.buoys().at(-1)?.buoy ?? null);
  return found;
}

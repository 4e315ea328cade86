// The one sentence of a screen, what follows, and what it rests on.
import { ship } from '../ship.svelte.ts';
import { say, words } from '../words/words.svelte.ts';

export function sentences(): { now: string; next: string; rests: string } {
  const due = ship.due;
  return { now: now(), next: next(), rests: rests() };

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

  function rests(): string {
    const said: string[] = [];
    if (ship.head && ship.setting === ship.head.id) said.push(say('rests-set', { hooks: words.number(ship.head.hooks_set), baskets: ship.head.baskets }));
    // The last basket that is wholly in the water and has a depth: never without its band.
    const hung = ship.baskets.findLast((row) => row.deepest_m != null && row.band_m != null && row.basket < (due?.basket ?? Infinity));
    if (hung && ship.setting) said.push(say('rests-basket', { basket: hung.basket, deep: words.number(hung.deepest_m!), band: words.number(hung.band_m!) }));
    if (hung?.sag_ratio != null && ship.setting) said.push(say('rests-sag', { sag: words.number(hung.sag_ratio, 2), basis: say(`basis-${hung.sag_basis === 'measured' ? 'measured' : 'plan'}`) }));
    const shooter = ship.log.shooter_m_s();
    if (shooter !== null && ship.setting) said.push(say('rests-shooter', { speed: words.number(shooter, 1) }));
    return said.join(' ');
  }
}

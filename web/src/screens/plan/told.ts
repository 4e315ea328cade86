// What the plan's screen says of the basket that would hang: one sentence, what follows, what it rests on.
import { plans } from '../../plan/plans.svelte.ts';
import { runs } from '../../plan/store.ts';
import type { Doubt } from '../../plan/types.ts';
import { say, words } from '../../words/words.svelte.ts';
import { course } from './shown.ts';

export function told(): { now: string; next: string; doubts: Doubt[] } {
  const { planned, problem, stretch, plan } = plans;
  const doubts = [...(planned?.warnings ?? []), ...(planned?.doubts ?? []), ...(stretch?.doubts ?? []), ...(planned?.setting.doubts ?? [])];
  const unlike = doubts.filter((doubt, at) => doubts.findIndex((one) => one.text === doubt.text) === at);
  if (!planned) return { now: say(plans.ready ? (problem ? 'told-nothing' : 'told-asking') : 'told-asking'), next: problem ? problemSaid() : plans.thin ? say('told-thin') : '', doubts: [] };
  return { now: now(), next: problem ? `${problemSaid()} ${say('told-older')}` : next(), doubts: unlike };

  function problemSaid(): string {
    return problem?.problem || say(problem?.status === 0 ? 'told-no-answer' : 'told-refused');
  }

  function now(): string {
    if (!stretch || stretch.deepest_m == null) return say('told-no-depth');
    const deepest = say(stretch.deepest_band_m == null ? 'told-deepest-bare' : 'told-deepest', { depth: words.number(stretch.deepest_m), band: words.number(stretch.deepest_band_m ?? 0) }).replace(/ (?=±|\d|m\b)|(?<=±) /g, '\u00a0');
    if (!plan?.wanted.layer_m || stretch.in_layer == null) return `${deepest} ${say('told-no-layer')}`;
    const of = { part: words.number(stretch.in_layer), all: words.number(stretch.hooks ?? 0), which: runs(stretch.in_layer_positions, say('told-to')) };
    return `${say(stretch.in_layer === 0 ? 'told-none-in' : stretch.in_layer === stretch.hooks ? 'told-all-in' : 'told-in', of)} ${deepest}`;
  }

  function next(): string {
    const said: string[] = [];
    if (plans.thin && stretch?.deepest_m == null) said.push(say('told-thin'));
    if (stretch?.mostly) said.push(say(`told-mostly-${stretch.mostly}`));
    if (stretch?.deepest_m != null && stretch.in_current === false) said.push(say('told-still'));
    for (const other of planned?.stretches ?? []) {
      if (other === stretch || other.in_layer == null) continue;
      said.push(say('told-leg', { leg: other.leg, course: other.course_deg_true == null ? '?' : course(other.course_deg_true), part: words.number(other.in_layer), all: words.number(other.hooks ?? 0) }));
    }
    const daylight = planned?.totals.hooks_by_daylight;
    if (daylight != null) said.push(say('told-daylight', { hooks: words.number(daylight) }));
    return said.join(' ');
  }
}

/** The order for the stern, as pieces that are joined by dots. */
export function order(): string {
  const line = plans.planned?.order;
  if (!line) return '';
  const pieces: string[] = [];
  // A line is broken between the pieces, never within one.
  const whole = (text: string) => text.replace(/ /g, '\u00a0');
  const add = (id: string, value: number | null | undefined, digits: number) => value != null && pieces.push(whole(say(id, { value: words.number(value, digits) })));
  add('order-ship', line.ship_kn, 1);
  if (line.shooter_m_s != null) pieces.push(whole(say('order-shooter', { speed: words.number(line.shooter_m_s, 1), minute: words.number(line.shooter_m_min ?? 0) })));
  add('order-beat', line.beat_s, 1);
  add('order-hooks', line.hooks_per_basket, 0);
  add('order-float-line', line.float_line_m, Number.isInteger(line.float_line_m ?? 0) ? 0 : 1);
  add('order-branch-line', line.branch_line_m, Number.isInteger(line.branch_line_m ?? 0) ? 0 : 1);
  return pieces.join('\u00a0· ');
}

// The sentences of the Soak screen: when to leave and for what, where it will lie, what that rests on.
import { clock, date } from '../words/shown.ts';
import { position } from '../words/position.ts';
import { say, words } from '../words/words.svelte.ts';
import type { EndPlan, Ends } from './ends.svelte.ts';

const NMI_M = 1852;

/** 6 h 05. */
export function hours(seconds_s: number): string {
  const minutes = Math.round(seconds_s / 60);
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, '0')}`;
}

/** 13:30, with its date where that is not today's. */
export function moment(utc: string, offset_min: number, now_ms: number): string {
  const ms = Date.parse(utc);
  const day = date(ms, offset_min);
  return day === date(now_ms, offset_min) ? clock(ms, offset_min) : `${day} ${clock(ms, offset_min)}`;
}

export const nmi = (m: number) => words.number(m / NMI_M, m < 10 * NMI_M ? 1 : 0);
export const bearing = (deg: number) => `${String(Math.round(deg) % 360).padStart(3, '0')}°`;

/** Shorter than this is at once, milliseconds. */
const AT_ONCE_MS = 120_000;

export function told(plan: EndPlan, ends: Ends, speed_kn: number, offset_min: number, now_ms: number): { now: string; next: string; doubts: string[] } {
  const at = (utc: string) => moment(utc, offset_min, now_ms);
  const at_once = Date.parse(plan.leave_at) - now_ms < AT_ONCE_MS;
  const now = at_once ? say('soak-leave-now', { buoy: plan.buoy.buoy }) : say('soak-leave', { time: at(plan.leave_at), buoy: plan.buoy.buoy });
  const next = say('soak-lies', {
    time: at(plan.starts_at),
    place: position(plan.buoy.latitude_deg, plan.buoy.longitude_deg),
    band: nmi(plan.buoy.radius_95_m),
    miles: nmi(plan.distance_m),
    bearing: bearing(plan.bearing_deg_true),
    steam: hours(plan.steam_s),
    speed: words.number(speed_kn, 1),
  });
  const said = [say('soak-call', { time: at(plan.call_at) }), ...plan.buoy.doubts.map((doubt) => doubt.text), ...ends.doubts.map((doubt) => doubt.text)];
  return { now, next, doubts: said };
}

// How the plan's values are written.
import { clock, date } from '../../words/shown.ts';
import { say, words } from '../../words/words.svelte.ts';

/** 052°. */
export const course = (value: number): string => `${String(Math.round(value + 360) % 360).padStart(3, '0')}°`;

/** 9 or 0.8 nautical miles, without the unit. */
export const nauticalMiles = (value_m: number): string => words.number(value_m / 1852, Math.abs(value_m) < 18_520 ? 1 : 0);

export const kilometres = (value_m: number): string => words.number(value_m / 1000, Math.abs(value_m) < 9_950 ? 1 : 0);

/** 5 h 03. */
export function lasting(value_s: number): string {
  const minutes = Math.round(value_s / 60);
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, '0')}`;
}

/** Weekday, day and hour of ship time, short: Wed 25 21:00. */
export function soon(iso: string, offset_min: number): string {
  const ms = Date.parse(iso);
  const day = new Intl.DateTimeFormat(words.tag === 'en' ? 'en-GB' : words.tag, { weekday: 'short', day: 'numeric', timeZone: 'UTC' }).format(new Date(ms + offset_min * 60_000));
  return `${day} ${clock(ms, offset_min)}`;
}

/** The hour in ship time, with the date where it is another one than that looked from. */
export function hour(iso: string | null | undefined, offset_min: number, from?: string | null): string {
  const ms = iso ? Date.parse(iso) : NaN;
  if (Number.isNaN(ms)) return say('plan-unknown');
  const day = (at: number) => Math.floor((at + offset_min * 60_000) / 86_400_000);
  return from && day(Date.parse(from)) === day(ms) ? clock(ms, offset_min) : `${date(ms, offset_min)} ${clock(ms, offset_min)}`;
}

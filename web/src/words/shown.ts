// How times and ages are written.
import { words } from './words.svelte.ts';

const two = (value: number) => String(value).padStart(2, '0');

/** 05:14 of a zone that is so many minutes ahead of UTC. */
export function clock(ms: number, offset_min: number, seconds = false): string {
  const at = new Date(ms + offset_min * 60_000);
  return `${two(at.getUTCHours())}:${two(at.getUTCMinutes())}${seconds ? `:${two(at.getUTCSeconds())}` : ''}`;
}

/** Formats are dear to make, and the clock asks ten times a second. */
const days = new Map<string, Intl.DateTimeFormat>();

/** Wed 4 Mar. */
export function date(ms: number, offset_min: number): string {
  const tag = words.tag === 'en' ? 'en-GB' : words.tag;
  const format = days.get(tag) ?? new Intl.DateTimeFormat(tag, { weekday: 'short', day: 'numeric', month: 'short', timeZone: 'UTC' });
  days.set(tag, format);
  return format.format(new Date(ms + offset_min * 60_000));
}

/** 2 min 05 s. */
export function age(ms: number): string {
  const s = Math.max(0, Math.round(ms / 1_000));
  if (s < 60) return `${s} s`;
  if (s < 3_600) return `${Math.floor(s / 60)} min ${two(s % 60)} s`;
  return `${Math.floor(s / 3_600)} h ${two(Math.floor((s % 3_600) / 60))} min`;
}

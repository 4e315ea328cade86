// Plans in work as they are kept on this device: read whatever lies there, never thrown away for one bad field.
import { fixedOnly, type Follows, followsOf, paces, solvable } from './follow.ts';
import type { PlanWanted } from './types.ts';

export const letters = ['A', 'B', 'C'] as const;
export type Letter = (typeof letters)[number];

export interface Kept {
  letter: Letter;
  name: string;
  wanted: PlanWanted;
  /** The two paces that follow from the others. */
  follows: Follows;
  /** Which count is fixed; the other follows. */
  count: 'hooks' | 'baskets';
  /** The profile was typed or read here, and no event tells of it yet. */
  own_water: boolean;
}

export interface Stored {
  open: Letter;
  plans: Kept[];
}

const record = (value: unknown): value is Record<string, unknown> => typeof value === 'object' && value !== null && !Array.isArray(value);

/** A plan from what the ship offers to start from. */
export function keptOf(letter: Letter, wanted: PlanWanted, name = ''): Kept {
  const setting = record(wanted.setting) ? wanted.setting : {};
  const legs = Array.isArray(wanted.legs) && wanted.legs.length > 0 ? wanted.legs : [{ course_deg_true: 0, hooks: null }];
  return { letter, name, wanted: { ...wanted, setting, legs: lastTakesRest(legs) }, follows: followsOf(setting), count: setting.hooks == null && setting.baskets != null ? 'baskets' : 'hooks', own_water: false };
}

/** The last leg takes what the others leave. */
export function lastTakesRest(legs: PlanWanted['legs']): PlanWanted['legs'] {
  return legs.map((leg, at) => (at === legs.length - 1 ? { ...leg, hooks: null } : leg));
}

export function read(text: string | null): Stored | null {
  let found: unknown;
  try {
    found = JSON.parse(text ?? 'null');
  } catch {
    return null;
  }
  if (!record(found) || !Array.isArray(found['plans'])) return null;
  const plans: Kept[] = [];
  for (const one of found['plans'] as unknown[]) {
    if (!record(one) || !record(one['wanted'])) continue;
    const letter = letters.find((letter) => letter === one['letter']);
    if (!letter || plans.some((plan) => plan.letter === letter)) continue;
    const kept = keptOf(letter, one['wanted'] as unknown as PlanWanted, typeof one['name'] === 'string' ? one['name'].slice(0, 40) : '');
    const pair = one['follows'];
    if (Array.isArray(pair) && pair.length === 2 && pair.every((name) => (paces as readonly unknown[]).includes(name)) && solvable(pair as unknown as Follows)) kept.follows = pair as unknown as Follows;
    if (one['count'] === 'hooks' || one['count'] === 'baskets') kept.count = one['count'];
    kept.own_water = one['own_water'] === true;
    plans.push(kept);
  }
  if (plans.length === 0) return null;
  return { open: plans.find((plan) => plan.letter === found['open'])?.letter ?? plans[0]!.letter, plans };
}

export const write = (stored: Stored): string => JSON.stringify({ version: 1, ...stored });

/** The plan turned round: from its end back to its start. Courses and hooks of the legs in the opposite order. */
export function otherWay(wanted: PlanWanted, end: { latitude_deg: number; longitude_deg: number } | null, hooks_of_legs: readonly (number | null)[]): PlanWanted {
  const legs = wanted.legs.map((leg, at) => ({ course_deg_true: (leg.course_deg_true + 180) % 360, hooks: leg.hooks ?? hooks_of_legs[at] ?? null })).reverse();
  return { ...wanted, start: end ?? wanted.start ?? null, legs: lastTakesRest(legs) };
}

/** 6–20, or 1–3, 20–25. */
export function runs(positions: readonly number[], to: string): string {
  const said: string[] = [];
  for (let at = 0; at < positions.length; ) {
    let end = at;
    while (positions[end + 1] === positions[end]! + 1) end += 1;
    said.push(end > at ? `${positions[at]}${to}${positions[end]}` : `${positions[at]}`);
    at = end + 1;
  }
  return said.join(', ');
}

/** A part of the gear is sent only with the number that it cannot do without. */
const NEEDED = { main_line: 'diameter_mm', branch: 'weight_in_water_n', float_line: 'diameter_mm' } as const;

const isEmpty = (value: unknown): boolean => value === null || value === undefined || value === '';

/** What is sent of a plan: what is fixed, without empty fields and half-described parts. */
export function sent(plan: Kept, utc_offset_min: number | null): PlanWanted {
  const wanted: Record<string, unknown> = { ...plan.wanted, setting: fixedOnly(plan.wanted.setting, plan.follows, plan.count), utc_offset_min: utc_offset_min ?? plan.wanted.utc_offset_min ?? null };
  for (const [part, name] of Object.entries(NEEDED)) {
    if (!record(wanted[part]) || isEmpty(wanted[part][name])) delete wanted[part];
  }
  if (record(wanted['aboard'])) wanted['aboard'] = Object.fromEntries(Object.entries(wanted['aboard']).filter(([, value]) => !isEmpty(value)));
  return Object.fromEntries(Object.entries(wanted).filter(([, value]) => !isEmpty(value))) as unknown as PlanWanted;
}

/** Hooks that a stretch takes. */
export const hooksOf = (stretch: { from_hook?: number | null; to_hook?: number | null } | undefined): number | null =>
  stretch?.from_hook == null || stretch.to_hook == null ? null : stretch.to_hook - stretch.from_hook + 1;

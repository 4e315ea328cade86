// Which values of the pace follow from the others.
//
// Five numbers hang together by two relations: ship's speed = sag ratio × shooter speed, and clip spacing = shooter
// speed × beat. Three are fixed by the user, two follow; the ship works them out. Here only is decided which are sent.
import type { SettingWanted } from './types.ts';

export const paces = ['vessel_speed_through_water_kn', 'shooter_speed_m_s', 'sag_ratio', 'beat_s', 'clip_spacing_m'] as const;
export type Pace = (typeof paces)[number];
/** The two that follow, the older choice first. */
export type Follows = readonly [Pace, Pace];

/** A pair that leaves both relations solvable: not both of one relation's own values. */
export function solvable(pair: Follows): boolean {
  const has = (...all: Pace[]) => all.every((one) => pair.includes(one));
  return pair[0] !== pair[1] && !has('vessel_speed_through_water_kn', 'sag_ratio') && !has('beat_s', 'clip_spacing_m');
}

/** Lets a value follow; another one that followed is fixed instead, the older choice where there is one. */
export function letFollow(follows: Follows, value: Pace): Follows {
  if (follows.includes(value)) return follows;
  const [older, newer] = follows;
  return [[newer, value] as const, [older, value] as const].find(solvable) ?? ['shooter_speed_m_s', value];
}

/** Fixes a value that followed; what follows instead is the one that was not asked for, so that the rest stands. */
export function fix(follows: Follows, value: Pace): Follows {
  if (!follows.includes(value)) return follows;
  const other = follows[0] === value ? follows[1] : follows[0];
  const instead = ([other, 'sag_ratio', 'beat_s', 'clip_spacing_m', 'shooter_speed_m_s', 'vessel_speed_through_water_kn'] as const)
    .map((one): Follows => [other, one])
    .find((pair) => pair[1] !== value && solvable(pair));
  return instead ?? follows;
}

/** What is sent of the setting: the fixed values only, and of hooks and baskets the one that is fixed. */
export function fixedOnly(setting: SettingWanted, follows: Follows, count: 'hooks' | 'baskets'): SettingWanted {
  const sent: SettingWanted = {};
  for (const [name, value] of Object.entries(setting) as [keyof SettingWanted, never][]) {
    const derived = (follows as readonly string[]).includes(name) || (name === 'hooks' && count === 'baskets') || (name === 'baskets' && count === 'hooks');
    if (!derived && value != null) sent[name] = value;
  }
  return sent;
}

/** Which two should follow where the values come from somewhere else: those that are not given, else sag ratio and spacing. */
export function followsOf(setting: SettingWanted): Follows {
  const absent = (['sag_ratio', 'clip_spacing_m', 'beat_s', 'shooter_speed_m_s', 'vessel_speed_through_water_kn'] as const).filter((name) => setting[name] == null);
  const usual: Follows = ['sag_ratio', 'clip_spacing_m'];
  if (absent.length === 0) return usual;
  for (const one of absent) {
    for (const other of [...absent, ...usual, 'shooter_speed_m_s' as const]) {
      if (solvable([one, other])) return [one, other];
    }
  }
  return usual;
}

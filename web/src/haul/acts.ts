// What the keys at the rail do: each a fact, kept on this device before anything is said of it.
import { ship } from '../ship.svelte.ts';
import { haul } from './haul.svelte.ts';
import { asData, opensCard } from './species.ts';

type Data = Record<string, unknown>;

async function tell(kind: string, data: Data, part: string | null = haul.part?.id ?? null): Promise<string | null> {
  return ship.keep({ kind, data, set: haul.set, haul: part });
}

/** A haul part begins at a place. */
export async function start(direction: 'to_first' | 'to_last', from_place: number): Promise<void> {
  const buoy = haul.buoyOf(from_place);
  await tell('haul_started', buoy === null ? { direction, from_place } : { direction, from_place, buoy }, null);
}

export async function end(reason: 'all_up' | 'parted' | 'left_in_water' | 'given_up'): Promise<void> {
  await tell('haul_ended', { reason });
}

/** The float expected, or another place; a buoy that hangs in a float's place is that place's haul. */
export async function float(place: number, tag?: string): Promise<void> {
  const buoy = tag === undefined ? haul.buoyOf(place) : null;
  if (buoy !== null) return void (await tell('radio_buoy_recovered', { buoy, place }));
  const painted = tag ?? haul.tagOf(place);
  await tell('float_hauled', painted === null ? { place } : { place, tag: painted });
}

/** A tag read off a float that was not the one expected; where no place is known to bear it, it is the one expected. */
export async function tagged(tag: string): Promise<void> {
  const place = haul.placeOf(tag) ?? haul.expected;
  if (place === null) await tell('float_hauled', { tag });
  else await float(place, tag);
}

export const buoy = (name: string) => tell('radio_buoy_recovered', { buoy: name });

export async function missing(): Promise<void> {
  if (haul.expected !== null) await tell('float_missing', { place: haul.expected });
}

export const hauler = () => tell(haul.standing ? 'hauler_started' : 'hauler_stopped', {});

let counted: { id: string; after: number | null; at_ms: number } | null = null;
/** So long after a tap on − or + a further one mends that count, and makes no other. */
const SAME_COUNT_MS = 8_000;

/** Sets the count right. What was said a moment ago, or was too high, is mended: a count never goes back by itself. */
export async function countIs(count: number): Promise<void> {
  const after = haul.last?.place ?? null;
  const high = counted !== null && counted.after === after && count < (haul.count.count ?? 0);
  if (counted && counted.after === after && (ship.now_ms - counted.at_ms < SAME_COUNT_MS || high)) {
    counted.at_ms = ship.now_ms;
    await ship.keep({ kind: 'amended', data: { target: counted.id, data: { count }, happened_at: ship.byDevice(ship.now_ms), why: 'count' }, set: haul.set, haul: haul.part?.id ?? null });
    return;
  }
  const id = await tell('hooks_counted', { count });
  if (id) counted = { id, after, at_ms: ship.now_ms };
}

export async function countBy(change: number): Promise<void> {
  await countIs(Math.max(0, Math.min(haul.lines, (haul.count.count ?? 0) + change)));
}

/** Where the count stands now, as a rail event bears it. */
function here(): Data {
  const { count, uncertainty } = haul.count;
  return count === null ? {} : { count_since_float: Math.max(1, count), uncertainty_hooks: uncertainty };
}

/** What came up, stored at the first tap. An animal that goes free is stored as let go until somebody says otherwise. */
export const landed = (species: string) => tell('landed', { ...asData(species), ...here(), ...(opensCard(species) ? { fate: 'released' } : {}) });
export const lost = () => tell('lost_at_rail', here());
export const bitten = () => tell('bitten', here());

/** What was said of it afterwards; the fields given stand, one by one. */
export const measured = (fish: string, data: Data) => tell('fish_measured', { fish, ...data });

/** A bitten fish's own words are no measures: its event is mended as a whole. */
export async function bittenBy(fish: string, data: Data): Promise<void> {
  const was = haul.entries.find((entry) => entry.id === fish)?.data ?? {};
  const own = Object.fromEntries(['species', 'count_since_float', 'uncertainty_hooks', 'by', 'kept'].flatMap((field) => (was[field] == null ? [] : [[field, was[field]]])));
  await tell('amended', { target: fish, data: { ...own, ...data }, why: 'answer' });
}

export const freed = (fish: string, data: Data) => tell('released', { fish, ...data });

export async function branchLine(cause: 'bitten' | 'broken' | 'cut'): Promise<void> {
  const { count, uncertainty } = haul.count;
  await tell('branch_line_lost', uncertainty === 0 && count !== null && count > 0 ? { cause, count_since_float: count } : { cause });
}

export const tangle = (data: { from_place: number; to_place: number; branch_lines_saved: number; branch_lines_cut: number }) => tell('tangle', data);
export const gearLost = (from_place: number, to_place: number) => tell('gear_lost', { from_place, to_place });
export const gearFound = (from_place: number, to_place: number) => tell('gear_recovered', { from_place, to_place });

export const undo = (target: string) => tell('voided', { target, why: 'undo' });

/** Called at the rail, for all to see; of no set, so that every screen shows it. */
export const danger = () => ship.keep({ kind: 'danger_called', data: { what: 'shark' }, set: null });
export async function dangerOver(): Promise<void> {
  if (haul.danger) await ship.keep({ kind: 'danger_over', data: { target: haul.danger.id }, set: null });
}

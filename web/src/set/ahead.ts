// What the ship forecasts of the set that goes out, what is aboard, and the zones that were loaded: the parts of the
// ship's answers that the screens show.
import { look } from '../api/client.ts';
import type { Spot } from '../draw/sea.ts';

export interface Ahead {
  hooks_set: number;
  hooks_to_come: number | null;
  end_of_setting: { at: string; band_s: number } | null;
  pace: {
    shooter_speed_m_s: number | null;
    planned_shooter_speed_m_s: number | null;
    ship_speed_kn: number | null;
    speed_is_over_ground: boolean;
    planned_ship_speed_kn: number | null;
    sag_ratio: number | null;
    planned_sag_ratio: number | null;
    deepest_m: number | null;
    deepest_band_m: number | null;
    planned_deepest_m: number | null;
  } | null;
  suggestions: { kind: 'shooter_and_beat' | 'beat'; shooter_speed_m_s: number | null; shooter_speed_m_min: number | null; beat_s: number | null; sag_ratio: number | null; clip_spacing_m: number | null }[];
  stores: { what: 'main_line_m' | 'hooks_in_bins' | 'bait_pieces' | 'floats' | 'radio_buoys'; left: number | null; needed: number | null; left_at_end: number | null }[];
  daylight: { hooks_by_daylight: number; hooks_judged: number };
  zones: { name: string; line_so_far: Near | null; way_ahead: Near | null }[];
  warnings: { text?: string }[];
}

interface Near {
  least_distance_m: number;
  inside: boolean;
}

export interface PersonAboard {
  person: string;
  name: string | null;
  aboard: boolean;
}

export interface AsideEvent {
  id: string;
  device: string;
  device_seq: number;
  received_at: string;
  reason: string;
  against_ship_seq: number;
  event: { kind?: string; happened_at?: string } | null;
  against: { kind?: string; happened_at?: string; device?: string } | null;
}

export interface Zone {
  name: string;
  rings: Spot[][];
}

export const askAhead = (set: number): Promise<Ahead | null> => look<Ahead>(`/api/sets/${set}/ahead`);
export const askPeople = async (): Promise<PersonAboard[] | null> => (await look<{ people: PersonAboard[] }>('/api/people'))?.people ?? null;
export const askAside = async (): Promise<AsideEvent[] | null> => (await look<{ events: AsideEvent[] }>('/api/aside'))?.events ?? null;

/** The zones in use, as rings of places (RFC 7946: Polygon and MultiPolygon, longitude first). */
export async function askZones(): Promise<Zone[]> {
  const tables = await look<{ tables: { name: string; state?: string }[] }>('/api/tables/zones');
  const loaded = (tables?.tables ?? []).filter((table) => table.state === undefined || table.state === 'loaded');
  const files = await Promise.all(loaded.map((table) => look<unknown>(`/api/tables/zones/${encodeURIComponent(table.name)}`)));
  return files.flatMap((file, at) => zonesOf(file, loaded[at]!.name));
}

/** The zones of one GeoJSON file. */
export function zonesOf(file: unknown, name: string): Zone[] {
  const feature = file as { type?: string; features?: unknown[]; properties?: { name?: unknown } | null; geometry?: unknown; coordinates?: unknown } | null;
  if (feature?.type === 'FeatureCollection') return (feature.features ?? []).flatMap((one) => zonesOf(one, name));
  if (feature?.type === 'Feature') {
    const own = feature.properties?.name;
    return zonesOf(feature.geometry, typeof own === 'string' && own !== '' ? own : name);
  }
  const ring = (points: unknown): Spot[] => (points as [number, number][]).map(([longitude_deg, latitude_deg]) => ({ latitude_deg, longitude_deg }));
  if (feature?.type === 'Polygon') return [{ name, rings: (feature.coordinates as unknown[]).map(ring) }];
  if (feature?.type === 'MultiPolygon') return [{ name, rings: (feature.coordinates as unknown[][]).flat().map(ring) }];
  return [];
}

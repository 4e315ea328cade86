// What the plan's chart shows beside the plan: the last set's line, this trip's catches, zones. From the ship, seldom.
import type { Spot } from '../../draw/sea.ts';
import { askAny } from '../../plan/ask.ts';
import { ship } from '../../ship.svelte.ts';

type Geometry = { type: string; coordinates: unknown } | null;

const spot = ([longitude_deg, latitude_deg]: readonly number[]): Spot => ({ latitude_deg: latitude_deg ?? 0, longitude_deg: longitude_deg ?? 0 });

/** The lines of a GeoJSON geometry; the edges of its areas. */
export function linesOf(geometry: Geometry): Spot[][] {
  const { type, coordinates } = geometry ?? { type: '', coordinates: [] };
  const deep = (value: unknown, depth: number): number[][][] => (depth === 0 ? [value as number[][]] : (value as unknown[]).flatMap((one) => deep(one, depth - 1)));
  const levels = { LineString: 0, MultiLineString: 1, Polygon: 1, MultiPolygon: 2 }[type];
  return levels === undefined ? [] : deep(coordinates, levels).map((line) => line.map(spot));
}

interface Feature {
  geometry: Geometry;
  properties?: Record<string, unknown> | null;
}
const features = (found: unknown): Feature[] => (Array.isArray((found as { features?: unknown })?.features) ? (found as { features: Feature[] }).features : []);

class Around {
  last = $state.raw<Spot[][]>([]);
  last_number = $state<number | null>(null);
  catches = $state.raw<Spot[]>([]);
  private asked = '';

  /** Asks anew when there are more sets or fish than when it last asked. */
  async look(): Promise<void> {
    const sets = ship.voyage?.sets ?? [];
    const key = sets.map((set) => `${set.number}:${set.stage}:${set.fish}`).join(' ');
    if (key === '' || key === this.asked) return;
    this.asked = key;
    const catches: Spot[] = [];
    for (const set of sets) {
      const found = features(await askAny(`/api/sets/${set.number}/map`));
      if (set === sets.at(-1)) {
        this.last = found.filter((one) => one.properties?.['what'] === 'line_as_set').flatMap((one) => linesOf(one.geometry));
        this.last_number = set.number;
      }
      for (const one of found) {
        if (one.properties?.['what'] === 'fish' && one.geometry?.type === 'Point') catches.push(spot(one.geometry.coordinates as number[]));
      }
    }
    this.catches = catches;
  }
}

export const around = new Around();

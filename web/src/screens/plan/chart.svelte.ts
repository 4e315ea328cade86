// What the plan's chart shows beside the plan: the last set's line, this trip's catches, zones. From the ship, seldom.
import type { Spot } from '../../draw/sea.ts';
import { askAny } from '../../plan/ask.ts';
import { type Geometry, linesOf, shapes, spot } from '../../plan/geojson.ts';
import { ship } from '../../ship.svelte.ts';

interface Feature {
  geometry: Geometry;
  properties?: Record<string, unknown> | null;
}
const features = (found: unknown): Feature[] => (Array.isArray((found as { features?: unknown })?.features) ? (found as { features: Feature[] }).features : []);

class Around {
  last = $state.raw<Spot[][]>([]);
  last_number = $state<number | null>(null);
  catches = $state.raw<Spot[]>([]);
  /** Edges of the zones that the user loaded. */
  zones = $state.raw<Spot[][]>([]);
  private zones_asked = false;
  private asked = '';

  /** The zones, once for each opening of the page. */
  async lookForZones(): Promise<void> {
    if (this.zones_asked) return;
    this.zones_asked = true;
    const list = (await askAny('/api/tables/zones')) as { tables?: { name: string; state: string }[] } | null;
    if (list === null) this.zones_asked = false;
    const edges: Spot[][] = [];
    for (const table of list?.tables ?? []) {
      if (table.state === 'loaded') edges.push(...shapes(await askAny(`/api/tables/zones/${encodeURIComponent(table.name)}`)));
    }
    this.zones = edges;
  }

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

// The boat's table of targets: what it hopes to catch and between which depths, by its own word. From the ship's tables.
import { askAny } from '../../plan/ask.ts';

export interface Target {
  name: string;
  layer_m: [number, number] | null;
  source: string;
}

const record = (value: unknown): value is Record<string, unknown> => typeof value === 'object' && value !== null;
const number = (value: unknown): number | null => (typeof value === 'number' && Number.isFinite(value) ? value : null);

/** The rows of a table as the ship tells them, whichever of its usual wrappings it comes in. */
export function targetsOf(found: unknown): Target[] {
  const list = Array.isArray(found) ? found : record(found) ? (['rows', 'targets', 'items'].map((name) => found[name]).find(Array.isArray) ?? []) : [];
  return (list as unknown[]).flatMap((row): Target[] => {
    if (!record(row)) return [];
    const name = [row['name'], row['species'], row['target']].find((one): one is string => typeof one === 'string' && one !== '');
    if (!name) return [];
    const pair = Array.isArray(row['layer_m']) ? row['layer_m'] : [row['from_m'] ?? row['depth_from_m'], row['to_m'] ?? row['depth_to_m']];
    const [from, to] = [number(pair[0]), number(pair[1])];
    return [{ name, layer_m: from !== null && to !== null && from < to ? [from, to] : null, source: typeof row['source'] === 'string' ? row['source'] : '' }];
  });
}

class Targets {
  rows = $state.raw<Target[]>([]);
  private asked = false;

  async load(): Promise<void> {
    if (this.asked) return;
    this.asked = true;
    const found = await askAny('/api/tables/targets');
    this.rows = targetsOf(found);
    if (found === null) setTimeout(() => (this.asked = false), 10_000);
  }
}

export const targets = new Targets();

// The rows of the boat's tables of targets, as far as they can be read.
export interface Target {
  name: string;
  layer_m: [number, number] | null;
  source: string;
}

const record = (value: unknown): value is Record<string, unknown> => typeof value === 'object' && value !== null;
const number = (value: unknown): number | null => (typeof value === 'number' && Number.isFinite(value) ? value : null);

/** The rows of the tables that are loaded: `{rows: [{name, layer_m: [upper, lower], source}]}`; a row that is none is left out. */
export function targetsOf(found: unknown): Target[] {
  const rows = record(found) && Array.isArray(found['rows']) ? (found['rows'] as unknown[]) : [];
  return rows.flatMap((row): Target[] => {
    if (!record(row) || typeof row['name'] !== 'string' || row['name'] === '') return [];
    const [from, to] = Array.isArray(row['layer_m']) ? [number(row['layer_m'][0]), number(row['layer_m'][1])] : [null, null];
    return [{ name: row['name'], layer_m: from !== null && to !== null && from < to ? [from, to] : null, source: typeof row['source'] === 'string' ? row['source'] : '' }];
  });
}

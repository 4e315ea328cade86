// Lines and edges out of GeoJSON (RFC 7946): longitude first, areas as their rings.
import type { Spot } from '../draw/sea.ts';

export type Geometry = { type: string; coordinates: unknown } | null;

export const spot = ([longitude_deg, latitude_deg]: readonly number[]): Spot => ({ latitude_deg: latitude_deg ?? 0, longitude_deg: longitude_deg ?? 0 });

/** The lines of a GeoJSON geometry; the edges of its areas. */
export function linesOf(geometry: Geometry): Spot[][] {
  const { type, coordinates } = geometry ?? { type: '', coordinates: [] };
  const deep = (value: unknown, depth: number): number[][][] => (depth === 0 ? [value as number[][]] : (value as unknown[]).flatMap((one) => deep(one, depth - 1)));
  const levels = { LineString: 0, MultiLineString: 1, Polygon: 1, MultiPolygon: 2 }[type];
  return levels === undefined ? [] : deep(coordinates, levels).map((line) => line.map(spot));
}

/** The edges in a GeoJSON object of any kind. */
export function shapes(found: unknown): Spot[][] {
  const one = found as { type?: string; features?: unknown[]; geometry?: unknown; geometries?: unknown[]; coordinates?: unknown } | null;
  if (!one || typeof one !== 'object') return [];
  if (Array.isArray(one.features)) return one.features.flatMap(shapes);
  if (Array.isArray(one.geometries)) return one.geometries.flatMap(shapes);
  return one.geometry ? shapes(one.geometry) : typeof one.type === 'string' && Array.isArray(one.coordinates) ? linesOf(one as Geometry) : [];
}

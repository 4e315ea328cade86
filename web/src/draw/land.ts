// Land behind the line, from above: Natural Earth at 1:50 million (public domain), as the file land-50m.json of
// world-atlas 2.0.2 (licence ISC). A picture, not a chart: most atolls and all shoals are missing.
//
// Longitudes go to the projection as they are; it is turned so that the middle of the picture is its middle meridian,
// and cuts the land on the far side of the earth. Filled without a stroke: at 180° a stroke would draw the seam.
import { geoPath, geoProjection } from 'd3-geo';
import { feature } from 'topojson-client';
import type { Frame } from './sea.ts';

let land: ReturnType<typeof feature> | null = null;
let asked: Promise<boolean> | null = null;

/** Fetches the land once; false while the ship does not give it. The chart stands without it. */
export function loadLand(): Promise<boolean> {
  asked ??= fetch('/land-50m.json')
    .then((response) => (response.ok ? response.json() : Promise.reject(new Error(`HTTP ${response.status}`))))
    .then((topology) => takeLand(topology))
    .catch(() => {
      asked = null;
      return false;
    });
  return asked;
}

/** Takes the land from a topology. */
export function takeLand(topology: Parameters<typeof feature>[0]): boolean {
  land = feature(topology, topology.objects['land'] as Parameters<typeof feature>[1]);
  return true;
}

export const hasLand = (): boolean => land !== null;

/** The land of a frame as a path; draws into `ctx` where one is given, else gives the path's text. */
export function landPath(frame: Frame, width: number, height: number, ctx: CanvasRenderingContext2D | null): string | null {
  if (!land) return null;
  const cosine = Math.cos((frame.latitude_deg * Math.PI) / 180);
  const projection = geoProjection((lambda, phi) => [lambda * cosine, phi])
    .rotate([-frame.longitude_deg, 0])
    .center([0, frame.latitude_deg])
    .scale((frame.px_per_nmi * 60 * 180) / Math.PI)
    .translate([width / 2, height / 2])
    .precision(0)
    .clipExtent([[-20, -20], [width + 20, height + 20]]);
  const path = geoPath(projection, ctx);
  return path(land) ?? '';
}

let held: { key: string; canvas: HTMLCanvasElement } | null = null;

/** The land of a frame on a canvas of its own, made again only when the frame, the size or a colour changes. */
export function landLayer(frame: Frame, width: number, height: number, scale: number, colour: string): HTMLCanvasElement | null {
  if (!land) return null;
  const key = [frame.latitude_deg, frame.longitude_deg, frame.px_per_nmi, width, height, scale, colour].join('/');
  if (held?.key === key) return held.canvas;
  const canvas = document.createElement('canvas');
  canvas.width = Math.round(width * scale);
  canvas.height = Math.round(height * scale);
  const ctx = canvas.getContext('2d');
  if (!ctx) return null;
  ctx.scale(scale, scale);
  ctx.fillStyle = colour;
  ctx.beginPath();
  landPath(frame, width, height, ctx);
  ctx.fill();
  held = { key, canvas };
  return canvas;
}

// Paints the sea from above: land, meridians and parallels, the line as it went in, radio buoys, the ship, a bar of
// length. North is up. A picture, not a chart: it has no depths, and says that it is not for navigation.
//
// Longitudes come in [−180, 180) and are unwrapped here only. On a picture some tens of miles wide a degree of
// longitude is a degree of latitude times the cosine of the middle latitude; a minute of latitude is taken as one
// nautical mile.
import { font } from './font.ts';
import { graticule } from './graticule.ts';
import { Labels } from './labels.ts';
import { landLayer } from './land.ts';

export interface Spot {
  latitude_deg: number;
  longitude_deg: number;
}

export interface SeaWords {
  position: string;
  motion: string;
  not_for_navigation: string;
  unit: string;
}

/** Longitudes as one run without jumps: each within 180° of the one before. */
export function unwrap(longitudes_deg: readonly number[]): number[] {
  const run: number[] = [];
  for (const longitude of longitudes_deg) {
    const before = run.at(-1) ?? longitude;
    run.push(longitude + 360 * Math.round((before - longitude) / 360));
  }
  return run;
}

export interface Frame {
  /** Unwrapped middle. */
  latitude_deg: number;
  longitude_deg: number;
  px_per_nmi: number;
}

/** The frame that holds all spots, at least `least_nmi` wide. */
export function frameOf(spots: readonly Spot[], width: number, height: number, margin: number, least_nmi: number): Frame | null {
  if (spots.length === 0) return null;
  const longitudes = unwrap(spots.map((spot) => spot.longitude_deg));
  const latitudes = spots.map((spot) => spot.latitude_deg);
  const [west, east, south, north] = [Math.min(...longitudes), Math.max(...longitudes), Math.min(...latitudes), Math.max(...latitudes)];
  const latitude_deg = (south + north) / 2;
  const wide_nmi = Math.max(least_nmi, (east - west) * 60 * Math.cos((latitude_deg * Math.PI) / 180));
  const high_nmi = Math.max(least_nmi * 0.6, (north - south) * 60);
  const px_per_nmi = Math.min(Math.max(20, width - 2 * margin) / wide_nmi, Math.max(20, height - 2 * margin) / high_nmi);
  return { latitude_deg, longitude_deg: (west + east) / 2, px_per_nmi };
}

/** Where a spot lies on the canvas. */
export function placeOf(frame: Frame, spot: Spot, width: number, height: number): [number, number] {
  const east_deg = spot.longitude_deg - frame.longitude_deg - 360 * Math.round((spot.longitude_deg - frame.longitude_deg) / 360);
  const east_nmi = east_deg * 60 * Math.cos((frame.latitude_deg * Math.PI) / 180);
  return [width / 2 + east_nmi * frame.px_per_nmi, height / 2 - (spot.latitude_deg - frame.latitude_deg) * 60 * frame.px_per_nmi];
}

/** A round length that takes up to a third of the width. */
export function barOf(px_per_nmi: number, width: number): number {
  const most = width / 3 / px_per_nmi;
  const power = 10 ** Math.floor(Math.log10(most));
  return [5, 2, 1].map((one) => one * power).find((one) => one <= most) ?? power;
}

/** Whether a frame still shows all spots well: none near its edge, and not much wider than it need be. */
export function stillHolds(frame: Frame, spots: readonly Spot[], width: number, height: number, margin: number, wanted: Frame | null): boolean {
  if (!wanted || frame.px_per_nmi > wanted.px_per_nmi * 1.35 || frame.px_per_nmi < wanted.px_per_nmi / 1.9) return false;
  return spots.every((spot) => {
    const [x, y] = placeOf(frame, spot, width, height);
    return x >= margin && x <= width - margin && y >= margin && y <= height - margin;
  });
}

/** What is on the picture. */
export interface SeaPicture {
  /** The line as it went in. */
  line: readonly Spot[];
  /** The course to come. */
  to_come: readonly Spot[];
  buoys: readonly (Spot & { name: string })[];
  /** Rings of zones that the user loaded. */
  zones: readonly { name: string; rings: readonly (readonly Spot[])[] }[];
  ship: (Spot & { heading_deg_true: number | null }) | null;
}

/** Room above the picture for position and motion, pixels. */
export const SEA_HEAD = 58;

export function paintSea(ctx: CanvasRenderingContext2D, width: number, height: number, scale: number, frame: Frame | null, picture: SeaPicture, colour: (token: string) => string, words: SeaWords): void {
  ctx.fillStyle = colour('panel');
  ctx.fillRect(0, 0, width, height);
  const [body, labels] = [height - SEA_HEAD, new Labels({ x0: 0, y0: 0, x1: width, y1: height })];
  labels.block({ x0: 0, y0: 0, x1: width, y1: SEA_HEAD });
  // The keys for a wider and a closer picture.
  labels.block({ x0: width - 116, y0: height - 86, x1: width, y1: height });
  if (frame) {
    const at = (spot: Spot): [number, number] => {
      const [x, y] = placeOf(frame, spot, width, body);
      return [x, y + SEA_HEAD];
    };
    ctx.save();
    ctx.beginPath();
    ctx.rect(0, SEA_HEAD, width, body);
    ctx.clip();
    const layer = landLayer(frame, width, body, scale, colour('land'));
    if (layer) ctx.drawImage(layer, 0, SEA_HEAD, width, body);
    const grid = graticule(frame, width, body);
    ctx.strokeStyle = colour('edge');
    ctx.lineWidth = 1;
    for (const { px, at_deg } of grid.meridians) {
      // The 180th meridian is told by its form too.
      ctx.setLineDash(at_deg === -180 ? [3, 5] : []);
      ctx.globalAlpha = at_deg === -180 ? 0.9 : 0.3;
      stroke(ctx, px, SEA_HEAD, px, height);
    }
    ctx.setLineDash([]);
    ctx.globalAlpha = 0.3;
    for (const { px } of grid.parallels) stroke(ctx, 0, px + SEA_HEAD, width, px + SEA_HEAD);
    ctx.globalAlpha = 1;
    for (const zone of picture.zones) {
      ctx.strokeStyle = colour('doubt');
      ctx.lineWidth = 2;
      ctx.setLineDash([10, 4, 2, 4]);
      for (const ring of zone.rings) trace(ctx, ring, at, true);
      ctx.setLineDash([]);
    }
    labels.blockLine(picture.line.map(at));
    ctx.lineJoin = 'round';
    if (picture.to_come.length > 1) {
      ctx.strokeStyle = colour('soft');
      ctx.lineWidth = 2;
      ctx.setLineDash([5, 6]);
      trace(ctx, picture.to_come, at, false);
      ctx.setLineDash([]);
    }
    ctx.strokeStyle = colour('line');
    ctx.lineWidth = 3;
    trace(ctx, picture.line, at, false);
    if (picture.line.length < 60) for (const spot of picture.line) dot(ctx, ...at(spot), 3, colour('line'));
    if (picture.ship) ship(ctx, ...at(picture.ship), picture.ship.heading_deg_true, colour('lit'), labels);
    ctx.font = font(15, 700);
    for (const buoy of picture.buoys) {
      const [x, y] = at(buoy);
      ctx.strokeStyle = ctx.fillStyle = colour('ink');
      flag(ctx, x, y, labels);
      const room = ctx.measureText(buoy.name).width;
      write(ctx, labels, buoy.name, 15, [[x + 15, y - 8], [x - room - 6, y - 8], [x + 6, y + 16], [x - room - 6, y + 16]]);
    }
    // The bar's place and the word about navigation come before the labels of the grid, which step aside.
    labels.block({ x0: 0, y0: height - 30, x1: width, y1: height });
    ctx.font = font(15);
    ctx.fillStyle = colour('doubt');
    for (const zone of picture.zones) {
      const spots = zone.rings.flatMap((ring) => ring.map((spot) => at(spot))).filter(([x, y]) => x > 0 && x < width && y > SEA_HEAD && y < height);
      write(ctx, labels, zone.name, 15, spots.flatMap(([x, y]) => [[x + 6, y - 6], [x + 6, y + 18]] as const));
    }
    ctx.fillStyle = colour('soft');
    for (const { px, label } of grid.meridians) {
      const room = ctx.measureText(label).width;
      write(ctx, labels, label, 15, [[px + 4, height - 36], [px - room - 4, height - 36], [px + 4, SEA_HEAD + 18], [px - room - 4, SEA_HEAD + 18]]);
    }
    for (const { px, label } of grid.parallels) {
      const room = ctx.measureText(label).width;
      write(ctx, labels, label, 15, [[6, px + SEA_HEAD - 5], [6, px + SEA_HEAD + 17], [width - room - 6, px + SEA_HEAD - 5]]);
    }
    ctx.restore();
    const bar = barOf(frame.px_per_nmi, width);
    ctx.strokeStyle = colour('ink');
    ctx.lineWidth = 2;
    stroke(ctx, width - 14 - bar * frame.px_per_nmi, height - 9, width - 14, height - 9);
    ctx.fillStyle = colour('soft');
    ctx.font = font(15);
    ctx.textAlign = 'right';
    ctx.fillText(`${bar} ${words.unit}`, width - 14, height - 14);
    ctx.textAlign = 'left';
  }
  ctx.fillStyle = colour('ink');
  ctx.font = font(width < 300 ? 15 : 18, 700);
  ctx.fillText(words.position, 14, 24);
  ctx.fillStyle = colour('soft');
  ctx.font = font(15);
  ctx.fillText(words.motion, 14, 46);
  ctx.fillText(words.not_for_navigation, 14, height - 10);
}

/** Writes a text at the first free of some places, given as left ends of its base line; leaves it out where none is. */
function write(ctx: CanvasRenderingContext2D, labels: Labels, text: string, size_px: number, spots: readonly (readonly [number, number])[]): void {
  const width = ctx.measureText(text).width;
  const found = labels.place(width, size_px * 1.2, spots.map(([x, y]) => [x, y - size_px] as const));
  if (!found) return;
  ctx.textAlign = 'left';
  ctx.fillText(text, found[0], found[1] + size_px);
}

function stroke(ctx: CanvasRenderingContext2D, x0: number, y0: number, x1: number, y1: number): void {
  ctx.beginPath();
  ctx.moveTo(x0, y0);
  ctx.lineTo(x1, y1);
  ctx.stroke();
}

/** Traces spots; a step of more than half the earth is never drawn. */
function trace(ctx: CanvasRenderingContext2D, spots: readonly Spot[], at: (spot: Spot) => [number, number], close: boolean): void {
  ctx.beginPath();
  spots.forEach((spot, index) => (index === 0 ? ctx.moveTo(...at(spot)) : ctx.lineTo(...at(spot))));
  if (close) ctx.closePath();
  ctx.stroke();
}

function dot(ctx: CanvasRenderingContext2D, x: number, y: number, radius: number, colour: string): void {
  ctx.fillStyle = colour;
  ctx.beginPath();
  ctx.arc(x, y, radius, 0, 2 * Math.PI);
  ctx.fill();
}

function flag(ctx: CanvasRenderingContext2D, x: number, y: number, labels: Labels): void {
  ctx.lineWidth = 2;
  stroke(ctx, x, y, x, y - 18);
  ctx.beginPath();
  ctx.moveTo(x, y - 18);
  ctx.lineTo(x + 11, y - 13.5);
  ctx.lineTo(x, y - 9);
  ctx.fill();
  labels.block({ x0: x - 3, y0: y - 20, x1: x + 12, y1: y + 2 });
}

function ship(ctx: CanvasRenderingContext2D, x: number, y: number, heading_deg_true: number | null, colour: string, labels: Labels): void {
  labels.block({ x0: x - 14, y0: y - 14, x1: x + 14, y1: y + 14 });
  ctx.save();
  ctx.translate(x, y);
  ctx.fillStyle = colour;
  ctx.beginPath();
  if (heading_deg_true === null) {
    ctx.arc(0, 0, 7, 0, 2 * Math.PI);
  } else {
    ctx.rotate((heading_deg_true * Math.PI) / 180);
    for (const [px, py] of [[0, -15], [7, -5], [7, 10], [-7, 10], [-7, -5]] as const) ctx.lineTo(px, py);
  }
  ctx.fill();
  ctx.restore();
}

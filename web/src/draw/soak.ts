// Paints the line in the water: as it was set, where its radio buoys were heard last, where they will lie at the start
// of the haul with their bands, and the ship's way to the end that is chosen. Only places that the ship worked out.
import { font } from './font.ts';
import { graticule } from './graticule.ts';
import { Labels } from './labels.ts';
import { landLayer } from './land.ts';
import { barOf, type Frame, placeOf, type Spot } from './sea.ts';

export interface SoakPicture {
  as_set: readonly Spot[];
  /** In setting order. */
  buoys: readonly { name: string; age: string; silent: boolean; last: Spot; ahead: Spot; radius_nmi: number }[];
  ship: Spot | null;
  /** The buoy to steam to. */
  to: Spot | null;
}

export interface SoakWords {
  as_set: string;
  now: string;
  ahead: string;
  not_for_navigation: string;
  unit: string;
}

export function paintSoak(ctx: CanvasRenderingContext2D, width: number, height: number, scale: number, frame: Frame | null, picture: SoakPicture, colour: (token: string) => string, words: SoakWords): void {
  ctx.fillStyle = colour('panel');
  ctx.fillRect(0, 0, width, height);
  const labels = new Labels({ x0: 0, y0: 0, x1: width, y1: height });
  labels.block({ x0: 0, y0: height - 30, x1: width, y1: height });
  ctx.font = font(15);
  ctx.textAlign = 'left';
  if (frame) {
    const at = (spot: Spot) => placeOf(frame, spot, width, height);
    const layer = landLayer(frame, width, height, scale, colour('land'));
    if (layer) ctx.drawImage(layer, 0, 0, width, height);
    const grid = graticule(frame, width, height);
    ctx.strokeStyle = colour('edge');
    ctx.lineWidth = 1;
    for (const { px, at_deg } of grid.meridians) {
      ctx.setLineDash(at_deg === -180 ? [3, 5] : []);
      ctx.globalAlpha = at_deg === -180 ? 0.9 : 0.3;
      path(ctx, [[px, 0], [px, height]]);
    }
    ctx.setLineDash([]);
    ctx.globalAlpha = 0.3;
    for (const { px } of grid.parallels) path(ctx, [[0, px], [width, px]]);
    ctx.globalAlpha = 1;
    const [set, last, ahead] = [picture.as_set.map(at), picture.buoys.map((buoy) => at(buoy.last)), picture.buoys.map((buoy) => at(buoy.ahead))];
    for (const line of [set, last, ahead]) labels.blockLine(line);
    ctx.lineJoin = 'round';
    ctx.strokeStyle = colour('soft');
    ctx.lineWidth = 2;
    ctx.setLineDash([2, 5]);
    path(ctx, set);
    ctx.setLineDash([]);
    ctx.strokeStyle = colour('line');
    ctx.lineWidth = 3;
    path(ctx, last);
    ctx.strokeStyle = colour('lit');
    ctx.lineWidth = 2.5;
    ctx.setLineDash([9, 6]);
    path(ctx, ahead);
    ctx.setLineDash([]);
    ctx.lineWidth = 1.5;
    picture.buoys.forEach((buoy, index) => {
      ctx.beginPath();
      ctx.arc(...ahead[index]!, Math.max(3, buoy.radius_nmi * frame.px_per_nmi), 0, 2 * Math.PI);
      ctx.stroke();
    });
    if (picture.ship) {
      const here = at(picture.ship);
      if (picture.to) {
        ctx.strokeStyle = colour('ink');
        ctx.setLineDash([2, 6]);
        path(ctx, [here, at(picture.to)]);
        ctx.setLineDash([]);
      }
      ctx.fillStyle = colour('lit');
      ctx.beginPath();
      ctx.arc(...here, 7, 0, 2 * Math.PI);
      ctx.fill();
      labels.block({ x0: here[0] - 10, y0: here[1] - 10, x1: here[0] + 10, y1: here[1] + 10 });
    }
    picture.buoys.forEach((_, index) => {
      const [x, y] = last[index]!;
      ctx.strokeStyle = ctx.fillStyle = colour('ink');
      ctx.lineWidth = 2;
      path(ctx, [[x, y], [x, y - 18]]);
      ctx.beginPath();
      ctx.moveTo(x, y - 18);
      ctx.lineTo(x + 11, y - 13.5);
      ctx.lineTo(x, y - 9);
      ctx.fill();
      labels.block({ x0: x - 3, y0: y - 20, x1: x + 12, y1: y + 2 });
    });
    ctx.font = font(16, 700);
    picture.buoys.forEach((buoy, index) => {
      const [x, y] = last[index]!;
      const text = `${buoy.name} ${buoy.age}`;
      const room = ctx.measureText(text).width;
      ctx.fillStyle = colour(buoy.silent ? 'doubt' : 'ink');
      write(ctx, labels, text, 16, [[x + 16, y - 8], [x - room - 8, y - 8], [x + 8, y + 20], [x - room - 8, y + 20], [x + 16, y - 30], [x - room - 8, y - 30]]);
    });
    ctx.font = font(16);
    for (const [line, text, token] of [[set, words.as_set, 'soft'], [last, words.now, 'line'], [ahead, words.ahead, 'lit']] as const) {
      ctx.fillStyle = colour(token);
      const room = ctx.measureText(text).width;
      const spots = middles(line).flatMap(([x, y]) => [[x + 14, y - 12], [x - room - 14, y - 12], [x + 14, y + 26], [x - room - 14, y + 26]] as const);
      write(ctx, labels, text, 16, spots);
    }
    ctx.font = font(15);
    ctx.fillStyle = colour('soft');
    for (const { px, label } of grid.meridians) write(ctx, labels, label, 15, [[px + 4, height - 36], [px + 4, 18]]);
    for (const { px, label } of grid.parallels) write(ctx, labels, label, 15, [[6, px - 5], [6, px + 17], [width - 90, px - 5]]);
    const bar = barOf(frame.px_per_nmi, width);
    ctx.strokeStyle = colour('ink');
    ctx.lineWidth = 2;
    path(ctx, [[width - 14 - bar * frame.px_per_nmi, height - 9], [width - 14, height - 9]]);
    ctx.textAlign = 'right';
    ctx.fillText(`${bar} ${words.unit}`, width - 14, height - 14);
    ctx.textAlign = 'left';
  }
  ctx.font = font(15);
  ctx.fillStyle = colour('soft');
  ctx.fillText(words.not_for_navigation, 14, height - 10);
}

/** Places between the points of a line, the middle of it first. */
function middles(line: readonly (readonly [number, number])[]): [number, number][] {
  const found = line.slice(1).map(([x, y], index): [number, number] => [(x + line[index]![0]) / 2, (y + line[index]![1]) / 2]);
  const middle = (found.length - 1) / 2;
  return found.map((spot, index) => [spot, Math.abs(index - middle)] as const).sort((a, b) => a[1] - b[1]).map(([spot]) => spot);
}

function path(ctx: CanvasRenderingContext2D, points: readonly (readonly [number, number])[]): void {
  if (points.length < 2) return;
  ctx.beginPath();
  points.forEach(([x, y], index) => (index === 0 ? ctx.moveTo(x, y) : ctx.lineTo(x, y)));
  ctx.stroke();
}

function write(ctx: CanvasRenderingContext2D, labels: Labels, text: string, size_px: number, spots: readonly (readonly [number, number])[]): void {
  const found = labels.place(ctx.measureText(text).width, size_px * 1.2, spots.map(([x, y]) => [x, y - size_px] as const));
  if (found) ctx.fillText(text, found[0], found[1] + size_px);
}

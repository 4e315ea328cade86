// Paints the plan from above: its legs, start and end with their hours, radio buoys, the last set's line and this
// trip's catches, zones, the ship, a graticule with its numbers, a bar of length. North is up. A picture, not a chart.
import { font } from './font.ts';
import { graticule } from './graticule.ts';
import { Labels, type Point } from './labels.ts';
import { landLayer } from './land.ts';
import { barOf, type Frame, frameOf, placeOf, type Spot, unwrap } from './sea.ts';

export interface ChartTrack {
  letter: string;
  /** Start, turns and end. */
  spots: readonly Spot[];
  open: boolean;
}

export interface ChartPicture {
  tracks: readonly ChartTrack[];
  leg: number;
  buoys: readonly (Spot & { name: string })[];
  /** The last set's line, in pieces. */
  last: readonly (readonly Spot[])[];
  catches: readonly Spot[];
  /** Where the line comes nearest to each zone. */
  zones: readonly { name: string; near: Spot | null; words: string; inside: boolean }[];
  /** Edges of zones. */
  edges: readonly (readonly Spot[])[];
  ship: (Spot & { heading_deg_true: number | null }) | null;
  current: { towards_deg_true: number } | null;
}

export interface ChartWords {
  start: string;
  end: string;
  last: string;
  legs: readonly string[];
  not_for_navigation: string;
  current: string;
  unit: string;
}

/** A frame must not be drawn out to something more than so far from the plan. */
const NEAR_NMI = 90;

const far = (a: Spot, b: Spot): number => {
  const east = (((b.longitude_deg - a.longitude_deg + 540) % 360) - 180) * Math.cos((a.latitude_deg * Math.PI) / 180);
  return 60 * Math.hypot(east, b.latitude_deg - a.latitude_deg);
};

/** The frame of the picture: the plans, and of the rest what lies near them. */
export function chartFrame(picture: ChartPicture, width: number, height: number): Frame | null {
  const own = picture.tracks.flatMap((track) => track.spots);
  const anchor = own[0] ?? picture.ship ?? picture.last[0]?.[0];
  if (!anchor) return null;
  const rest = [...picture.last.flat(), ...(picture.ship ? [picture.ship] : []), ...picture.zones.flatMap((zone) => (zone.near ? [zone.near] : []))];
  const spots = [anchor, ...own, ...rest.filter((spot) => far(anchor, spot) < NEAR_NMI)];
  // Words stand beside the ends more than above them.
  return frameOf(spots, Math.max(160, width - 150), height, 34, 6);
}

/** What lies at a point of the picture. */
export function spotAt(frame: Frame, x: number, y: number, width: number, height: number): Spot {
  const latitude_deg = frame.latitude_deg - (y - height / 2) / (60 * frame.px_per_nmi);
  const east_deg = (x - width / 2) / (60 * frame.px_per_nmi * Math.cos((frame.latitude_deg * Math.PI) / 180));
  const longitude = frame.longitude_deg + east_deg;
  return { latitude_deg, longitude_deg: ((((longitude + 180) % 360) + 360) % 360) - 180 };
}

/** The direction on the picture from one spot to another, whole degrees true (of a Mercator-like picture: a rhumb line). */
export function bearingOf(from: Spot, to: Spot): number {
  const east = ((((to.longitude_deg - from.longitude_deg + 180) % 360) + 360) % 360) - 180;
  const mean = ((from.latitude_deg + to.latitude_deg) / 2) * (Math.PI / 180);
  const bearing = (Math.atan2(east * Math.cos(mean), to.latitude_deg - from.latitude_deg) * 180) / Math.PI;
  return Math.round(bearing + 360) % 360;
}

export function paintPlanChart(ctx: CanvasRenderingContext2D, width: number, height: number, picture: ChartPicture, scale: number, colour: (token: string) => string, words: ChartWords): void {
  const sea = colour('panel');
  ctx.fillStyle = sea;
  ctx.fillRect(0, 0, width, height);
  const labels = new Labels({ x0: 4, y0: 4, x1: width - 4, y1: height - 4 });
  const frame = chartFrame(picture, width, height);
  const write = (text: string, [x, y]: Point, tone: string) => {
    ctx.textAlign = 'left';
    ctx.textBaseline = 'top';
    ctx.lineWidth = 4;
    ctx.lineJoin = 'round';
    ctx.strokeStyle = sea;
    ctx.strokeText(text, x, y + 1);
    ctx.fillStyle = tone;
    ctx.fillText(text, x, y + 1);
    ctx.textBaseline = 'alphabetic';
  };
  const fixed = (text: string, x: number, y: number, size: number, weight: number, tone: string) => {
    ctx.font = font(size, weight);
    const room = ctx.measureText(text).width;
    labels.block({ x0: x - 4, y0: y - 2, x1: x + room + 4, y1: y + size + 4 });
    return () => {
      ctx.font = font(size, weight);
      write(text, [x, y], tone);
    };
  };
  // On a small picture what has no room is left out: it stands in words beside it.
  const roomy = height >= 180 && width >= 460;
  const later: (() => void)[] = [fixed(words.not_for_navigation, 12, height - 26, 15, 400, colour('soft'))];
  if (!frame) return later.forEach((one) => one());
  const at = (spot: Spot): Point => placeOf(frame, spot, width, height);
  const trace = (spots: readonly Spot[]) => {
    const longitudes = unwrap(spots.map((spot) => spot.longitude_deg));
    const first = at(spots[0]!);
    const scale = 60 * frame.px_per_nmi * Math.cos((frame.latitude_deg * Math.PI) / 180);
    const points = spots.map((spot, one): Point => [first[0] + (longitudes[one]! - longitudes[0]!) * scale, at(spot)[1]]);
    ctx.beginPath();
    points.forEach((point, one) => (one === 0 ? ctx.moveTo(...point) : ctx.lineTo(...point)));
    return points;
  };

  const land = landLayer(frame, width, height, scale, colour('land'));
  if (land) ctx.drawImage(land, 0, 0, width, height);
  // Corners that are taken before any label looks for a place.
  ctx.font = font(15);
  const bar = barOf(frame.px_per_nmi, width);
  labels.block({ x0: width - 20 - Math.max(60, bar * frame.px_per_nmi), y0: height - 42, x1: width, y1: height });
  later.push(...net(ctx, frame, width, height, colour, fixed));
  ctx.setLineDash([10, 4, 2, 4]);
  ctx.strokeStyle = colour('doubt');
  ctx.lineWidth = 2;
  for (const edge of picture.edges) {
    if (edge.length < 2) continue;
    labels.blockLine(trace(edge));
    ctx.stroke();
  }
  ctx.setLineDash([]);
  for (const piece of picture.last) {
    if (piece.length < 2) continue;
    labels.blockLine(trace(piece));
    ctx.strokeStyle = colour('edge');
    ctx.lineWidth = 3;
    ctx.stroke();
  }
  for (const spot of picture.catches) {
    const [x, y] = at(spot);
    ctx.beginPath();
    ctx.arc(x, y, 4, 0, 2 * Math.PI);
    ctx.fillStyle = colour('lit');
    ctx.fill();
    ctx.lineWidth = 1.5;
    ctx.strokeStyle = sea;
    ctx.stroke();
    labels.blockDisc(x, y, 4);
  }
  for (const track of picture.tracks.filter((one) => !one.open && one.spots.length > 1)) {
    labels.blockLine(trace(track.spots));
    ctx.setLineDash([2, 6]);
    ctx.strokeStyle = colour('soft');
    ctx.lineWidth = 2;
    ctx.stroke();
    ctx.setLineDash([]);
  }
  const open = picture.tracks.find((one) => one.open);
  const points = open && open.spots.length > 0 ? trace(open.spots) : [];
  if (points.length > 1) {
    labels.blockLine(points);
    for (let leg = 0; leg + 1 < points.length; leg++) {
      ctx.beginPath();
      ctx.moveTo(...points[leg]!);
      ctx.lineTo(...points[leg + 1]!);
      ctx.setLineDash([12, 7]);
      ctx.strokeStyle = colour('line');
      ctx.lineWidth = leg === picture.leg && points.length > 2 ? 6 : 4;
      ctx.stroke();
      ctx.setLineDash([]);
    }
  }
  for (const buoy of picture.buoys) {
    const [x, y] = at(buoy);
    ctx.strokeStyle = ctx.fillStyle = colour('ink');
    ctx.lineWidth = 2;
    ctx.beginPath();
    ctx.moveTo(x, y);
    ctx.lineTo(x, y - 16);
    ctx.lineTo(x + 10, y - 12);
    ctx.lineTo(x, y - 8);
    ctx.stroke();
    ctx.fill();
    labels.block({ x0: x - 2, y0: y - 17, x1: x + 11, y1: y + 2 });
  }
  if (picture.ship) {
    const [x, y] = at(picture.ship);
    ctx.save();
    ctx.translate(x, y);
    ctx.fillStyle = colour('lit');
    ctx.strokeStyle = sea;
    ctx.lineWidth = 2;
    ctx.beginPath();
    if (picture.ship.heading_deg_true === null) ctx.arc(0, 0, 7, 0, 2 * Math.PI);
    else {
      ctx.rotate((picture.ship.heading_deg_true * Math.PI) / 180);
      for (const [px, py] of [[0, -14], [6, -5], [6, 9], [-6, 9], [-6, -5]] as const) ctx.lineTo(px, py);
      ctx.closePath();
    }
    ctx.stroke();
    ctx.fill();
    ctx.restore();
    labels.blockDisc(x, y, 14);
  }

  const tag = (text: string, spot: Point, size: number, weight: number, tone: string, gap: number, must = false, rings = 2) => {
    if (!text) return;
    ctx.font = font(size, weight);
    const room = ctx.measureText(text).width;
    const around = Array.from({ length: rings }, (_, ring) => Labels.round(spot[0], spot[1], room, size, gap * (1 + 1.4 * ring))).flat();
    const place = labels.place(room, size, around, must);
    if (place) later.push(() => ((ctx.font = font(size, weight)), write(text, place, tone)));
  };
  const [first, final] = [points[0], points.at(-1)];
  if (first) {
    ctx.beginPath();
    ctx.arc(first[0], first[1], 8, 0, 2 * Math.PI);
    ctx.fillStyle = colour('line');
    ctx.fill();
    ctx.strokeStyle = sea;
    ctx.lineWidth = 2;
    ctx.stroke();
    labels.blockDisc(first[0], first[1], 9);
    tag(words.start, first, 17, 700, colour('ink'), 13, true);
  }
  if (final && points.length > 1) tag(words.end, final, 17, 700, colour('ink'), 12, true);
  for (const zone of picture.zones) {
    const near = zone.near ? at(zone.near) : null;
    if (!near || near[0] < 0 || near[0] > width || near[1] < 0 || near[1] > height) continue;
    ctx.strokeStyle = colour('doubt');
    ctx.lineWidth = 3;
    ctx.beginPath();
    ctx.moveTo(near[0] - 6, near[1] - 6);
    ctx.lineTo(near[0] + 6, near[1] + 6);
    ctx.moveTo(near[0] + 6, near[1] - 6);
    ctx.lineTo(near[0] - 6, near[1] + 6);
    ctx.stroke();
    labels.blockDisc(near[0], near[1], 8);
    tag(zone.words, near, 15, 700, colour('doubt'), 12, roomy, 3);
  }
  for (let leg = 0; leg + 1 < points.length; leg++) {
    const [a, b] = [points[leg]!, points[leg + 1]!];
    // Somewhere along its own leg and close to it, else not at all: farther off it would name another one.
    ctx.font = font(15, 700);
    const text = words.legs[leg] ?? '';
    const room = ctx.measureText(text).width;
    const spots = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8].flatMap((share) => Labels.round(a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]), room, 15, 8).slice(0, 8));
    const place = labels.place(room, 15, spots);
    if (place) later.push(() => ((ctx.font = font(15, 700)), write(text, place, colour('line'))));
  }
  for (const track of picture.tracks.filter((one) => !one.open && one.spots.length > 1)) tag(track.letter, at(track.spots.at(-1)!), 15, 700, colour('soft'), 7);
  const last = picture.last.find((piece) => piece.length > 1);
  if (last) tag(words.last, at(last.at(-1)!), 15, 400, colour('soft'), 9);
  for (const buoy of picture.buoys) tag(buoy.name, [at(buoy)[0] + 6, at(buoy)[1] - 10], 15, 700, colour('ink'), 10);
  ruler(ctx, frame, bar, width, height, colour, words.unit, font);
  if (picture.current && words.current) {
    ctx.font = font(15);
    const room = ctx.measureText(words.current).width + 40;
    const corners: Point[] = [[width - room - 8, 28], [width - room - 8, height - 80], [10, 28], [10, height - 66], [width - room - 8, height / 2 - 18], [10, height / 2 - 18]];
    const place = labels.place(room, 34, corners, roomy);
    if (place) later.push(() => arrow(ctx, place, picture.current!.towards_deg_true, words.current, colour, font, sea));
  }
  later.forEach((one) => one());
}

/** The graticule; its numbers along the upper and the left edge. The 180th meridian is told by its form too. */
function net(
  ctx: CanvasRenderingContext2D, frame: Frame, width: number, height: number, colour: (token: string) => string,
  fixed: (text: string, x: number, y: number, size: number, weight: number, tone: string) => () => void,
): (() => void)[] {
  const said: (() => void)[] = [];
  const grid = graticule(frame, width, height);
  ctx.strokeStyle = colour('edge');
  ctx.lineWidth = 1;
  for (const { px, at_deg, label } of grid.meridians) {
    ctx.globalAlpha = at_deg === -180 ? 0.9 : 0.3;
    ctx.setLineDash(at_deg === -180 ? [3, 5] : []);
    ctx.beginPath();
    ctx.moveTo(px, 0);
    ctx.lineTo(px, height);
    ctx.stroke();
    if (px > 70 && px < width - 80) said.push(fixed(label, px + 5, 5, 15, 400, colour('soft')));
  }
  ctx.setLineDash([]);
  ctx.globalAlpha = 0.3;
  for (const { px, label } of grid.parallels) {
    ctx.beginPath();
    ctx.moveTo(0, px);
    ctx.lineTo(width, px);
    ctx.stroke();
    if (px > 24 && px < height - 48) said.push(fixed(label, 6, px + 3, 15, 400, colour('soft')));
  }
  ctx.globalAlpha = 1;
  return said;
}

function ruler(ctx: CanvasRenderingContext2D, frame: Frame, bar: number, width: number, height: number, colour: (token: string) => string, unit: string, font: (size: number) => string): void {
  ctx.strokeStyle = colour('ink');
  ctx.lineWidth = 2;
  ctx.beginPath();
  ctx.moveTo(width - 14 - bar * frame.px_per_nmi, height - 14);
  ctx.lineTo(width - 14, height - 14);
  ctx.stroke();
  ctx.fillStyle = colour('soft');
  ctx.font = font(15);
  ctx.textAlign = 'right';
  ctx.fillText(`${bar} ${unit}`, width - 14, height - 20);
  ctx.textAlign = 'left';
}

/** The current, as an arrow with its words: where it runs to. */
function arrow(ctx: CanvasRenderingContext2D, [x, y]: Point, towards_deg_true: number, text: string, colour: (token: string) => string, font: (size: number) => string, sea: string): void {
  ctx.font = font(15);
  ctx.textAlign = 'left';
  ctx.lineWidth = 4;
  ctx.strokeStyle = sea;
  ctx.strokeText(text, x + 38, y + 22);
  ctx.fillStyle = colour('soft');
  ctx.fillText(text, x + 38, y + 22);
  ctx.save();
  ctx.translate(x + 17, y + 17);
  ctx.rotate((towards_deg_true * Math.PI) / 180);
  for (const [tone, breadth] of [[sea, 6], [colour('soft'), 2]] as const) {
    ctx.strokeStyle = tone;
    ctx.lineWidth = breadth;
    ctx.beginPath();
    ctx.moveTo(0, 14);
    ctx.lineTo(0, -14);
    ctx.moveTo(-6, -6);
    ctx.lineTo(0, -14);
    ctx.lineTo(6, -6);
    ctx.stroke();
  }
  ctx.restore();
}

// Paints the sea from above: the line as it went in, radio buoys, the ship, a bar of length. North is up. A picture,
// not a chart: it has no land and no depths, and says that it is not for navigation.
//
// Longitudes come in [−180, 180) and are unwrapped here only. On a picture some tens of miles wide a degree of
// longitude is a degree of latitude times the cosine of the middle latitude; a minute of latitude is taken as one
// nautical mile.
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
  const px_per_nmi = Math.min((width - 2 * margin) / wide_nmi, (height - 2 * margin) / high_nmi);
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

export function paintSea(
  ctx: CanvasRenderingContext2D, width: number, height: number, line: readonly Spot[], buoys: readonly (Spot & { name: string })[],
  ship: (Spot & { heading_deg_true: number | null }) | null, colour: (token: string) => string, words: SeaWords,
): void {
  ctx.fillStyle = colour('panel');
  ctx.fillRect(0, 0, width, height);
  const text = (size: number, weight = 400) => `${weight} ${size}px "Noto Sans", sans-serif`;
  const head = 62;
  const all = ship ? [...line, ship] : [...line];
  const frame = frameOf(all, width, height - head - 40, 30, 4);
  ctx.textAlign = 'left';
  if (frame) {
    const at = (spot: Spot): [number, number] => {
      const [x, y] = placeOf(frame, spot, width, height - head - 40);
      return [x, y + head];
    };
    // The 180th meridian, where it is in the picture.
    const [meridian] = placeOf(frame, { latitude_deg: frame.latitude_deg, longitude_deg: -180 }, width, height);
    if (meridian > 0 && meridian < width) {
      ctx.setLineDash([3, 5]);
      ctx.strokeStyle = colour('edge');
      ctx.lineWidth = 1;
      ctx.beginPath();
      ctx.moveTo(meridian, head);
      ctx.lineTo(meridian, height - 40);
      ctx.stroke();
      ctx.setLineDash([]);
      ctx.fillStyle = colour('soft');
      ctx.font = text(15);
      ctx.fillText('180°', Math.min(meridian + 6, width - 40), height - 46);
    }
    ctx.strokeStyle = colour('line');
    ctx.lineWidth = 3;
    ctx.lineJoin = 'round';
    ctx.beginPath();
    [...line, ...(ship && line.length > 0 ? [ship] : [])].forEach((spot, index) => (index === 0 ? ctx.moveTo(...at(spot)) : ctx.lineTo(...at(spot))));
    ctx.stroke();
    ctx.font = text(15, 700);
    for (const buoy of buoys) {
      const [x, y] = at(buoy);
      ctx.strokeStyle = ctx.fillStyle = colour('ink');
      ctx.lineWidth = 2;
      ctx.beginPath();
      ctx.moveTo(x, y);
      ctx.lineTo(x, y - 18);
      ctx.stroke();
      ctx.beginPath();
      ctx.moveTo(x, y - 18);
      ctx.lineTo(x + 11, y - 13.5);
      ctx.lineTo(x, y - 9);
      ctx.fill();
      const room = ctx.measureText(buoy.name).width;
      ctx.fillText(buoy.name, x + 14 + room > width ? x - room - 4 : x + 14, y - 9);
    }
    if (ship) {
      const [x, y] = at(ship);
      ctx.save();
      ctx.translate(x, y);
      ctx.fillStyle = colour('lit');
      ctx.beginPath();
      if (ship.heading_deg_true === null) {
        ctx.arc(0, 0, 7, 0, 2 * Math.PI);
      } else {
        ctx.rotate((ship.heading_deg_true * Math.PI) / 180);
        for (const [px, py] of [[0, -15], [7, -5], [7, 10], [-7, 10], [-7, -5]] as const) ctx.lineTo(px, py);
      }
      ctx.fill();
      ctx.restore();
    }
    const bar = barOf(frame.px_per_nmi, width);
    ctx.strokeStyle = colour('ink');
    ctx.lineWidth = 2;
    ctx.beginPath();
    ctx.moveTo(width - 14 - bar * frame.px_per_nmi, height - 14);
    ctx.lineTo(width - 14, height - 14);
    ctx.stroke();
    ctx.fillStyle = colour('soft');
    ctx.font = text(15);
    ctx.textAlign = 'right';
    ctx.fillText(`${bar} ${words.unit}`, width - 14, height - 22);
    ctx.textAlign = 'left';
  }
  ctx.fillStyle = colour('ink');
  ctx.font = text(width < 300 ? 15 : 18, 700);
  ctx.fillText(words.position, 14, 26);
  ctx.fillStyle = colour('soft');
  ctx.font = text(15);
  ctx.fillText(words.motion, 14, 48);
  ctx.fillText(words.not_for_navigation, 14, height - 14);
}

// Meridians and parallels of a picture of the sea, at round steps, right across 180°.
import type { Frame } from './sea.ts';

/** Round steps, minutes of arc. */
const STEPS_MIN = [1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 900, 1_800, 3_600];

export interface GridLine {
  /** Degrees in [−180, 180) for a meridian. */
  at_deg: number;
  px: number;
  label: string;
}

/** 14°20′ S: the hemisphere letter is left out where there is none (0° and 180°). */
export function gridLabel(degrees: number, positive: string, negative: string, with_minutes: boolean): string {
  const minutes = Math.round(Math.abs(degrees) * 60);
  const letter = minutes === 0 || minutes === 180 * 60 ? '' : ` ${degrees < 0 ? negative : positive}`;
  return `${Math.floor(minutes / 60)}°${with_minutes ? `${String(minutes % 60).padStart(2, '0')}′` : ''}${letter}`;
}

function stepFor(px_per_min: number, least_px: number): number {
  return STEPS_MIN.find((step) => step * px_per_min >= least_px) ?? STEPS_MIN.at(-1)!;
}

/** The lines that cross the picture. */
export function graticule(frame: Frame, width: number, height: number, least_px = 90): { meridians: GridLine[]; parallels: GridLine[] } {
  const px_per_min_east = frame.px_per_nmi * Math.cos((frame.latitude_deg * Math.PI) / 180);
  const meridians: GridLine[] = [];
  const parallels: GridLine[] = [];
  const across_min = stepFor(px_per_min_east, least_px);
  const half_min = width / 2 / px_per_min_east;
  const middle_min = frame.longitude_deg * 60;
  if (half_min < 180 * 60) {
    for (let at = Math.ceil((middle_min - half_min) / across_min); at * across_min <= middle_min + half_min; at++) {
      const unwrapped = (at * across_min) / 60;
      const at_deg = ((((unwrapped + 180) % 360) + 360) % 360) - 180;
      meridians.push({ at_deg, px: width / 2 + (at * across_min - middle_min) * px_per_min_east, label: gridLabel(at_deg, 'E', 'W', across_min < 60) });
    }
  }
  const up_min = stepFor(frame.px_per_nmi, least_px);
  const [south, north] = [frame.latitude_deg * 60 - height / 2 / frame.px_per_nmi, frame.latitude_deg * 60 + height / 2 / frame.px_per_nmi];
  for (let at = Math.ceil(south / up_min); at * up_min <= north; at++) {
    const at_deg = (at * up_min) / 60;
    if (Math.abs(at_deg) > 89) continue;
    parallels.push({ at_deg, px: height / 2 - (at * up_min - frame.latitude_deg * 60) * frame.px_per_nmi, label: gridLabel(at_deg, 'N', 'S', up_min < 60) });
  }
  return { meridians, parallels };
}

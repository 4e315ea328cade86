// What is typed: numbers with either decimal sign, positions with hemisphere letters, hours with dates.

/** A number as typed, with a comma or a point; null for anything else. */
export function typedNumber(text: string): number | null {
  const trimmed = text.trim().replace(/[\u2009\u202f\u00a0 ]/g, '').replace(',', '.').replace(/^−/, '-');
  if (!/^[+-]?(\d+\.?\d*|\.\d+)$/.test(trimmed)) return null;
  const value = Number(trimmed);
  return Number.isFinite(value) ? value : null;
}

export type PositionFault = 'not-read' | 'minutes' | 'range' | 'letter';
export type Typed = { value: number; assumed: boolean } | { fault: PositionFault };

/**
 * One half of a position: `14°31.5′ S`, `14 31.5 s`, `1431.5S`, `S 14 31,500`, or whole degrees with decimals
 * (`14.525 S`). Without a letter the given hemisphere is taken, and `assumed` says so.
 */
export function typedDegrees(text: string, axis: 'latitude' | 'longitude', ship: number | null): Typed {
  const letters = text.toUpperCase().match(/[A-Z]/g) ?? [];
  const [plus, minus, most] = axis === 'latitude' ? ['N', 'S', 90] : ['E', 'W', 180];
  if (letters.length > 1 || (letters.length === 1 && letters[0] !== plus && letters[0] !== minus)) return { fault: 'letter' };
  const figures = text.replace(/,/g, '.').match(/\d+(?:\.\d+)?/g) ?? [];
  // Signs would say the hemisphere a second way; a minus typed with a letter is a slip.
  const signed = /^[\s]*[-−]/.test(text);
  if (/[^\d\s.,°º'′’"″\-−+NSEWnsew]/.test(text) || figures.length === 0 || figures.length > 2) return { fault: 'not-read' };
  if (signed && letters.length > 0) return { fault: 'letter' };
  let degrees: number;
  let minutes = 0;
  if (figures.length === 2) {
    if (figures[0]!.includes('.')) return { fault: 'not-read' };
    [degrees, minutes] = [Number(figures[0]), Number(figures[1])];
  } else {
    const [whole = '', rest] = figures[0]!.split('.');
    // DDMM.mmm run together has more whole figures than degrees can have.
    if (whole.length > (axis === 'latitude' ? 2 : 3)) {
      degrees = Number(whole.slice(0, -2));
      minutes = Number(`${whole.slice(-2)}.${rest ?? '0'}`);
    } else degrees = Number(figures[0]);
  }
  if (minutes >= 60) return { fault: 'minutes' };
  const size = degrees + minutes / 60;
  if (size > most) return { fault: 'range' };
  const negative = letters.length > 0 ? letters[0] === minus : signed || (ship !== null && ship < 0);
  let value = negative ? -size : size;
  if (axis === 'longitude' && value >= 180) value -= 360;
  return { value, assumed: letters.length === 0 && !signed };
}

const two = (value: number) => String(value).padStart(2, '0');

/** Date and hour of ship time as the fields of a form take them. */
export function fieldsOf(at: string | null | undefined, offset_min: number): { date: string; hour: string } {
  const ms = at ? Date.parse(at) : NaN;
  if (Number.isNaN(ms)) return { date: '', hour: '' };
  const ship = new Date(ms + offset_min * 60_000);
  return { date: `${ship.getUTCFullYear()}-${two(ship.getUTCMonth() + 1)}-${two(ship.getUTCDate())}`, hour: `${two(ship.getUTCHours())}:${two(ship.getUTCMinutes())}` };
}

/** The moment of a date and an hour of ship time, UTC; null where they are none. `2`, `0200`, `2:00` and `02.00` are hours too. */
export function momentOf(date: string, hour: string, offset_min: number): string | null {
  const day = /^(\d{4})-(\d{2})-(\d{2})$/.exec(date.trim());
  const time = /^(\d{1,2})(?:[:.\s]?([0-5]\d))?$/.exec(hour.trim());
  if (!day || !time || Number(time[1]) > 23) return null;
  const ms = Date.UTC(Number(day[1]), Number(day[2]) - 1, Number(day[3]), Number(time[1]), Number(time[2] ?? 0));
  const back = new Date(ms);
  if (back.getUTCMonth() !== Number(day[2]) - 1 || back.getUTCDate() !== Number(day[3])) return null;
  return new Date(ms - offset_min * 60_000).toISOString().replace('.000Z', 'Z');
}

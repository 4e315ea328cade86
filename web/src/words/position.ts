// How positions are written: DD°MM.mmm′ and the hemisphere letter.

/** 14°12.412′ and its hemisphere. */
export function degrees(value: number, width: number, positive: string, negative: string): string {
  // Rounded first, so that 59.9996′ becomes the next degree and never 60.000′.
  const thousandths = Math.round(Math.abs(value) * 60_000);
  const [whole, rest] = [Math.floor(thousandths / 60_000), thousandths % 60_000];
  return `${String(whole).padStart(width, '0')}°${(rest / 1_000).toFixed(3).padStart(6, '0')}′ ${value < 0 ? negative : positive}`;
}

export function position(latitude_deg: number, longitude_deg: number): string {
  return `${degrees(latitude_deg, 2, 'N', 'S')}  ${degrees(longitude_deg, 3, 'E', 'W')}`;
}

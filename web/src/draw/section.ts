// What the pictures of the water in section share: colours of temperature, round steps, depths of a temperature.
//
// Colours of temperature: nine stops of the ramp "thermal" (Thyng et al. 2016, "True colors of oceanography",
// Oceanography 29(3); values read from the Python package cmocean 4.0.3, licence MIT).
const RAMP: readonly (readonly [number, number, number])[] = [
  [4, 35, 51], [25, 51, 124], [86, 59, 156], [131, 80, 143], [177, 95, 130], [223, 112, 100], [249, 147, 65], [249, 198, 65], [232, 250, 91],
];

export interface Level {
  depth_m: number;
  temperature_c: number;
}

/** Temperature colour of a palette: paler by day, darker at dusk, one red hue at night. */
export function rampColour(share: number, palette: string): string {
  const at = Math.max(0, Math.min(1, share)) * (RAMP.length - 1);
  const low = RAMP[Math.floor(at)]!;
  const high = RAMP[Math.ceil(at)]!;
  const mixed = low.map((value, channel) => value + (high[channel]! - value) * (at % 1));
  if (palette === 'night') {
    const light = (0.3 * mixed[0]! + 0.6 * mixed[1]! + 0.1 * mixed[2]!) * 0.24;
    return `rgb(${Math.round(light)} ${Math.round(light * 0.22)} ${Math.round(light * 0.1)})`;
  }
  const of = palette === 'day' ? (value: number) => value + (255 - value) / 6 : (value: number) => value * 0.62;
  return `rgb(${mixed.map((value) => Math.round(of(value))).join(' ')})`;
}

/** Round steps that divide a range into about so many parts. */
export function steps(range: number, parts: number): number {
  const raw = range / parts;
  const power = 10 ** Math.floor(Math.log10(raw));
  return [1, 2, 5, 10].map((one) => one * power).find((one) => one >= raw) ?? 10 * power;
}

/** Depth of a temperature in a profile, by straight lines between levels; null where it is not reached. */
export function depthOf(temperature_c: number, levels: readonly Level[]): number | null {
  for (let one = 0; one + 1 < levels.length; one++) {
    const [a, b] = [levels[one]!, levels[one + 1]!];
    if ((a.temperature_c - temperature_c) * (b.temperature_c - temperature_c) <= 0 && a.temperature_c !== b.temperature_c) {
      return a.depth_m + ((b.depth_m - a.depth_m) * (a.temperature_c - temperature_c)) / (a.temperature_c - b.temperature_c);
    }
  }
  return null;
}

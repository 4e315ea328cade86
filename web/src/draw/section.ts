// Paints the water in section: depth downward, temperature as colour with numbered isotherms, hooks as discs with a
// bar for their band. Depths, bands and temperatures come from the ship; here they are only given a place.
//
// Colours of temperature: nine stops of the ramp "thermal" (Thyng et al. 2016, "True colors of oceanography",
// Oceanography 29(3); values read from the Python package cmocean 4.0.3, licence MIT).
const RAMP: readonly (readonly [number, number, number])[] = [
  [4, 35, 51], [25, 51, 124], [86, 59, 156], [131, 80, 143], [177, 95, 130], [223, 112, 100], [249, 147, 65], [249, 198, 65], [232, 250, 91],
];

export interface SectionHook {
  basket: number;
  position: number;
  depth_m: number;
  band_m: number | null;
  /** clipped: in the water; coming: as the basket before hangs. */
  state: 'clipped' | 'coming' | 'next' | 'lost';
}

export interface SectionBasket {
  basket: number;
  hooks: number;
  /** Names of its two floats; null for one still to come without a name. */
  from: string;
  to: string;
  to_come: boolean;
}

export interface Level {
  depth_m: number;
  temperature_c: number;
}

export interface SectionWords {
  unit: string;
  next: string;
  temperature: (value: number) => string;
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

export function paintSection(
  ctx: CanvasRenderingContext2D, width: number, height: number, baskets: readonly SectionBasket[], hooks: readonly SectionHook[],
  levels: readonly Level[], layer_m: readonly [number, number] | null, palette: string, colour: (token: string) => string, words: SectionWords,
): void {
  const [left, right, top, bottom] = [56, width - 8, 34, height - 6];
  const deepest = Math.max(100, ...hooks.map((hook) => hook.depth_m + (hook.band_m ?? 0)), layer_m?.[1] ?? 0);
  const step = steps(deepest, Math.max(2, Math.floor((bottom - top) / 44)));
  const floor = Math.ceil((deepest * 1.06) / step) * step;
  const y = (depth_m: number) => top + ((bottom - top) * depth_m) / floor;
  const on_water = palette === 'night' ? colour('ink') : '#ffffff';
  const halo = palette === 'night' ? '#000000' : '#0b1217';
  const font = (size: number, weight = 400) => `${weight} ${size}px "Noto Sans", sans-serif`;
  const write = (text: string, x: number, at: number, align: CanvasTextAlign, ink = on_water) => {
    ctx.textAlign = align;
    ctx.lineWidth = 4;
    ctx.lineJoin = 'round';
    ctx.strokeStyle = halo;
    ctx.strokeText(text, x, at);
    ctx.fillStyle = ink;
    ctx.fillText(text, x, at);
  };

  ctx.fillStyle = levels.length > 1 ? rampColour(0, palette) : colour('panel');
  ctx.fillRect(left, top, right - left, bottom - top);
  if (levels.length > 1) {
    const all = levels.map((level) => level.temperature_c);
    const [cold, warm] = [Math.min(...all), Math.max(...all)];
    const field = ctx.createLinearGradient(0, y(0), 0, y(Math.max(floor, levels.at(-1)!.depth_m)));
    const span = Math.max(floor, levels.at(-1)!.depth_m);
    for (const level of levels) field.addColorStop(Math.min(1, level.depth_m / span), rampColour((level.temperature_c - cold) / Math.max(1, warm - cold), palette));
    ctx.fillStyle = field;
    ctx.fillRect(left, top, right - left, bottom - top);
    ctx.font = font(15);
    let free_from = top + 16;
    const apart = steps(Math.max(2, warm - cold), 6);
    for (let t = Math.floor(warm / apart) * apart; t >= cold; t -= apart) {
      const depth = depthOf(t, levels);
      if (depth === null || depth > floor) continue;
      ctx.strokeStyle = palette === 'day' ? halo : on_water;
      ctx.globalAlpha = 0.4;
      ctx.lineWidth = 1;
      stroke(ctx, left, y(depth), right, y(depth));
      ctx.globalAlpha = 1;
      // A number stands only where the last one has left room.
      const on_edge = layer_m?.some((edge) => Math.abs(y(edge) - (y(depth) - 9)) < 12);
      if (y(depth) - 4 >= free_from && !on_edge) {
        write(words.temperature(t), right - 8, y(depth) - 4, 'right');
        free_from = y(depth) + 16;
      }
    }
  }
  ctx.font = font(16);
  ctx.fillStyle = colour('soft');
  ctx.textAlign = 'right';
  for (let depth = 0; depth <= floor; depth += step) {
    ctx.fillText(String(depth), left - 10, y(depth) + 6);
    ctx.strokeStyle = colour('edge');
    ctx.lineWidth = 1;
    stroke(ctx, left - 6, y(depth), left, y(depth));
  }
  ctx.fillText(words.unit, left - 10, top - 14);
  if (layer_m) {
    ctx.setLineDash([10, 6]);
    ctx.strokeStyle = on_water;
    ctx.lineWidth = 2;
    for (const depth of layer_m) stroke(ctx, left, y(depth), right, y(depth));
    ctx.setLineDash([]);
  }

  const share = (right - left - 60) / Math.max(1, baskets.length);
  baskets.forEach((basket, index) => {
    const x0 = left + 30 + share * index;
    const own = hooks.filter((hook) => hook.basket === basket.basket).sort((a, b) => a.position - b.position);
    const x = (hook: SectionHook) => x0 + (share * hook.position) / (basket.hooks + 1);
    for (const hook of own) {
      if (hook.band_m === null) continue;
      ctx.globalAlpha = 0.4;
      ctx.strokeStyle = on_water;
      ctx.lineWidth = 5;
      stroke(ctx, x(hook), y(Math.max(0, hook.depth_m - hook.band_m)), x(hook), y(hook.depth_m + hook.band_m));
      ctx.globalAlpha = 1;
    }
    // A thin line through the hooks leads the eye; the main line itself hangs above it by the branch lines.
    for (const coming of [false, true]) {
      const path = own.filter((hook, at) => (hook.state === 'coming' || hook.state === 'next') === coming || (coming && own[at + 1]?.state === 'next'));
      ctx.beginPath();
      path.forEach((hook, at) => (at === 0 ? ctx.moveTo(x(hook), y(hook.depth_m)) : ctx.lineTo(x(hook), y(hook.depth_m))));
      ctx.setLineDash(coming ? [3, 5] : []);
      // White over a broader dark line: seen on every colour of the water.
      for (const [tone, alpha, breadth] of [[halo, 0.5, 4], [on_water, 0.9, 1.5]] as const) {
        ctx.strokeStyle = tone;
        ctx.globalAlpha = alpha;
        ctx.lineWidth = breadth;
        ctx.stroke();
      }
      ctx.setLineDash([]);
      ctx.globalAlpha = 1;
    }
    for (const hook of own) {
      const wanted = !layer_m || (hook.depth_m >= layer_m[0] && hook.depth_m <= layer_m[1]);
      ctx.beginPath();
      ctx.arc(x(hook), y(hook.depth_m), hook.state === 'next' ? 9 : hook.state === 'coming' ? 2.5 : 4.5, 0, 2 * Math.PI);
      ctx.lineWidth = 2;
      ctx.strokeStyle = hook.state === 'clipped' && !wanted ? on_water : halo;
      ctx.fillStyle = hook.state === 'next' ? colour('lit') : hook.state === 'clipped' && !wanted ? halo : on_water;
      if (hook.state === 'lost') continue;
      ctx.fill();
      if (hook.state !== 'coming') ctx.stroke();
    }
    const next = own.find((hook) => hook.state === 'next');
    if (next && words.next) {
      ctx.font = font(18, 700);
      const room = ctx.measureText(words.next).width;
      // Under the deepest band where there is room, else in the bow of the basket above its hooks: never on them.
      const low = Math.max(...hooks.map((hook) => y(hook.depth_m + (hook.band_m ?? 0)))) + 24;
      const middle = x0 + share / 2;
      const at_x = Math.max(left + room / 2 + 8, Math.min(right - room / 2 - 60, middle));
      write(words.next, at_x, low < bottom - 4 ? low : top + 24, 'center');
    }
    float(ctx, x0, top, colour, false);
    if (index === baskets.length - 1) float(ctx, x0 + share, top, colour, basket.to_come);
    ctx.font = font(17, 700);
    ctx.fillStyle = colour('ink');
    const fits = ctx.measureText(basket.from).width < share - 24;
    ctx.textAlign = 'left';
    if (fits) ctx.fillText(basket.from, x0 + 16, top - 12);
    if (index === baskets.length - 1 && fits) {
      ctx.textAlign = 'right';
      ctx.font = font(17);
      ctx.fillStyle = colour('soft');
      if (share > 2 * ctx.measureText(basket.from).width + 40) ctx.fillText(basket.to, x0 + share - 14, top - 12);
    }
  });
}

function float(ctx: CanvasRenderingContext2D, x: number, y: number, colour: (token: string) => string, to_come: boolean): void {
  ctx.beginPath();
  ctx.arc(x, y, 8, 0, 2 * Math.PI);
  ctx.fillStyle = colour('ground');
  ctx.fill();
  ctx.strokeStyle = colour(to_come ? 'soft' : 'ink');
  ctx.setLineDash(to_come ? [3, 3] : []);
  ctx.lineWidth = 3;
  ctx.stroke();
  ctx.setLineDash([]);
}

function stroke(ctx: CanvasRenderingContext2D, x0: number, y0: number, x1: number, y1: number): void {
  ctx.beginPath();
  ctx.moveTo(x0, y0);
  ctx.lineTo(x1, y1);
  ctx.stroke();
}

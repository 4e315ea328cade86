// Paints the water in section with the basket that a plan would hang in it: depth downward, temperature as colour with
// numbered isotherms, main line with its band, hooks as discs (filled: in the wanted layer, open: outside), the wanted
// layer between two dashed lines. All geometry comes from the ship; here it is only given a place.
import { font } from './font.ts';
import type { Section } from '../plan/types.ts';
import { Labels, type Point } from './labels.ts';
import { rampColour, steps } from './section.ts';

export interface PlanPicture {
  section: Section;
  /** Baskets of the other plans, to be compared: letter and main line. */
  others: { letter: string; section: Section }[];
  temperature: readonly { depth_m: number; temperature_c: number }[];
  isotherms: readonly { temperature_c: number; depth_m: number }[];
  layer_m: readonly [number, number] | null;
  draw_to_m: number;
}

export interface PlanPictureWords {
  unit: string;
  layer: string;
  temperature: (value: number) => string;
}

const LEFT = 56;
const TOP = 30;

export function paintPlanSection(
  ctx: CanvasRenderingContext2D, width: number, height: number, picture: PlanPicture, palette: string, colour: (token: string) => string, words: PlanPictureWords,
): void {
  const { section, layer_m, temperature } = picture;
  const [left, right, top, bottom] = [LEFT, width - (picture.isotherms.length > 0 ? 66 : 12), TOP, height - 8];
  const spans = [section, ...picture.others.map((one) => one.section)];
  const span_m = Math.max(1, ...spans.map((one) => one.span_m));
  const step = steps(picture.draw_to_m, Math.max(2, Math.floor((bottom - top) / 42)));
  const floor_m = Math.max(picture.draw_to_m, step);
  const y = (depth_m: number) => top + ((bottom - top) * depth_m) / floor_m;
  const margin = 34;
  // Every basket hangs in the middle, to one scale: a wider one is seen to be wider.
  const xOf = (one: Section) => {
    const scale = (right - left - 2 * margin) / span_m;
    const from = (left + right) / 2 - (one.span_m * scale) / 2;
    return (x_m: number) => from + x_m * scale;
  };
  const x = xOf(section);
  const on_water = palette === 'night' ? colour('ink') : '#ffffff';
  const halo = palette === 'night' ? '#000000' : '#0b1217';
  const labels = new Labels({ x0: left + 4, y0: top + 4, x1: right - 4, y1: bottom - 4 });
  const write = (text: string, [at_x, at_y]: Point, size: number) => {
    ctx.textAlign = 'left';
    ctx.textBaseline = 'top';
    ctx.lineWidth = 4;
    ctx.lineJoin = 'round';
    ctx.strokeStyle = halo;
    ctx.strokeText(text, at_x, at_y + size * 0.08);
    ctx.fillStyle = on_water;
    ctx.fillText(text, at_x, at_y + size * 0.08);
    ctx.textBaseline = 'alphabetic';
  };
  const trace = (points: readonly Point[]) => {
    ctx.beginPath();
    points.forEach((point, at) => (at === 0 ? ctx.moveTo(...point) : ctx.lineTo(...point)));
  };
  const twice = (breadth: number, alpha = 0.95, dash: number[] = []) => {
    ctx.setLineDash(dash);
    for (const [tone, share, wide] of [[halo, 0.55, breadth + 2.5], [on_water, alpha, breadth]] as const) {
      ctx.strokeStyle = tone;
      ctx.globalAlpha = share;
      ctx.lineWidth = wide;
      ctx.stroke();
    }
    ctx.setLineDash([]);
    ctx.globalAlpha = 1;
  };

  field(ctx, { left, right, top, bottom }, floor_m, temperature, palette, colour);
  isotherms(ctx, picture, { left, right, top, bottom }, y, floor_m, palette === 'day' ? halo : on_water, colour, words, font);

  ctx.font = font(16);
  ctx.textAlign = 'right';
  for (let depth = 0; depth <= floor_m + 1e-9; depth += step) {
    ctx.fillStyle = colour('soft');
    ctx.fillText(String(Math.round(depth)), left - 10, y(depth) + 6);
    ctx.strokeStyle = colour('edge');
    ctx.lineWidth = 1;
    trace([[left - 6, y(depth)], [left, y(depth)]]);
    ctx.stroke();
  }
  ctx.fillStyle = colour('soft');
  ctx.fillText(words.unit, left - 10, top - 13);

  ctx.save();
  ctx.beginPath();
  ctx.rect(left, top - TOP, right - left, bottom - top + TOP);
  ctx.clip();
  if (layer_m) {
    for (const depth of layer_m) {
      trace([[left, y(depth)], [right, y(depth)]]);
      twice(2, 0.9, [11, 7]);
      labels.blockLine([[left, y(depth)], [right, y(depth)]]);
    }
  }
  const ghosts: { letter: string; points: Point[] }[] = [];
  for (const other of picture.others) {
    const place = xOf(other.section);
    const points = other.section.main_line.map(([x_m, depth_m]): Point => [place(x_m), y(depth_m)]);
    trace(points);
    twice(1.5, 0.9, [2, 5]);
    labels.blockLine(points);
    ghosts.push({ letter: other.letter, points });
  }

  const line = section.main_line.map(([x_m, depth_m]): Point => [x(x_m), y(depth_m)]);
  labels.blockLine(line);
  const { band_upper, band_lower } = section;
  if (band_upper && band_lower) {
    ctx.beginPath();
    [...band_upper, ...[...band_lower].reverse()].forEach(([x_m, depth_m]) => ctx.lineTo(x(x_m), y(depth_m)));
    ctx.closePath();
    ctx.fillStyle = on_water;
    ctx.globalAlpha = palette === 'night' ? 0.14 : 0.22;
    ctx.fill();
    ctx.globalAlpha = 1;
  }
  const radius = section.hooks.length > 40 ? 3.2 : section.hooks.length > 25 ? 4.2 : 5.5;
  // Strokes of one kind are one path: a redraw must not wait for a hundred of them.
  const uprights = (ends: readonly (readonly [Point, Point])[]) => {
    ctx.beginPath();
    for (const [from, to] of ends) {
      ctx.moveTo(...from);
      ctx.lineTo(...to);
      labels.blockLine([from, to]);
    }
  };
  uprights(section.hooks.flatMap((hook) => (hook.band_m == null ? [] : [[[x(hook.x_m), y(Math.max(0, hook.depth_m - hook.band_m))], [x(hook.x_m), y(hook.depth_m + hook.band_m)]] as const])));
  ctx.strokeStyle = on_water;
  ctx.globalAlpha = 0.42;
  ctx.lineWidth = radius + 1;
  ctx.stroke();
  ctx.globalAlpha = 1;
  for (const end of [line[0], line.at(-1)]) {
    if (!end) continue;
    trace([[end[0], top], end]);
    twice(2);
    labels.blockLine([[end[0], top], end]);
  }
  trace(line);
  twice(2.5);
  uprights(section.hooks.map((hook) => [[x(hook.x_m), y(hook.clip_depth_m)], [x(hook.x_m), y(hook.depth_m)]] as const));
  twice(1, 0.8);
  for (const hook of section.hooks) {
    const filled = hook.in_layer ?? layer_m === null;
    ctx.beginPath();
    ctx.arc(x(hook.x_m), y(hook.depth_m), radius, 0, 2 * Math.PI);
    ctx.lineWidth = 2;
    ctx.fillStyle = filled ? on_water : halo;
    ctx.strokeStyle = filled ? halo : on_water;
    ctx.fill();
    ctx.stroke();
    labels.blockDisc(x(hook.x_m), y(hook.depth_m), radius + 1);
  }
  ctx.restore();

  for (const end of [line[0], line.at(-1)]) {
    if (!end) continue;
    ctx.beginPath();
    ctx.arc(end[0], top, 9, 0, 2 * Math.PI);
    ctx.fillStyle = colour('ground');
    ctx.fill();
    ctx.strokeStyle = colour('ink');
    ctx.lineWidth = 3;
    ctx.stroke();
    labels.blockDisc(end[0], top, 11);
  }

  // Words last, on what is left of the water: the layer first, since it names the aim.
  if (layer_m && words.layer) {
    ctx.font = font(17, 700);
    const room = ctx.measureText(words.layer).width;
    const [upper, lower] = [y(layer_m[0]), Math.min(y(layer_m[1]), bottom)];
    const at = labels.place(room, 18, [
      [left + 14, lower + 7], [right - 14 - room, lower + 7], [left + 14, lower - 26], [right - 14 - room, lower - 26],
      [left + 14, upper - 26], [right - 14 - room, upper - 26], [(left + right) / 2 - room / 2, lower + 7], [(left + right) / 2 - room / 2, upper - 26],
    ]);
    if (at) write(words.layer, at, 17);
  }
  ctx.font = font(15, 700);
  for (const hook of named(section)) {
    const text = String(hook.position);
    const room = ctx.measureText(text).width;
    const at = labels.place(room, 15, Labels.round(x(hook.x_m), y(hook.depth_m), room, 15, radius + 5).slice(0, 8));
    if (at) write(text, at, 15);
  }
  for (const ghost of ghosts) {
    const room = ctx.measureText(ghost.letter).width;
    const spots = [0.5, 0.42, 0.58, 0.3, 0.7, 0.2, 0.8].flatMap((share) => {
      const point = ghost.points[Math.round(share * (ghost.points.length - 1))];
      return point ? Labels.round(point[0], point[1], room, 15, 7) : [];
    });
    const at = labels.place(room, 15, spots);
    if (at) write(ghost.letter, at, 15);
  }
}

/** The hooks whose number is written: the ends, the ends of what lies in the layer, the middle. */
export function named(section: Section): Section['hooks'] {
  const { hooks } = section;
  const edge = hooks.filter((hook, at) => hook.in_layer && !(hooks[at - 1]?.in_layer && hooks[at + 1]?.in_layer));
  const middle = edge.length > 0 ? [] : hooks.slice(Math.floor(hooks.length / 2), Math.floor(hooks.length / 2) + 1);
  return [...new Set([...hooks.slice(0, 1), ...edge, ...middle, ...hooks.slice(-1)])];
}

interface Frame {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

export function field(ctx: CanvasRenderingContext2D, frame: Frame, floor_m: number, temperature: PlanPicture['temperature'], palette: string, colour: (token: string) => string): void {
  const { left, right, top, bottom } = frame;
  const plain = palette === 'day' ? '#51707e' : palette === 'dusk' ? '#22384a' : '#1a0703';
  ctx.fillStyle = temperature.length > 1 ? rampColour(0, palette) : plain;
  ctx.fillRect(left, top, right - left, bottom - top);
  if (temperature.length < 2) return;
  const all = temperature.map((level) => level.temperature_c);
  const [cold, warm] = [Math.min(...all), Math.max(...all)];
  const share = (value: number) => (value - cold) / Math.max(1, warm - cold);
  const field = ctx.createLinearGradient(0, top, 0, bottom);
  for (const [at, level] of temperature.entries()) {
    if (level.depth_m <= floor_m) field.addColorStop(level.depth_m / floor_m, rampColour(share(level.temperature_c), palette));
    else {
      // Cut at the floor, so that the last visible piece has its own colour.
      const before = temperature[at - 1];
      if (before && before.depth_m < floor_m) {
        const part = (floor_m - before.depth_m) / (level.depth_m - before.depth_m);
        field.addColorStop(1, rampColour(share(before.temperature_c + part * (level.temperature_c - before.temperature_c)), palette));
      }
      break;
    }
  }
  ctx.fillStyle = field;
  ctx.fillRect(left, top, right - left, bottom - top);
  // Below the last measured level nothing is known: hatched.
  const last = temperature.at(-1)!.depth_m;
  if (last < floor_m) {
    const y0 = top + ((bottom - top) * last) / floor_m;
    ctx.save();
    ctx.beginPath();
    ctx.rect(left, y0, right - left, bottom - y0);
    ctx.clip();
    ctx.fillStyle = plain;
    ctx.fillRect(left, y0, right - left, bottom - y0);
    ctx.strokeStyle = colour('edge');
    ctx.globalAlpha = 0.35;
    ctx.lineWidth = 1;
    ctx.beginPath();
    for (let at = left - (bottom - y0); at < right; at += 14) {
      ctx.moveTo(at, bottom);
      ctx.lineTo(at + (bottom - y0), y0);
    }
    ctx.stroke();
    ctx.restore();
  }
}

export function isotherms(
  ctx: CanvasRenderingContext2D, picture: Pick<PlanPicture, 'isotherms'>, frame: Frame, y: (depth_m: number) => number, floor_m: number, tone: string,
  colour: (token: string) => string, words: Pick<PlanPictureWords, 'temperature'>, font: (size: number) => string,
): void {
  let free_from = frame.top + 10;
  ctx.font = font(15);
  ctx.textAlign = 'left';
  for (const one of [...picture.isotherms].sort((a, b) => a.depth_m - b.depth_m)) {
    const at = y(one.depth_m);
    // Numbers stand beside the water, where no line and no hook runs; an isotherm without room for its number is left out.
    if (one.depth_m > floor_m || at < free_from) continue;
    free_from = at + 24;
    ctx.strokeStyle = tone;
    ctx.globalAlpha = 0.4;
    ctx.lineWidth = 1;
    ctx.beginPath();
    ctx.moveTo(frame.left, at);
    ctx.lineTo(frame.right, at);
    ctx.stroke();
    ctx.globalAlpha = 1;
    ctx.strokeStyle = colour('edge');
    ctx.beginPath();
    ctx.moveTo(frame.right, at);
    ctx.lineTo(frame.right + 6, at);
    ctx.stroke();
    ctx.fillStyle = colour('soft');
    ctx.fillText(words.temperature(one.temperature_c), frame.right + 9, at + 5);
  }
}

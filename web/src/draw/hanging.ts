// Paints baskets of a line hanging in their water: the ones hung last and the one being hung. Depth downward,
// temperature as colour with numbered isotherms, the wanted layer between two dashed lines. What is out is drawn
// whole, what is to come dashed; hooks are discs with a bar for their band (filled: in the wanted layer; open: outside;
// large and lit: next; small: to come; crossed: lost or empty). All geometry comes from the ship.
import { font } from './font.ts';
import type { components } from '../api/api.d.ts';
import { Labels, type Point } from './labels.ts';
import { field, isotherms } from './plan-section.ts';

export type ScreenSection = components['schemas']['ScreenSection'];
type Hook = components['schemas']['SectionHook'];
type State = Hook['state'];

/** A basket and how far it is out. */
export interface Hung {
  section: ScreenSection;
  /** Names of its floats. */
  from: string;
  to: string;
  /** The hook clipped last, by the beat; null: as the ship told it. */
  position: number | null;
  to_come: boolean;
}

export interface HangingWords {
  unit: string;
  layer: string;
  next: (hook: number, depth_m: number, band_m: number) => string;
  unknown: string;
  temperature: (value: number) => string;
}

const [LEFT, TOP] = [56, 34];

/** What a hook is doing at the moment of the sentence, not at the moment of the fetch. */
export function stateAt(hook: Hook, position: number | null): State {
  if (position === null || hook.state === 'missed' || hook.state === 'lost' || hook.state === 'hauled' || hook.state === 'unknown') return hook.state;
  return hook.position <= position ? 'clipped' : hook.position === position + 1 ? 'next' : 'coming';
}

export function paintHanging(
  ctx: CanvasRenderingContext2D, width: number, height: number, hung: readonly Hung[], palette: string, colour: (token: string) => string, words: HangingWords,
): void {
  const last = hung.at(-1)?.section;
  if (!last) return;
  const with_isotherms = last.isotherms.length > 0;
  const [left, right, top, bottom] = [LEFT, width - (with_isotherms ? 66 : 12), TOP, height - 8];
  const floor_m = Math.max(10, ...hung.map((one) => one.section.draw_to_m));
  const y = (depth_m: number) => top + ((bottom - top) * depth_m) / floor_m;
  const on_water = palette === 'night' ? colour('ink') : '#ffffff';
  const halo = palette === 'night' ? '#000000' : '#0b1217';
  const labels = new Labels({ x0: left + 4, y0: top + 4, x1: right - 4, y1: bottom - 4 });
  const layer_m = last.wanted_layer_m ?? null;
  const trace = (points: readonly Point[]) => {
    ctx.beginPath();
    points.forEach((point, at) => (at === 0 ? ctx.moveTo(...point) : ctx.lineTo(...point)));
  };
  const twice = (breadth: number, alpha = 0.95, dash: number[] = []) => {
    ctx.setLineDash(dash);
    for (const [tone, share, wide] of [[halo, palette === 'day' ? 0.85 : 0.55, breadth + (palette === 'day' ? 3 : 2.5)], [on_water, alpha, breadth]] as const) {
      ctx.strokeStyle = tone;
      ctx.globalAlpha = share;
      ctx.lineWidth = wide;
      ctx.stroke();
    }
    ctx.setLineDash([]);
    ctx.globalAlpha = 1;
  };
  const write = (text: string, [x, at]: Point, size: number) => {
    ctx.textAlign = 'left';
    ctx.lineWidth = 4;
    ctx.lineJoin = 'round';
    ctx.strokeStyle = halo;
    ctx.strokeText(text, x, at + size);
    ctx.fillStyle = on_water;
    ctx.fillText(text, x, at + size);
  };

  field(ctx, { left, right, top, bottom }, floor_m, last.levels, palette, colour);
  isotherms(ctx, last, { left, right, top, bottom }, y, floor_m, palette === 'day' ? halo : on_water, colour, words, font);
  axis(ctx, left, top, floor_m, y, colour, font, words.unit, Math.max(2, Math.floor((bottom - top) / 34)));
  ctx.save();
  ctx.beginPath();
  ctx.rect(left, 0, right - left, height);
  ctx.clip();
  if (layer_m) {
    for (const depth of layer_m) {
      trace([[left, y(depth)], [right, y(depth)]]);
      twice(2, 0.9, [11, 7]);
      labels.blockLine([[left, y(depth)], [right, y(depth)]]);
    }
  }

  const spans = hung.map((one) => one.section.span_m ?? 0);
  const usual = spans.find((span) => span > 0) ?? 100;
  const whole = spans.reduce((sum, span) => sum + (span || usual), 0);
  const scale = (right - left - 60) / whole;
  let x0 = left + 30;
  let next: { at: Point; text: string } | null = null;
  const floats: { x: number; name: string; to_come: boolean }[] = [];
  hung.forEach((one, index) => {
    const { section, position } = one;
    const begins = x0;
    const x = (along_m: number) => begins + along_m * scale;
    x0 += (spans[index] || usual) * scale;
    floats.push({ x: begins, name: one.from, to_come: false });
    if (index === hung.length - 1) floats.push({ x: x0, name: one.to, to_come: one.to_come });
    if (section.main_line.length < 2) {
      ctx.font = font(18, 700);
      const room = ctx.measureText(words.unknown).width;
      const at = labels.place(room, 20, [[(begins + x0 - room) / 2, (top + bottom) / 2]], true);
      if (at) write(words.unknown, at, 18);
      return;
    }
    const states = section.hooks.map((hook) => stateAt(hook, position));
    const out = section.hooks.findLast((_, at) => !['next', 'coming'].includes(states[at]!));
    const out_m = position === null && !states.some((state) => state === 'next' || state === 'coming') ? Infinity : (out?.along_m ?? (position === 0 || out === undefined ? 0 : Infinity));
    const line = section.main_line.map(([along_m, depth_m]) => [x(along_m!), y(depth_m!)] as const);
    labels.blockLine(line);
    const radius = Math.max(3, Math.min(5.5, (scale * (spans[index] || usual)) / (section.hooks.length + 1) / 2.6));
    for (const hook of section.hooks) {
      if (hook.along_m == null || hook.depth_m == null || hook.band_m == null) continue;
      const bar = [[x(hook.along_m), y(Math.max(0, hook.depth_m - hook.band_m))], [x(hook.along_m), y(hook.depth_m + hook.band_m)]] as const;
      trace(bar);
      ctx.strokeStyle = on_water;
      ctx.globalAlpha = 0.4;
      ctx.lineWidth = radius + 1;
      ctx.stroke();
      ctx.globalAlpha = 1;
      labels.blockLine(bar);
    }
    // The float lines, the line that is out, the line to come.
    const cut = line.findIndex(([at_x]) => at_x > x(out_m));
    const [is_out, to_come] = cut < 0 ? [line, []] : [line.slice(0, cut), line.slice(Math.max(0, cut - 1))];
    trace([[line[0]![0], top], line[0]!]);
    twice(2);
    trace(is_out);
    twice(2.5);
    if (to_come.length > 0) {
      trace([...to_come, [line.at(-1)![0], top]]);
      twice(2, 0.95, [3, 6]);
    } else {
      trace([line.at(-1)!, [line.at(-1)![0], top]]);
      twice(2);
    }
    section.hooks.forEach((hook, at) => {
      if (hook.along_m == null || hook.depth_m == null || hook.clip_depth_m == null || states[at] === 'missed') return;
      trace([[x(hook.along_m), y(hook.clip_depth_m)], [x(hook.along_m), y(hook.depth_m)]]);
      twice(1, states[at] === 'coming' ? 0.5 : 0.85);
    });
    section.hooks.forEach((hook, at) => {
      if (hook.along_m == null) return;
      const state = states[at]!;
      const spot: Point = [x(hook.along_m), y(hook.depth_m ?? hook.clip_depth_m ?? 0)];
      disc(ctx, spot, state, hook.in_layer ?? layer_m === null, radius, on_water, halo, colour('lit'));
      labels.blockDisc(...spot, state === 'next' ? 10 : radius + 1);
      if (state === 'next' && hook.depth_m != null) next = { at: spot, text: words.next(hook.position, hook.depth_m, hook.band_m ?? 0) };
    });
  });
  ctx.restore();

  for (const one of floats) {
    ctx.beginPath();
    ctx.arc(one.x, top, 8, 0, 2 * Math.PI);
    ctx.fillStyle = colour('ground');
    ctx.fill();
    ctx.strokeStyle = colour(one.to_come ? 'soft' : 'ink');
    ctx.setLineDash(one.to_come ? [3, 3] : []);
    ctx.lineWidth = 3;
    ctx.stroke();
    ctx.setLineDash([]);
  }
  // The last name stands left of its float; the others right of theirs, where there is room up to the next.
  floats.forEach((one, at) => {
    ctx.font = font(17, one.to_come ? 400 : 700);
    ctx.fillStyle = colour(one.to_come ? 'soft' : 'ink');
    const room = ctx.measureText(one.name).width;
    const ends = at === floats.length - 1;
    const [before, after] = [floats[at - 1], floats[at + 1]];
    ctx.textAlign = ends ? 'right' : 'left';
    const used = ends && before ? ctx.measureText(before.name).width + 40 : 24;
    const free = ends ? one.x - (before?.x ?? left) - used : (after?.x ?? right) - one.x - 24;
    if (room < free) ctx.fillText(one.name, one.x + (ends ? -14 : 14), top - 14);
  });

  // What is next comes before the name of the layer: both step aside from lines, bars and hooks.
  const told = next as { at: Point; text: string } | null;
  if (told) {
    ctx.font = font(19, 700);
    const room = ctx.measureText(told.text).width;
    const [x, at_y] = told.at;
    const clamp = (value: number) => Math.max(left + 8, Math.min(right - 8 - room, value));
    const lowest = Math.max(...hung.flatMap((one) => one.section.hooks.map((hook) => y((hook.depth_m ?? 0) + (hook.band_m ?? 0)))));
    const shifts = [0, -40, 40, -90, 90, -150, 150, -220, 220, -300, 300];
    const levels = Array.from({ length: Math.max(0, Math.floor((bottom - top - 30) / 16)) }, (_, at) => bottom - 28 - at * 16).sort((a, b) => Math.abs(a - at_y) - Math.abs(b - at_y));
    const spots: Point[] = [
      ...[14, 34, 54].map((gap): Point => [clamp(x - room / 2), Math.max(at_y, lowest) + gap]),
      ...levels.flatMap((level) => shifts.map((shift): Point => [clamp(x - room / 2 + shift), level])),
    ];
    const found = labels.place(room, 21, spots, true);
    if (found) write(told.text, found, 19);
  }
  if (layer_m && words.layer) {
    ctx.font = font(16);
    const room = ctx.measureText(words.layer).width;
    const [upper, lower] = [y(layer_m[0]!), y(layer_m[1]!)];
    const found = labels.place(room, 18, [
      [left + 12, lower + 5], [right - 12 - room, lower + 5], [left + 12, lower - 24], [right - 12 - room, lower - 24], [left + 12, upper - 24], [right - 12 - room, upper - 24], [left + 12, upper + 5],
    ]);
    if (found) write(words.layer, found, 16);
  }
}

function disc(ctx: CanvasRenderingContext2D, [x, y]: Point, state: State, wanted: boolean, radius: number, on_water: string, halo: string, lit: string): void {
  const cross = (size: number) => {
    for (const [tone, wide] of [[halo, 5], [on_water, 2]] as const) {
      ctx.strokeStyle = tone;
      ctx.lineWidth = wide;
      ctx.beginPath();
      ctx.moveTo(x - size, y - size);
      ctx.lineTo(x + size, y + size);
      ctx.moveTo(x + size, y - size);
      ctx.lineTo(x - size, y + size);
      ctx.stroke();
    }
  };
  if (state === 'missed' || state === 'lost') return cross(state === 'missed' ? 3 : 4.5);
  if (state === 'unknown') {
    ctx.font = font(16, 700);
    ctx.textAlign = 'center';
    ctx.fillStyle = on_water;
    return void ctx.fillText('?', x, y + 6);
  }
  ctx.globalAlpha = state === 'hauled' ? 0.5 : 1;
  ctx.beginPath();
  ctx.arc(x, y, state === 'next' ? 9.5 : state === 'coming' ? Math.min(3, radius) : radius, 0, 2 * Math.PI);
  ctx.lineWidth = 2;
  if (state !== 'next' && state !== 'coming' && !wanted) {
    // Open: the water is seen through it.
    for (const [tone, breadth] of [[halo, 4.5], [on_water, 2]] as const) {
      ctx.strokeStyle = tone;
      ctx.lineWidth = breadth;
      ctx.stroke();
    }
  } else {
    ctx.fillStyle = state === 'next' ? lit : on_water;
    ctx.strokeStyle = halo;
    ctx.fill();
    if (state !== 'coming') ctx.stroke();
  }
  ctx.globalAlpha = 1;
}

function axis(
  ctx: CanvasRenderingContext2D, left: number, top: number, floor_m: number, y: (depth_m: number) => number, colour: (token: string) => string,
  font: (size: number) => string, unit: string, most: number,
): void {
  const step = [5, 10, 20, 50, 100, 200, 500].find((one) => floor_m / one <= most) ?? 1_000;
  ctx.font = font(16);
  ctx.textAlign = 'right';
  for (let depth = 0; depth <= floor_m + 1e-9; depth += step) {
    ctx.fillStyle = colour('soft');
    ctx.fillText(String(depth), left - 10, y(depth) + 6);
    ctx.strokeStyle = colour('edge');
    ctx.lineWidth = 1;
    ctx.beginPath();
    ctx.moveTo(left - 6, y(depth));
    ctx.lineTo(left, y(depth));
    ctx.stroke();
  }
  ctx.fillStyle = colour('soft');
  ctx.fillText(unit, left - 10, top - 14);
}

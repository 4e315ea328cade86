// Paints the strip: the whole line hanging under one surface, first float left, last right. All geometry comes from the
// ship (a share of the width, metres down); here it is only given a place. State is told by form first, by colour
// second: in the water filled, being set lit and broad, to come thin and dashed, hauled pale with a bar above, lost
// dotted and crossed, not known without filling and with a question mark.
import { font } from './font.ts';
import type { components } from '../api/api.d.ts';
import { Labels } from './labels.ts';

export type Strip = components['schemas']['ScreenStrip'];
export type ArcState = Strip['arcs'][number]['state'];

export interface Box {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

/** Where a basket lies along the strip, as shares of its width. */
export interface Span {
  basket: number;
  from: number;
  to: number;
  /** All that its pieces are doing. */
  states: ArcState[];
}

/** The baskets of a strip from left to right. */
export function spansOf(strip: Strip): Span[] {
  const found = new Map<number, Span>();
  for (const arc of strip.arcs) {
    const along = arc.points.map((point) => point[0]!);
    const span = found.get(arc.basket) ?? { basket: arc.basket, from: Infinity, to: -Infinity, states: [] };
    span.from = Math.min(span.from, ...along);
    span.to = Math.max(span.to, ...along);
    if (!span.states.includes(arc.state)) span.states.push(arc.state);
    found.set(arc.basket, span);
  }
  return [...found.values()].sort((a, b) => a.from - b.from);
}

/** Which basket lies at a share of the width; the index among the spans, −1 for none. */
export function spanAt(share: number, spans: readonly Span[]): number {
  return spans.findIndex((span) => share >= span.from && share < span.to);
}

/** A basket's own word: what most of it is doing. */
export function stateOf(span: Span): ArcState {
  const order: ArcState[] = ['being_set', 'in_water', 'unknown', 'hauled', 'lost', 'to_come'];
  return order.find((state) => span.states.includes(state)) ?? 'to_come';
}

export interface StripWords {
  hour: (at_utc: string) => string;
}

export function paintStrip(ctx: CanvasRenderingContext2D, strip: Strip, box: Box, colour: (token: string) => string, picked: Span | null, words: StripWords): void {
  const wide = box.right - box.left;
  const x = (share: number) => box.left + share * wide;
  const y = (depth_m: number) => box.top + ((box.bottom - box.top) * Math.min(depth_m, strip.draw_to_m)) / Math.max(1, strip.draw_to_m);
  ctx.lineJoin = 'round';
  ctx.strokeStyle = colour('edge');
  ctx.lineWidth = 1;
  line(ctx, box.left, box.top, box.right, box.top);
  const spans = spansOf(strip);
  const being = spans.find((span) => span.states.includes('being_set'));
  if (being) {
    // However narrow it is, the basket in hand is seen from across the wheelhouse.
    const middle = (x(being.from) + x(being.to)) / 2;
    const half = Math.max(5, (x(being.to) - x(being.from)) / 2);
    ctx.fillStyle = colour('lit');
    ctx.globalAlpha = 0.3;
    ctx.fillRect(middle - half, box.top - 8, 2 * half, box.bottom - box.top + 12);
    ctx.globalAlpha = 1;
  }
  for (const arc of strip.arcs) {
    const trace = () => {
      ctx.beginPath();
      arc.points.forEach((point, at) => (at === 0 ? ctx.moveTo(x(point[0]!), y(point[1]!)) : ctx.lineTo(x(point[0]!), y(point[1]!))));
    };
    const width = x(arc.points.at(-1)![0]!) - x(arc.points[0]![0]!);
    if (arc.state === 'in_water' && arc.depth_known) {
      trace();
      ctx.lineTo(x(arc.points.at(-1)![0]!), box.top);
      ctx.lineTo(x(arc.points[0]![0]!), box.top);
      // At night as little light as tells the form.
      ctx.globalAlpha = colour('ground') === '#000000' ? 0.2 : 0.35;
      ctx.fillStyle = colour('line');
      ctx.fill();
      ctx.globalAlpha = 1;
    }
    trace();
    ctx.setLineDash(arc.state === 'to_come' ? [2, 3] : arc.state === 'lost' ? [1, 3] : []);
    ctx.globalAlpha = arc.state === 'hauled' ? 0.6 : arc.state === 'to_come' && width < 8 ? 0.7 : 1;
    ctx.strokeStyle = colour({ being_set: 'lit', in_water: 'line', to_come: 'edge', hauled: 'edge', lost: 'doubt', unknown: 'line' }[arc.state]);
    ctx.lineWidth = arc.state === 'being_set' ? 3 : arc.state === 'in_water' ? 1.5 : 1;
    ctx.stroke();
    ctx.setLineDash([]);
    ctx.globalAlpha = 1;
    const middle = arc.points[Math.floor(arc.points.length / 2)]!;
    if (arc.state === 'lost') cross(ctx, x(middle[0]!), y(middle[1]!) / 2 + box.top / 2, 4, colour('doubt'));
    if (arc.state === 'unknown' && width > 9) ask(ctx, x(middle[0]!), (y(middle[1]!) + box.top) / 2 + 5, colour('doubt'));
  }
  ctx.fillStyle = colour('edge');
  for (const [from, to] of strip.hauled_bars) ctx.fillRect(x(from!), box.top - 5, (to! - from!) * wide, 3);
  for (const [at, depth] of strip.crosses) cross(ctx, x(at!), y(depth!), 2.5, colour('doubt'));
  for (const [at, depth] of strip.questions) ask(ctx, x(at!), y(depth!) + 5, colour('doubt'));
  for (const at of strip.missing_floats) cross(ctx, x(at), box.top, 4, colour('doubt'));
  for (const dot of strip.dots) {
    ctx.beginPath();
    ctx.arc(x(dot.at), y(dot.depth_m), dot.kept ? 2.8 : 2.2, 0, 2 * Math.PI);
    ctx.strokeStyle = ctx.fillStyle = colour('lit');
    ctx.lineWidth = 1;
    if (dot.guessed) ctx.setLineDash([1.5, 1.5]);
    if (dot.kept && !dot.guessed) ctx.fill();
    else ctx.stroke();
    ctx.setLineDash([]);
  }
  lightBars(ctx, strip, x, box.bottom + 5, colour);
  if (strip.haul) {
    const way = strip.haul.towards === 'first' ? -1 : 1;
    const at = x(strip.haul.at);
    ctx.strokeStyle = ctx.fillStyle = colour('lit');
    ctx.lineWidth = 3;
    line(ctx, at, box.top - 12, at + way * 26, box.top - 12);
    ctx.beginPath();
    ctx.moveTo(at + way * 36, box.top - 12);
    ctx.lineTo(at + way * 24, box.top - 18);
    ctx.lineTo(at + way * 24, box.top - 6);
    ctx.fill();
  }
  if (picked) {
    ctx.strokeStyle = colour('ink');
    ctx.lineWidth = 2;
    ctx.strokeRect(x(picked.from) - 1, box.top - 9, (picked.to - picked.from) * wide + 2, box.bottom - box.top + 12);
  }
  const labels = new Labels({ x0: 0, y0: 0, x1: box.right + box.left, y1: 1e4 });
  if (strip.haul) {
    // A buoy's name steps aside for the arrow.
    const [from, way] = [x(strip.haul.at), strip.haul.towards === 'first' ? -1 : 1];
    labels.block({ x0: Math.min(from, from + way * 38), y0: box.top - 20, x1: Math.max(from, from + way * 38), y1: box.top - 4 });
  }
  flags(ctx, strip, box, x, labels, colour);
  ctx.font = font(15);
  ctx.fillStyle = colour('soft');
  ctx.textAlign = 'left';
  for (const hour of strip.hours) {
    const text = words.hour(hour.at_utc);
    const room = ctx.measureText(text).width;
    ctx.fillRect(x(hour.at), box.bottom + 4, 1, 9);
    const at = labels.place(room, 15, [[x(hour.at) - room / 2, box.bottom + 13], [x(hour.at) + 3, box.bottom + 13], [x(hour.at) - room - 3, box.bottom + 13]]);
    if (at) ctx.fillText(text, at[0], at[1] + 13);
  }
}

/** Night: a full bar; twilight: half as high; day: an open one. */
function lightBars(ctx: CanvasRenderingContext2D, strip: Strip, x: (share: number) => number, top: number, colour: (token: string) => string): void {
  for (const bar of strip.light) {
    const [x0, x1] = [x(bar.from), x(bar.to)];
    ctx.fillStyle = ctx.strokeStyle = colour(bar.light === 'day' ? 'lit' : 'soft');
    ctx.globalAlpha = 0.85;
    if (bar.light === 'night') ctx.fillRect(x0, top, x1 - x0, 6);
    else if (bar.light === 'twilight') ctx.fillRect(x0, top + 3, x1 - x0, 3);
    else {
      ctx.lineWidth = 1.5;
      if (x1 - x0 > 3) ctx.strokeRect(x0 + 1, top + 0.75, x1 - x0 - 2, 4.5);
    }
    ctx.globalAlpha = 1;
  }
}

function flags(ctx: CanvasRenderingContext2D, strip: Strip, box: Box, x: (share: number) => number, labels: Labels, colour: (token: string) => string): void {
  ctx.font = font(15);
  ctx.textAlign = 'left';
  ctx.strokeStyle = ctx.fillStyle = colour('ink');
  for (const flag of strip.flags) {
    const at = x(flag.at);
    ctx.lineWidth = 2;
    line(ctx, at, box.top, at, box.top - 20);
    ctx.beginPath();
    ctx.moveTo(at, box.top - 20);
    ctx.lineTo(at + 12, box.top - 15);
    ctx.lineTo(at, box.top - 10);
    ctx.fill();
    labels.block({ x0: at - 2, y0: box.top - 21, x1: at + 13, y1: box.top });
  }
  for (const flag of strip.flags) {
    const [at, room] = [x(flag.at), ctx.measureText(flag.label).width];
    const found = labels.place(room, 14, [[at + 16, box.top - 23], [at - room - 6, box.top - 23]]);
    if (found) ctx.fillText(flag.label, found[0], found[1] + 13);
  }
}

function cross(ctx: CanvasRenderingContext2D, x: number, y: number, size: number, tone: string): void {
  ctx.strokeStyle = tone;
  ctx.lineWidth = 2;
  line(ctx, x - size, y - size, x + size, y + size);
  line(ctx, x + size, y - size, x - size, y + size);
}

function ask(ctx: CanvasRenderingContext2D, x: number, y: number, tone: string): void {
  ctx.fillStyle = tone;
  ctx.font = font(14, 600);
  ctx.textAlign = 'center';
  ctx.fillText('?', x, y);
}

function line(ctx: CanvasRenderingContext2D, x0: number, y0: number, x1: number, y1: number): void {
  ctx.beginPath();
  ctx.moveTo(x0, y0);
  ctx.lineTo(x1, y1);
  ctx.stroke();
}

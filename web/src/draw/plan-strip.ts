// Paints the strip of a plan: every basket to come as a thin dashed arc as deep as it would hang, radio buoys as flags,
// night, twilight and day under it, the hours of clipping. Geometry as the ship gives it: shares of the width, metres.
import { font } from './font.ts';
import type { PlanStrip } from '../plan/types.ts';

export function paintPlanStrip(ctx: CanvasRenderingContext2D, width: number, height: number, strip: PlanStrip, colour: (token: string) => string, clock: (at_utc: string) => string): void {
  const [left, right, top, bottom] = [24, width - 24, 26, height - (height < 80 ? 12 : strip.light.length > 0 ? 30 : 8)];
  const low = height < 80;
  const x = (share: number) => left + (right - left) * share;
  const deepest = Math.max(1, strip.deepest_m ?? 0, ...strip.arcs.flatMap((arc) => arc.points.map((point) => point[1])));
  const y = (depth_m: number) => top + ((bottom - top) * depth_m) / deepest;
  ctx.strokeStyle = colour('edge');
  ctx.lineWidth = 1.5;
  ctx.beginPath();
  ctx.moveTo(left, top);
  ctx.lineTo(right, top);
  ctx.stroke();
  ctx.strokeStyle = colour('soft');
  ctx.lineWidth = 1.2;
  // Where arcs stand closer than a few pixels dashes would be lost.
  ctx.setLineDash(strip.arcs.length < 160 ? [3, 3] : [1, 2]);
  ctx.beginPath();
  for (const arc of strip.arcs) arc.points.forEach(([share, depth_m], at) => (at === 0 ? ctx.moveTo(x(share), y(depth_m)) : ctx.lineTo(x(share), y(depth_m))));
  ctx.stroke();
  ctx.setLineDash([]);
  ctx.font = font(15, 700);
  ctx.textAlign = 'left';
  let free_from = 0;
  for (const flag of strip.flags) {
    const at = x(flag.at);
    ctx.strokeStyle = ctx.fillStyle = colour('ink');
    ctx.lineWidth = 2;
    ctx.beginPath();
    ctx.moveTo(at, top);
    ctx.lineTo(at, 4);
    ctx.lineTo(at + 12, 9);
    ctx.lineTo(at, 14);
    ctx.stroke();
    ctx.fill();
    const room = ctx.measureText(flag.label).width;
    const from = at + 16 + room > width ? at - room - 6 : at + 16;
    if (from < free_from) continue;
    ctx.fillText(flag.label, from, 17);
    free_from = from + room + 8;
  }
  const tone = { night: 'edge', twilight: 'line', day: 'lit' } as const;
  for (const bar of strip.light) {
    // Told by height first: night is the low bar, day the high one.
    const high = { night: 4, twilight: 6, day: 8 }[bar.light];
    ctx.fillStyle = colour(tone[bar.light]);
    ctx.globalAlpha = bar.light === 'night' ? 1 : 0.75;
    ctx.fillRect(x(bar.from), height - (low ? 1 : 20) - high, x(bar.to) - x(bar.from), high);
  }
  ctx.globalAlpha = 1;
  ctx.font = font(15);
  ctx.fillStyle = colour('soft');
  free_from = left;
  for (const hour of low ? [] : strip.hours) {
    const label = clock(hour.at_utc);
    const room = ctx.measureText(label).width;
    const from = Math.min(right - room, Math.max(left, x(hour.at) - room / 2));
    if (from < free_from) continue;
    ctx.fillText(label, from, height - 4);
    free_from = from + room + 14;
  }
}

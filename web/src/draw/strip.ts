// Paints the strip: the whole line hanging under one surface, first float left. Depths and states come from the ship;
// here they are only given a place on the canvas. State is told by form first, by colour second.
export type State = 'planned' | 'setting' | 'water' | 'hauled' | 'lost' | 'unknown';

export interface StripBasket {
  basket: number;
  hooks: number;
  state: State;
  /** Computed depth of the deepest hook; null: hangs at a depth for drawing only, thin and without filling. */
  deepest_m: number | null;
  fish: number;
}

export interface Flag {
  /** The basket that begins there. */
  place: number;
  label: string;
}

export interface Box {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

/** Left edge of each basket and the right edge of the last, by hooks. */
export function edges(baskets: readonly StripBasket[], left: number, right: number): number[] {
  const total = baskets.reduce((sum, one) => sum + Math.max(1, one.hooks), 0) || 1;
  const found = [left];
  let passed = 0;
  for (const one of baskets) {
    passed += Math.max(1, one.hooks);
    found.push(left + ((right - left) * passed) / total);
  }
  return found;
}

/** Which basket lies at a place of the canvas; −1 for none. */
export function basketAt(x: number, at: readonly number[]): number {
  for (let one = 0; one + 1 < at.length; one++) if (x >= at[one]! && x < at[one + 1]!) return one;
  return -1;
}

export function paintStrip(ctx: CanvasRenderingContext2D, baskets: readonly StripBasket[], flags: readonly Flag[], box: Box, colour: (token: string) => string, picked: number): void {
  const at = edges(baskets, box.left, box.right);
  const deepest = Math.max(1, ...baskets.map((one) => one.deepest_m ?? 0));
  const room = box.bottom - box.top;
  ctx.lineJoin = 'round';
  ctx.strokeStyle = colour('edge');
  ctx.lineWidth = 1;
  line(ctx, box.left, box.top, box.right, box.top);
  baskets.forEach((one, index) => {
    const [x0, x1] = [at[index]!, at[index + 1]!];
    const dip = room * (one.deepest_m === null ? 0.45 : 0.15 + 0.85 * (one.deepest_m / deepest));
    const arc = () => {
      ctx.beginPath();
      ctx.moveTo(x0, box.top);
      // A cubic with both handles at 4/3 of the depth touches that depth in its middle.
      ctx.bezierCurveTo(x0 + (x1 - x0) * 0.2, box.top + dip * (4 / 3), x1 - (x1 - x0) * 0.2, box.top + dip * (4 / 3), x1, box.top);
    };
    ctx.setLineDash(one.state === 'planned' ? [2, 3] : one.state === 'lost' ? [1, 3] : []);
    ctx.globalAlpha = one.state === 'hauled' ? 0.6 : 1;
    if (one.state === 'setting') {
      ctx.fillStyle = colour('lit');
      ctx.globalAlpha = 0.3;
      ctx.fillRect(x0, box.top - 8, x1 - x0, room + 12);
      ctx.globalAlpha = 1;
    }
    if (one.state === 'water' && one.deepest_m !== null) {
      arc();
      ctx.globalAlpha = 0.35;
      ctx.fillStyle = colour('line');
      ctx.fill();
      ctx.globalAlpha = 1;
    }
    arc();
    ctx.strokeStyle = colour(one.state === 'setting' ? 'lit' : one.state === 'planned' || one.state === 'hauled' ? 'edge' : one.state === 'lost' ? 'doubt' : 'line');
    ctx.lineWidth = one.state === 'setting' ? 3 : one.state === 'water' ? 1.5 : 1;
    ctx.stroke();
    ctx.setLineDash([]);
    ctx.globalAlpha = 1;
    const middle = (x0 + x1) / 2;
    if (one.state === 'hauled') {
      ctx.fillStyle = colour('edge');
      ctx.fillRect(x0, box.top - 5, x1 - x0 + 0.5, 3);
    }
    if (one.state === 'lost') {
      ctx.strokeStyle = colour('doubt');
      ctx.lineWidth = 2;
      line(ctx, middle - 4, box.top + dip * 0.5 - 5, middle + 4, box.top + dip * 0.5 + 5);
      line(ctx, middle + 4, box.top + dip * 0.5 - 5, middle - 4, box.top + dip * 0.5 + 5);
    }
    if (one.state === 'unknown') {
      ctx.fillStyle = colour('doubt');
      ctx.font = '600 13px "Noto Sans", sans-serif';
      ctx.textAlign = 'center';
      if (x1 - x0 > 9) ctx.fillText('?', middle, box.top + dip * 0.6);
    }
    if (one.fish > 0) {
      ctx.fillStyle = colour('lit');
      for (let fish = 0; fish < Math.min(one.fish, 4); fish++) {
        ctx.beginPath();
        ctx.arc(middle, box.top + dip - 4 - fish * 7, 2.6, 0, 2 * Math.PI);
        ctx.fill();
      }
    }
    if (index === picked) {
      ctx.strokeStyle = colour('ink');
      ctx.lineWidth = 2;
      ctx.strokeRect(x0 - 1, box.top - 9, x1 - x0 + 2, room + 12);
    }
  });
  ctx.textAlign = 'left';
  ctx.font = '15px "Noto Sans", sans-serif';
  let free_from = -Infinity;
  for (const flag of flags) {
    const index = baskets.findIndex((one) => one.basket === flag.place);
    const x = index >= 0 ? at[index]! : at.at(-1)!;
    ctx.strokeStyle = ctx.fillStyle = colour('ink');
    ctx.lineWidth = 2;
    line(ctx, x, box.top, x, box.top - 20);
    ctx.beginPath();
    ctx.moveTo(x, box.top - 20);
    ctx.lineTo(x + 12, box.top - 15);
    ctx.lineTo(x, box.top - 10);
    ctx.fill();
    const width = ctx.measureText(flag.label).width;
    // A name steps aside to the left at the edge, and is left out where another one stands already.
    const name_x = x + 16 + width > box.right + 16 ? x - width - 6 : x + 16;
    if (name_x < free_from) continue;
    ctx.fillText(flag.label, name_x, box.top - 10);
    free_from = name_x + width + 6;
  }
}

function line(ctx: CanvasRenderingContext2D, x0: number, y0: number, x1: number, y1: number): void {
  ctx.beginPath();
  ctx.moveTo(x0, y0);
  ctx.lineTo(x1, y1);
  ctx.stroke();
}

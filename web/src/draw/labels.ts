// Places for words on a picture: a label takes the first of its places where it lies on nothing, or steps aside.

export interface Box {
  x0: number;
  y0: number;
  x1: number;
  y1: number;
}
export type Point = readonly [number, number];

/** Whether a straight piece runs through a box (Liang and Barsky 1984, ACM Transactions on Graphics 3(1): clipping by parameter). */
export function crosses(box: Box, [ax, ay]: Point, [bx, by]: Point): boolean {
  let [from, to] = [0, 1];
  for (const [run, gap] of [[ax - bx, ax - box.x0], [bx - ax, box.x1 - ax], [ay - by, ay - box.y0], [by - ay, box.y1 - ay]] as const) {
    if (run === 0) {
      if (gap < 0) return false;
      continue;
    }
    const at = gap / run;
    if (run < 0) from = Math.max(from, at);
    else to = Math.min(to, at);
  }
  return from <= to;
}

export const overlap = (a: Box, b: Box): boolean => a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1;

export class Labels {
  private readonly boxes: Box[] = [];
  private readonly pieces: [Point, Point][] = [];

  constructor(private readonly bounds: Box) {}

  block(box: Box): void {
    this.boxes.push(box);
  }

  blockDisc(x: number, y: number, radius: number): void {
    this.block({ x0: x - radius, y0: y - radius, x1: x + radius, y1: y + radius });
  }

  blockLine(points: readonly Point[]): void {
    for (let at = 0; at + 1 < points.length; at++) this.pieces.push([points[at]!, points[at + 1]!]);
  }

  private faults(box: Box): number {
    const { bounds } = this;
    const out = box.x0 < bounds.x0 || box.y0 < bounds.y0 || box.x1 > bounds.x1 || box.y1 > bounds.y1 ? 100 : 0;
    return out + 3 * this.boxes.filter((one) => overlap(one, box)).length + this.pieces.filter(([a, b]) => crosses(box, a, b)).length;
  }

  /**
   * Takes the first free of some places (left upper corners) for a label of a size, and blocks it. Where none is free:
   * null, or for a label that must stand the place with the fewest faults.
   */
  place(width: number, height: number, places: readonly Point[], must = false): Point | null {
    let best: { place: Point; faults: number } | null = null;
    for (const place of places) {
      const box = { x0: place[0] - 2, y0: place[1] - 1, x1: place[0] + width + 2, y1: place[1] + height + 1 };
      const faults = this.faults(box);
      if (!best || faults < best.faults) best = { place, faults };
      if (faults === 0) break;
    }
    if (!best || (best.faults > 0 && !must)) return null;
    const [x, y] = best.place;
    this.block({ x0: x - 4, y0: y - 2, x1: x + width + 4, y1: y + height + 2 });
    return best.place;
  }

  /** The places round a point: right, left, above and below, then the corners. */
  static round(x: number, y: number, width: number, height: number, gap: number): Point[] {
    const [l, r, u, d] = [x - gap - width, x + gap, y - gap - height, y + gap];
    const [mx, my] = [x - width / 2, y - height / 2];
    return [[r, my], [l, my], [mx, u], [mx, d], [r, u], [r, d], [l, u], [l, d], [r + gap, u - gap], [l - gap, u - gap], [r + gap, d + gap], [l - gap, d + gap]];
  }
}

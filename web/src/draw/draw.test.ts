// Places on the canvases: across 180°, and back from a touch to a basket.
import { describe, expect, it } from 'vitest';
import { barOf, frameOf, placeOf, unwrap } from './sea.ts';
import { depthOf, rampColour, steps } from './section.ts';
import { basketAt, edges } from './strip.ts';

describe('the sea from above', () => {
  it('verif_ a line across 180° is one run, either way', () => {
    expect(unwrap([179.9, -179.9, -179.7])).toEqual([179.9, 180.1, 180.3]);
    expect(unwrap([-179.9, 179.9])).toEqual([-179.9, -180.1]);
    expect(unwrap([10, 20])).toEqual([10, 20]);
  });

  it('verif_ the frame of a line across 180° is as wide as that of the same line elsewhere', () => {
    const line = (at: number) => [0, 0.1, 0.2, 0.3].map((step) => ({ latitude_deg: -14 - step, longitude_deg: ((at + step + 540) % 360) - 180 }));
    const [here, there] = [frameOf(line(179.85), 400, 300, 20, 4)!, frameOf(line(20), 400, 300, 20, 4)!];
    expect(here.px_per_nmi).toBeCloseTo(there.px_per_nmi, 9);
    const [a, b] = [line(179.85), line(20)].map((spots, which) => spots.map((spot) => placeOf([here, there][which]!, spot, 400, 300)));
    a!.forEach((spot, index) => spot.forEach((value, axis) => expect(value).toBeCloseTo(b![index]![axis]!, 6)));
    for (const [x, y] of a!) expect(x >= 20 - 1e-6 && x <= 380 + 1e-6 && y >= 20 - 1e-6 && y <= 280 + 1e-6).toBe(true);
  });

  it('verif_ north is up, east is right, and the bar is a round length', () => {
    const frame = frameOf([{ latitude_deg: 0, longitude_deg: 0 }, { latitude_deg: 1, longitude_deg: 1 }], 400, 400, 20, 4)!;
    const [x, y] = placeOf(frame, { latitude_deg: 1, longitude_deg: 1 }, 400, 400);
    expect(x > 200 && y < 200).toBe(true);
    expect(barOf(6, 400)).toBe(20);
    expect(barOf(400, 400)).toBe(0.2);
    expect(frameOf([], 400, 400, 20, 4)).toBeNull();
  });
});

describe('the strip', () => {
  it('verif_ a touch finds the basket that is drawn there', () => {
    const baskets = [25, 25, 10].map((hooks, at) => ({ basket: at + 1, hooks, state: 'water' as const, deepest_m: null, fish: 0 }));
    const at = edges(baskets, 24, 624);
    expect(at).toEqual([24, 274, 524, 624]);
    expect([10, 24, 300, 623, 624].map((x) => basketAt(x, at))).toEqual([-1, 0, 1, 2, -1]);
  });
});

describe('the section', () => {
  const levels = [[0, 28], [100, 24], [200, 14]].map(([depth_m, temperature_c]) => ({ depth_m: depth_m!, temperature_c: temperature_c! }));
  it('verif_ an isotherm lies where the profile has its temperature, and nowhere beyond it', () => {
    expect(depthOf(26, levels)).toBe(50);
    expect(depthOf(19, levels)).toBe(150);
    expect(depthOf(10, levels)).toBeNull();
  });
  it('verif_ steps are round', () => {
    expect([400, 300, 120].map((range) => steps(range, 6))).toEqual([100, 50, 20]);
  });
  it('verif_ at night the ramp is dark red throughout', () => {
    for (let share = 0; share <= 1; share += 0.1) {
      const [r, g, b] = rampColour(share, 'night').match(/\d+/g)!.map(Number) as [number, number, number];
      expect(r).toBeLessThan(65);
      expect(g <= r && b <= r / 4 + 1).toBe(true);
    }
  });
});

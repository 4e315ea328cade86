// Places on the canvases: across 180°, and back from a touch to a basket.
import { describe, expect, it } from 'vitest';
import { readFileSync } from 'node:fs';
import { graticule } from './graticule.ts';
import { landPath, takeLand } from './land.ts';
import { barOf, frameOf, placeOf, unwrap } from './sea.ts';
import { depthOf, rampColour, steps } from './section.ts';
import { stateAt } from './hanging.ts';
import { type ArcState, spanAt, spansOf, stateOf, type Strip } from './strip.ts';
import type { components } from '../api/api.d.ts';

type HookState = components['schemas']['HookState'];

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
  const arc = (basket: number, state: ArcState, from: number, to: number) => ({ basket, state, depth_known: true, points: [[from, 0], [(from + to) / 2, 90], [to, 0]] });
  const strip = {
    deepest_m: 90, draw_to_m: 95, floats: [], baskets_set: 2, baskets_to_come: 1, rests_on: 'planned_baskets', line_ends_at: 0.6, haul: null, hauled_bars: [], flags: [], missing_floats: [],
    crosses: [], questions: [], dots: [], light: [], hours: [],
    // Basket 2 is half out: two pieces of one basket.
    arcs: [arc(1, 'in_water', 0, 0.4), arc(2, 'being_set', 0.4, 0.6), arc(2, 'to_come', 0.6, 0.8), arc(3, 'to_come', 0.8, 1)],
  } satisfies Strip;

  it('verif_ a touch finds the basket that is drawn there, in pieces or whole', () => {
    const spans = spansOf(strip);
    expect(spans.map((span) => [span.basket, span.from, span.to])).toEqual([[1, 0, 0.4], [2, 0.4, 0.8], [3, 0.8, 1]]);
    expect([-0.1, 0, 0.39, 0.41, 0.7, 0.9, 1.1].map((share) => spans[spanAt(share, spans)]?.basket ?? null)).toEqual([null, 1, 1, 2, 2, 3, null]);
    expect(spans.map(stateOf)).toEqual(['in_water', 'being_set', 'to_come']);
  });
});

describe('a hook in the basket in hand', () => {
  const hook = (position: number, state: HookState) => ({ position, state, along_m: 1, clip_depth_m: 1, depth_m: 1, band_m: 1, in_layer: null });
  it('verif_ what it is doing follows the beat of the sentence, and what is known of it stands', () => {
    expect([11, 12, 13, 14].map((position) => stateAt(hook(position, 'coming'), 12))).toEqual(['clipped', 'clipped', 'next', 'coming']);
    expect(stateAt(hook(3, 'missed'), 12)).toBe('missed');
    expect(stateAt(hook(3, 'hauled'), null)).toBe('hauled');
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

describe('land', () => {
  const topology = JSON.parse(readFileSync(new URL('../../public/land-50m.json', import.meta.url), 'utf8')) as Parameters<typeof takeLand>[0];
  /** Widest step between neighbouring corners of the path, and whether a point is inside by the even-odd rule. */
  const rings = (path: string) => path.split('Z').filter(Boolean).map((ring) => [...ring.matchAll(/[ML]([-\d.e]+),([-\d.e]+)/g)].map(([, x, y]) => [Number(x), Number(y)] as const));
  const inside = (path: string, x: number, y: number) => {
    let count = 0;
    for (const ring of rings(path)) {
      for (let at = 0; at < ring.length; at++) {
        const [a, b] = [ring[at]!, ring[(at + 1) % ring.length]!];
        if (a[1] > y !== b[1] > y && x < a[0] + ((y - a[1]) / (b[1] - a[1])) * (b[0] - a[0])) count += 1;
      }
    }
    return count % 2 === 1;
  };
  takeLand(topology);

  // Source: Natural Earth's own land; the places are of any atlas (Viti Levu 17.8 S 178.0 E; Taveuni 16.85 S 180.0;
  // open sea 19.5 S 179.5 W), tolerance: none is within 5 miles of a shore but Taveuni, which lies on the meridian.
  it('val_ round Fiji land is land and sea is sea on both sides of 180°, whatever the middle of the picture', () => {
    for (const longitude_deg of [178, 179.99, -179.99, -178]) {
      const frame = { latitude_deg: -17.5, longitude_deg, px_per_nmi: 1 };
      const path = landPath(frame, 800, 600, null)!;
      const at = (latitude: number, longitude: number) => placeOf(frame, { latitude_deg: latitude, longitude_deg: longitude }, 800, 600);
      const land = (latitude: number, longitude: number) => inside(path, ...at(latitude, longitude));
      expect(land(-17.8, 178), `Viti Levu from ${longitude_deg}`).toBe(true);
      expect(land(-19.5, -179.5), `open sea east of 180° from ${longitude_deg}`).toBe(false);
      expect(land(-19.5, 179.5), `open sea west of 180° from ${longitude_deg}`).toBe(false);
    }
  });

  it('verif_ no bar of land is drawn across the picture at 180°', () => {
    const path = landPath({ latitude_deg: -17, longitude_deg: -179.9, px_per_nmi: 1 }, 800, 600, null)!;
    for (const ring of rings(path)) {
      const wide = Math.max(...ring.map(([x]) => x)) - Math.min(...ring.map(([x]) => x));
      const high = Math.max(...ring.map(([, y]) => y)) - Math.min(...ring.map(([, y]) => y));
      expect(wide < 700 || high > 20, `a ring ${wide} wide and ${high} high`).toBe(true);
    }
  });

  it('verif_ meridians run on across 180° and 180° bears no letter', () => {
    const { meridians, parallels } = graticule({ latitude_deg: -14, longitude_deg: 179.9, px_per_nmi: 10 }, 600, 400);
    expect(meridians.map((line) => line.label)).toEqual(['179°30′ E', '179°40′ E', '179°50′ E', '180°00′', '179°50′ W', '179°40′ W']);
    expect(meridians.every((line, index) => index === 0 || line.px > meridians[index - 1]!.px)).toBe(true);
    expect(parallels.map((line) => line.label)).toContain('14°00′ S');
    expect(graticule({ latitude_deg: 0, longitude_deg: 0, px_per_nmi: 10 }, 600, 400).meridians.map((line) => line.label)).toContain('0°00′');
  });
});

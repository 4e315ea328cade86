// Words that step aside, and places on the plan's chart there and back.
import { describe, expect, it } from 'vitest';
import { crosses, Labels, overlap } from './labels.ts';
import { bearingOf, chartFrame, type ChartPicture, spotAt } from './plan-chart.ts';
import { placeOf } from './sea.ts';

describe('labels', () => {
  it('verif_ a piece through a box is found, one beside it is not', () => {
    const box = { x0: 10, y0: 10, x1: 20, y1: 20 };
    expect(crosses(box, [0, 15], [30, 15])).toBe(true);
    expect(crosses(box, [0, 0], [30, 30])).toBe(true);
    expect(crosses(box, [12, 12], [13, 13])).toBe(true);
    expect(crosses(box, [0, 25], [30, 25])).toBe(false);
    expect(crosses(box, [0, 12], [9, 12])).toBe(false);
    expect(crosses(box, [0, 15], [12, 30])).toBe(false);
  });
  it('verif_ the first free place is taken, and no second label on it', () => {
    const labels = new Labels({ x0: 0, y0: 0, x1: 200, y1: 200 });
    labels.blockLine([[0, 50], [200, 50]]);
    expect(labels.place(40, 16, [[10, 45], [10, 60]])).toEqual([10, 60]);
    expect(labels.place(40, 16, [[20, 62], [20, 100]])).toEqual([20, 100]);
    expect(labels.place(40, 16, [[20, 62], [20, 45]])).toBeNull();
    expect(labels.place(40, 16, [[190, 150]])).toBeNull();
    expect(labels.place(40, 16, [[190, 150], [20, 45]], true)).toEqual([20, 45]);
    expect(overlap({ x0: 0, y0: 0, x1: 5, y1: 5 }, { x0: 5, y0: 0, x1: 9, y1: 5 })).toBe(false);
  });
});

describe('the plan’s chart', () => {
  const picture = (longitude: number): ChartPicture => ({
    tracks: [{ letter: 'A', open: true, spots: [{ latitude_deg: -14.5, longitude_deg: longitude }, { latitude_deg: -14.2, longitude_deg: ((longitude + 0.4 + 540) % 360) - 180 }] }],
    leg: 0, buoys: [], last: [], catches: [], zones: [], edges: [], ship: null, current: null,
  });
  it('verif_ there and back, also across 180°', () => {
    for (const longitude of [20, 179.8]) {
      const frame = chartFrame(picture(longitude), 700, 260)!;
      for (const [x, y] of [[30, 40], [350, 130], [690, 250]] as const) {
        const spot = spotAt(frame, x, y, 700, 260);
        expect(spot.longitude_deg >= -180 && spot.longitude_deg < 180).toBe(true);
        const back = placeOf(frame, spot, 700, 260);
        expect(back[0]).toBeCloseTo(x, 6);
        expect(back[1]).toBeCloseTo(y, 6);
      }
    }
  });
  it('verif_ the frame is the same size on either side of the world', () => {
    expect(chartFrame(picture(179.8), 700, 260)!.px_per_nmi).toBeCloseTo(chartFrame(picture(20), 700, 260)!.px_per_nmi, 9);
  });
  it('verif_ a leg turned by a touch runs to the touch', () => {
    expect(bearingOf({ latitude_deg: 0, longitude_deg: 179.9 }, { latitude_deg: 0, longitude_deg: -179.9 })).toBe(90);
    expect(bearingOf({ latitude_deg: 0, longitude_deg: -179.9 }, { latitude_deg: 0, longitude_deg: 179.9 })).toBe(270);
    expect(bearingOf({ latitude_deg: -1, longitude_deg: 5 }, { latitude_deg: 1, longitude_deg: 5 })).toBe(0);
    expect(bearingOf({ latitude_deg: 60, longitude_deg: 0 }, { latitude_deg: 60.5, longitude_deg: 1 })).toBe(45);
  });
});

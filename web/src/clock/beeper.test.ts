// The beeper against a sound card that is only a clock: what is placed, moved, stopped and passed over.
import { describe, expect, it } from 'vitest';
import { Beeper } from './beeper.ts';
import { type Line, notes } from './tones.ts';

class Card {
  currentTime = 0;
  outputLatency = 0;
  destination = {};
  started: { at_s: number; stopped: boolean }[] = [];
  createGain() {
    const gain = { setValueAtTime: () => {}, linearRampToValueAtTime: () => {} };
    return { gain, connect: (to: unknown) => to };
  }
  createOscillator() {
    const one = { at_s: NaN, stopped: false };
    return {
      frequency: { value: 0 },
      connect: (to: unknown) => to,
      start: (at_s: number) => {
        one.at_s = at_s;
        this.started.push(one);
      },
      stop: (when?: number) => {
        if (when === undefined) one.stopped = true;
      },
    };
  }
}

const line = (change: Partial<Line> = {}): Line => ({
  anchors: [{ basket: 1, position: 0, at_ms: 0, beat_s: 0.3, float_takes_a_beat: true, count_in: 0 }],
  hooksOf: () => 25,
  stops: [],
  radio_buoys: [],
  bin_empty_at: null,
  ...change,
});

/** First notes only: each sound begins one. */
function begun(card: Card): number[] {
  return card.started.filter((one) => !one.stopped).map((one) => one.at_s);
}

describe('the beeper', () => {
  it('places a thousand beats, each once and none late, with ticks that come 430 ms apart and a card that runs off', () => {
    const card = new Card();
    const beeper = new Beeper(card as unknown as AudioContext);
    // 50 ppm fast: in five minutes 15 ms.
    for (let now_ms = -1_000, step = 0; now_ms < 300_050; now_ms += step++ % 3 === 0 ? 430 : 25) {
      card.currentTime = (now_ms + 1_000) * 1.00005e-3;
      beeper.tick(now_ms, line());
    }
    const expected = Array.from({ length: 1_001 }, (_, beat) => beat);
    const sounds = expected.map((beat) => ({ beat, position: beat % 26 }));
    const parts = sounds.reduce((sum, { position }) => sum + notes(position === 0 ? 'float' : position === 22 ? 'float_soon' : 'hook').length, 0);
    // The last second is placed already.
    expect(beeper.count).toBeGreaterThanOrEqual(1_001);
    expect(beeper.count).toBeLessThanOrEqual(1_005);
    expect(begun(card).length).toBeGreaterThanOrEqual(parts);
    expect(beeper.passed_over).toBe(0);
    expect(beeper.least_ahead_ms).toBeGreaterThan(0);
    const firsts = begun(card).slice(0, parts);
    for (const { beat } of sounds) {
      const due_s = 1 + beat * 0.3;
      const nearest = Math.min(...firsts.map((at_s) => Math.abs(at_s / 1.00005 - due_s)));
      if (beat % 50 === 0) expect(nearest).toBeLessThan(0.001);
    }
  });

  it('stops what is placed when setting stops, and begins again in step', () => {
    const card = new Card();
    const beeper = new Beeper(card as unknown as AudioContext);
    beeper.tick(10, line());
    expect(beeper.count).toBe(3);
    const stopped = line({ stops: [{ from_ms: 20, to_ms: null }] });
    beeper.tick(35, stopped);
    expect(begun(card).length).toBe(0);
    const again = line({ stops: [{ from_ms: 20, to_ms: 5_020 }] });
    card.currentTime = 5.0;
    beeper.tick(5_010, again);
    // The hook due at 0.3 s is due at 5.3 s.
    expect(begun(card)[0]).toBeCloseTo(5.29, 6);
  });

  it('passes over what a stall has cost, and never bunches', () => {
    const card = new Card();
    const beeper = new Beeper(card as unknown as AudioContext);
    beeper.tick(0, line());
    const before = card.started.length;
    card.currentTime = 10;
    beeper.tick(10_000, line());
    expect(beeper.passed_over).toBe(30);
    expect(card.started.slice(before).every((one) => one.at_s > 10)).toBe(true);
    expect(beeper.heard).not.toBeNull();
  });

  it('moves what is placed when the beat is made quicker', () => {
    const card = new Card();
    const beeper = new Beeper(card as unknown as AudioContext);
    const slow = line({ anchors: [{ basket: 1, position: 0, at_ms: 0, beat_s: 0.8, float_takes_a_beat: true, count_in: 0 }] });
    beeper.tick(10, slow);
    expect(begun(card)).toHaveLength(1);
    beeper.tick(35, line());
    expect(begun(card).map((at_s) => Math.round(at_s * 1_000))).toEqual([265, 565, 865]);
  });

  it('does not sound a thing twice that another anchor puts a little later', () => {
    const card = new Card();
    const beeper = new Beeper(card as unknown as AudioContext);
    beeper.tick(250, line());
    card.currentTime = 0.06;
    beeper.tick(310, line({ anchors: [...line().anchors, { basket: 1, position: 1, at_ms: 340, beat_s: 0.3, float_takes_a_beat: true, count_in: 0 }] }));
    expect(begun(card).filter((at_s) => at_s < 0.2)).toHaveLength(1);
  });
});

// The score in two languages: the same cases as crates/voyage/src/score.rs.
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { type Sound, type Line, notes, tones } from './tones.ts';

interface Case {
  name: string;
  anchors: [number, number, number, number, boolean, number][];
  hooks: Record<string, number>;
  stops: [number, number | null][];
  radio_buoys: number[];
  bin_empty_at: number | null;
  from_s: number;
  to_s: number;
  tones: [number, Sound, number, number][];
}
const vectors = JSON.parse(readFileSync(new URL('../../vectors/tones.json', import.meta.url), 'utf8')) as { cases: Case[] };

function line(one: Case): Line {
  const from = Object.entries(one.hooks).map(([basket, hooks]) => [Number(basket), hooks] as const);
  return {
    anchors: one.anchors.map(([basket, position, at, beat_s, float_takes_a_beat, count_in]) => ({ basket, position, at_ms: at * 1_000, beat_s, float_takes_a_beat, count_in })),
    hooksOf: (basket) => from.findLast(([first]) => first <= basket)?.[1] ?? from[0]![1],
    stops: one.stops.map(([begin, end]) => ({ from_ms: begin * 1_000, to_ms: end === null ? null : end * 1_000 })),
    radio_buoys: one.radio_buoys,
    bin_empty_at: one.bin_empty_at,
  };
}

describe('the score', () => {
  for (const one of vectors.cases) {
    it(one.name, () => {
      const found = tones(line(one), one.from_s * 1_000, one.to_s * 1_000);
      expect(found.map((tone) => [tone.sound, tone.basket, tone.position])).toEqual(one.tones.map(([, ...rest]) => rest));
      found.forEach((tone, index) => expect(Math.abs(tone.at_ms / 1_000 - one.tones[index]![0])).toBeLessThan(2e-6));
    });
  }

  it('cut anywhere gives every tone once', () => {
    const one = vectors.cases.find((found) => found.anchors.length === 2)!;
    const whole = tones(line(one), -1_000, 42_000);
    const cut = Array.from({ length: 1_720 }, (_, step) => tones(line(one), -1_000 + step * 25, -1_000 + (step + 1) * 25)).flat();
    expect(cut).toEqual(whole);
    expect(notes('hook').length).toBe(1);
  });
});

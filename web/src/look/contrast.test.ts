// Contrast of every pair of colours that carries a word or a form, by the formula of WCAG 2.2, "relative luminance"
// and "contrast ratio" (w3.org/TR/WCAG22): 4.5 for text (1.4.3), 3 for edges and marks (1.4.11).
import { describe, expect, it } from 'vitest';
import palettes from './palettes.json' with { type: 'json' };

function luminance(colour: string): number {
  const [r, g, b] = [1, 3, 5].map((at) => {
    const share = parseInt(colour.slice(at, at + 2), 16) / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
function contrast(a: string, b: string): number {
  const [low, high] = [luminance(a), luminance(b)].sort((x, y) => x - y) as [number, number];
  return (high + 0.05) / (low + 0.05);
}

describe('palettes', () => {
  // Source: WCAG 2.2: black on white is 21:1, by definition of the formula; #777777 on white is the well-known 4.48.
  it('val_ the formula gives 21 for black on white', () => {
    expect(contrast('#000000', '#ffffff')).toBeCloseTo(21, 10);
    expect(contrast('#777777', '#ffffff')).toBeCloseTo(4.48, 2);
  });

  for (const [name, tokens] of Object.entries(palettes)) {
    it(`verif_ ${name}: words 4.5, edges and marks 3`, () => {
      for (const ground of ['ground', 'panel', 'key'] as const) {
        for (const word of ['ink', 'soft'] as const) {
          expect(contrast(tokens[word], tokens[ground]), `${word} on ${ground}`).toBeGreaterThanOrEqual(4.5);
        }
        for (const mark of ['edge', 'line', 'lit', 'doubt'] as const) {
          expect(contrast(tokens[mark], tokens[ground]), `${mark} on ${ground}`).toBeGreaterThanOrEqual(3);
        }
      }
      expect(contrast(tokens['on-lit'], tokens.lit)).toBeGreaterThanOrEqual(4.5);
      expect(contrast(tokens['on-mob'], tokens.mob)).toBeGreaterThanOrEqual(4.5);
    });
  }

  it('verif_ at night no colour has more blue than a quarter of its red', () => {
    for (const [token, colour] of Object.entries(palettes.night)) {
      const [r, , b] = [1, 3, 5].map((at) => parseInt(colour.slice(at, at + 2), 16)) as [number, number, number];
      expect(b, token).toBeLessThanOrEqual(r / 4 + 1);
    }
  });
});

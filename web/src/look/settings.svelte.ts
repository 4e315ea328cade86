// How this screen shows things: palette, dimmer, millimetres. Kept on the device, never sent.
export type Palette = 'day' | 'dusk' | 'night';
export const palettes: readonly Palette[] = ['day', 'dusk', 'night'];

const stored = (name: string) => localStorage.getItem(name);

/** Long side of a bank card, millimetres (ISO/IEC 7810, format ID-1). SOURCE NOT CHECKED. */
export const CARD_MM = 85.6;

/** Long side of the glass of a 10.1-inch tablet, mm: what a small touch screen is taken for until a card was held to it. */
const TABLET_MM = 217;
function guessed(): number {
  const long_px = Math.max(screen.width, screen.height);
  return matchMedia('(pointer: coarse)').matches && long_px <= 1_400 ? long_px / TABLET_MM : 5.9;
}

class Look {
  palette = $state<Palette>(palettes.find((one) => one === stored('palette')) ?? 'dusk');
  /** How much light is taken away, 0 to 0.8: never wholly dark. */
  dim = $state(Math.min(0.8, Math.max(0, Number(stored('dim') ?? 0) || 0)));
  /** CSS pixels in a millimetre of this screen's glass. */
  px_per_mm = $state(Number(stored('px_per_mm')) || guessed());

  choose(palette: Palette): void {
    this.palette = palette;
    localStorage.setItem('palette', palette);
  }

  /** Longer or shorter, until the bar on the screen is as long as the card held to it. */
  fit(change_px: number): void {
    this.px_per_mm = Math.min(20, Math.max(2, this.px_per_mm + change_px / CARD_MM));
    localStorage.setItem('px_per_mm', String(this.px_per_mm));
  }

  dimTo(dim: number): void {
    this.dim = Math.min(0.8, Math.max(0, dim));
    localStorage.setItem('dim', String(this.dim));
  }
}

export const look = new Look();

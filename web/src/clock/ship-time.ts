// The ship's time on this device: measured by questions to the ship, carried on by the steady counter.
//
// The quickest of eight answers is taken; half its round trip bounds the error. Wall clocks are for people: what is
// due and what is written use the ship's UTC, and the difference to this device's clock is told to the ship.
import type { components } from '../api/api.d.ts';

export type Basis = components['schemas']['TimeBasis'];

/** One measurement: the ship's UTC at a reading of the counter. */
export interface Reading {
  utc_ms: number;
  counter_ms: number;
  uncertainty_ms: number;
  basis: Basis;
  /** Ship seconds in a second, as the ship tells it. */
  rate?: number;
}

export class ShipTime {
  private reading: Reading | null = null;
  /** Ship milliseconds for each of the counter's: 1, but for a voyage that is played. */
  private rate = 1;

  constructor(
    private readonly now_ms: () => number = () => Date.now(),
    private readonly counter_ms: () => number = () => performance.now(),
  ) {}

  /** Ship's UTC; the device's own clock until the ship has answered. */
  utcMs(): number {
    if (!this.reading) return this.now_ms();
    return this.reading.utc_ms + (this.counter_ms() - this.reading.counter_ms) * this.rate;
  }

  /** Ship's UTC at a reading of this page's counter. */
  utcAtMs(counter_ms: number): number {
    if (!this.reading) return this.now_ms() - (this.counter_ms() - counter_ms);
    return this.reading.utc_ms + (counter_ms - this.reading.counter_ms) * this.rate;
  }

  get basis(): Basis | null {
    return this.reading?.basis ?? null;
  }

  /** Ship's UTC for judging ages; null unless it is measured and real. */
  realMs(): number | null {
    return this.reading && this.reading.basis !== 'played' ? this.utcMs() : null;
  }

  /** Whether the ship's time runs as time does: not where a voyage is played slower or faster. */
  get runs_true(): boolean {
    return Math.abs(this.rate - 1) < 0.02;
  }

  /** This device's clock minus the ship's UTC, seconds, and how sure. */
  offset(): { offset_s: number; uncertainty_s: number } | null {
    if (!this.reading) return null;
    return { offset_s: (this.now_ms() - this.utcMs()) / 1_000, uncertainty_s: this.reading.uncertainty_ms / 1_000 };
  }

  set(reading: Reading): void {
    const before = this.reading;
    this.rate = reading.basis === 'played' ? Math.max(0, reading.rate ?? 1) : 1;
    if (reading.rate === undefined && reading.basis === 'played' && before?.basis === 'played' && reading.counter_ms - before.counter_ms > 500) {
      const rate = (reading.utc_ms - before.utc_ms) / (reading.counter_ms - before.counter_ms);
      this.rate = rate > 0.98 && rate < 1.02 ? 1 : Math.max(0, rate);
    }
    this.reading = reading;
  }

  /** Whether a time that the ship has just named is not the one held here: a played voyage has changed its pace. */
  strays(utc: string, allowed_ms = 1_500): boolean {
    return this.reading !== null && Math.abs(Date.parse(utc) - this.utcMs()) > allowed_ms * Math.max(1, this.rate);
  }

  /** Asks the ship `times` times; true when it answered at least once. */
  async measure(ask: () => Promise<{ utc: string; basis: Basis; rate?: number } | null>, times = 8): Promise<boolean> {
    let best: Reading | null = null;
    for (let round = 0; round < times; round++) {
      const sent_ms = this.counter_ms();
      const got = await ask();
      if (!got) break;
      const trip_ms = this.counter_ms() - sent_ms;
      const utc_ms = Date.parse(got.utc);
      if (Number.isNaN(utc_ms)) break;
      if (!best || trip_ms / 2 < best.uncertainty_ms) {
        best = { utc_ms, counter_ms: sent_ms + trip_ms / 2, uncertainty_ms: trip_ms / 2, basis: got.basis, ...(got.rate === undefined ? {} : { rate: got.rate }) };
      }
    }
    if (best) this.set(best);
    return best !== null;
  }
}

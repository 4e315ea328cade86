// Sounds the score a second ahead by the audio clock: what a busy page does meanwhile comes too late to matter.
//
// Every tone is placed anew from the ship's time, so that a sound card that runs off does no harm; one that is already
// placed is moved or stopped when the beat says otherwise. What could not be placed in time is passed over, never
// bunched.
import { type Line, notes, type Tone, tones } from './tones.ts';

/** How far ahead tones are placed, ms: a worker's step of 434 ms in a hidden tab leaves more than half of it. */
export const AHEAD_MS = 1_000;
/** A tone that should move by less than this stays where it is, ms. */
const STAYS_MS = 12;
/** Attack and fall, s. */
const RAMP_S = 0.008;
const LOUDNESS = 0.45;
/** How long a tone that began is remembered, so that it does not sound twice, ms. */
const REMEMBERED_MS = 2_000;

interface Placed {
  tone: Tone;
  when_s: number;
  parts: { stop: (when?: number) => void }[];
}

export class Beeper {
  private placed: Placed[] = [];
  private covered_ms: number | null = null;
  /** Tones that could not be placed in time. */
  passed_over = 0;
  /** Tones that were placed, and the least time ahead of their moment, ms. */
  count = 0;
  least_ahead_ms = Infinity;
  /** The last tone that began by the audio clock. */
  heard: Tone | null = null;

  constructor(private readonly audio: AudioContext) {}

  /** One tick: `now_ms` is the ship's time; no line, no sound. */
  tick(now_ms: number, line: Line | null): void {
    const current_s = this.audio.currentTime;
    for (const one of this.placed) if (one.when_s <= current_s && one.tone.at_ms > (this.heard?.at_ms ?? -Infinity)) this.heard = one.tone;
    if (!line) {
      this.silence();
      return;
    }
    if (this.covered_ms !== null && now_ms > this.covered_ms) this.passed_over += tones(line, this.covered_ms, now_ms).length;
    const wanted = tones(line, now_ms, now_ms + AHEAD_MS);
    const same = (a: Tone, b: Tone) => a.sound === b.sound && a.basket === b.basket && a.position === b.position && Math.abs(a.at_ms - b.at_ms) < STAYS_MS;
    this.placed = this.placed.filter((one) => {
      if (one.when_s <= current_s) return one.tone.at_ms > now_ms - REMEMBERED_MS;
      if (wanted.some((tone) => same(tone, one.tone))) return true;
      for (const part of one.parts) part.stop();
      return false;
    });
    for (const tone of wanted) {
      const sounded = (one: Placed) => one.tone.basket === tone.basket && one.tone.position === tone.position && one.tone.sound !== 'count_in' && tone.sound !== 'count_in' && tone.at_ms - one.tone.at_ms < 100;
      if (this.placed.some((one) => same(one.tone, tone) || sounded(one))) continue;
      this.place(tone, current_s, now_ms);
    }
    this.covered_ms = Math.max(this.covered_ms ?? 0, now_ms + AHEAD_MS);
  }

  /** Stops what is placed. */
  silence(): void {
    for (const one of this.placed) if (one.when_s > this.audio.currentTime) for (const part of one.parts) part.stop();
    this.placed = [];
    this.covered_ms = null;
  }

  private place(tone: Tone, current_s: number, now_ms: number): void {
    const ahead_ms = tone.at_ms - now_ms;
    // What the device adds until the air moves is taken off, where it is known and there is time.
    const latency_s = Math.min(this.audio.outputLatency || 0, 0.2);
    const when_s = Math.max(current_s, current_s + ahead_ms / 1_000 - latency_s);
    this.count += 1;
    this.least_ahead_ms = Math.min(this.least_ahead_ms, ahead_ms);
    this.placed.push({ tone, when_s, parts: sound(this.audio, tone.sound, when_s) });
  }
}

/** Puts the notes of a sound on the audio clock. */
export function sound(audio: AudioContext, what: Tone['sound'], when_s: number): { stop: (when?: number) => void }[] {
  return notes(what).map((note) => {
    const [begin_s, end_s] = [when_s + note.after_ms / 1_000, when_s + (note.after_ms + note.length_ms) / 1_000];
    const [pitch, level] = [audio.createOscillator(), audio.createGain()];
    pitch.frequency.value = note.frequency_hz;
    level.gain.setValueAtTime(0, begin_s);
    level.gain.linearRampToValueAtTime(LOUDNESS, begin_s + RAMP_S);
    level.gain.setValueAtTime(LOUDNESS, end_s - RAMP_S);
    level.gain.linearRampToValueAtTime(0, end_s);
    pitch.connect(level).connect(audio.destination);
    pitch.start(begin_s);
    pitch.stop(end_s);
    return pitch;
  });
}

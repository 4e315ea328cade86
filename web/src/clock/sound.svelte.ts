// This screen's own sound: off until a person turns it on, for browsers give none before a tap. It watches itself: a
// tick that stays away and an audio clock that stands are told in large words, for silence means unclipped hooks.
import { ship } from '../ship.svelte.ts';
import BeatWorker from './beat-worker.ts?worker&inline';
import { Beeper, sound } from './beeper.ts';

/** Without a tick, or with an audio clock that stands, for so long: silent. */
const SILENT_MS = 1_200;
const LOOK_MS = 250;

class ScreenSound {
  on = $state(localStorage.getItem('sound') === 'on');
  /** The browser gives no sound before a tap. */
  held = $state(false);
  silent = $state(false);
  /** When a tone last began here, ship's time; that is the check that it beeped. */
  heard_ms = $state<number | null>(null);
  /** What was placed so far, for whoever measures it: tones, those that were passed over, the least time ahead. */
  figures = $state.raw({ tones: 0, passed_over: 0, least_ahead_ms: Infinity });
  private audio: AudioContext | null = null;
  private beeper: Beeper | null = null;
  private ticked_ms = 0;
  private audio_s = 0;
  private moved_ms = 0;

  /** Called once by the page. */
  start(): void {
    if (this.on) this.open();
    setInterval(() => this.look(), LOOK_MS);
    // The first tap anywhere frees the sound of a page that was loaded with it on.
    addEventListener('pointerup', () => this.on && void this.audio?.resume());
    addEventListener('keydown', () => this.on && void this.audio?.resume());
  }

  toggle(): void {
    // A key that says that the sound is held back frees it.
    if (this.on && this.held) {
      void this.audio?.resume().then(() => this.check());
      return;
    }
    this.on = !this.on;
    localStorage.setItem('sound', this.on ? 'on' : 'off');
    if (this.on) {
      this.open();
      void this.audio?.resume().then(() => this.check());
    } else {
      this.beeper?.silence();
      void this.audio?.suspend();
      this.silent = false;
    }
  }

  /** One tick of the count-in, at once: whoever turned it on hears that it works. */
  private check(): void {
    if (!this.audio) return;
    sound(this.audio, 'count_in', this.audio.currentTime + 0.05);
    this.heard_ms = ship.time.utcMs();
  }

  private open(): void {
    if (this.audio) return;
    this.audio = new AudioContext({ latencyHint: 'interactive' });
    this.beeper = new Beeper(this.audio);
    this.moved_ms = performance.now();
    try {
      const worker = new BeatWorker();
      worker.onmessage = () => this.tick();
    } catch {
      // A browser without workers: its own timer does while the page is in front.
      setInterval(() => this.tick(), 25);
    }
  }

  private tick(): void {
    this.ticked_ms = performance.now();
    if (!this.on || !this.beeper || !this.audio) return;
    const sounds = this.audio.state === 'running' && ship.time.runs_true;
    this.beeper.tick(ship.time.utcMs(), sounds ? ship.line : null);
    const heard_ms = this.beeper.heard?.at_ms ?? null;
    if (heard_ms !== null && heard_ms > (this.heard_ms ?? 0)) this.heard_ms = heard_ms;
  }

  private look(): void {
    if (!this.on || !this.audio) return;
    const now_ms = performance.now();
    if (this.audio.currentTime !== this.audio_s) this.moved_ms = now_ms;
    this.audio_s = this.audio.currentTime;
    this.held = this.audio.state !== 'running';
    if (this.beeper) this.figures = { tones: this.beeper.count, passed_over: this.beeper.passed_over, least_ahead_ms: this.beeper.least_ahead_ms };
    const stands = now_ms - this.moved_ms > SILENT_MS || now_ms - this.ticked_ms > SILENT_MS;
    this.silent = stands && ship.due !== null && !ship.due.stopped && ship.time.runs_true;
  }
}

export const screen_sound = new ScreenSound();

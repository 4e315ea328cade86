// The live stream by fetch: heartbeats are comments, which EventSource hides, and only they tell a dead link from a
// quiet one (the ship sends one after so many seconds of silence; twice as long without means that the link is down).
//
// Resumes with the id of the last journal row; rows come once each and in order. Source of the parsing rules: WHATWG,
// HTML Living Standard, section 9.2.6 "Interpreting an event stream".
import type { components } from './api.d.ts';

type Schemas = components['schemas'];
export type Row = Schemas['KeptRow'];
export type Health = Schemas['Health'];
export type Beat = Schemas['BeatView'];

/** One message as it is framed. */
export interface Frame {
  event: string;
  data: string;
  id: string;
}

/** Cuts a stream into frames; bytes may be cut anywhere. */
export class FrameReader {
  private rest = '';
  private data: string[] = [];
  private event = '';
  private last_id = '';
  private after_cr = false;
  private readonly decoder = new TextDecoder();

  read(bytes: Uint8Array): Frame[] {
    const found: Frame[] = [];
    let text = this.decoder.decode(bytes, { stream: true });
    if (this.after_cr && text.startsWith('\n')) text = text.slice(1);
    if (text !== '') this.after_cr = text.endsWith('\r');
    const lines = (this.rest + text).split(/\r\n|\r|\n/);
    this.rest = lines.pop() ?? '';
    for (const line of lines) {
      if (line === '') {
        if (this.data.length > 0) found.push({ event: this.event || 'message', data: this.data.join('\n'), id: this.last_id });
        this.data = [];
        this.event = '';
        continue;
      }
      const colon = line.indexOf(':');
      if (colon === 0) continue;
      const field = colon < 0 ? line : line.slice(0, colon);
      const value = colon < 0 ? '' : line.slice(colon + (line[colon + 1] === ' ' ? 2 : 1));
      if (field === 'data') this.data.push(value);
      else if (field === 'event') this.event = value;
      else if (field === 'id' && !value.includes('\0')) this.last_id = value;
    }
    return found;
  }
}

/** How the link to the ship is: `ended` is for good (the device's right was taken away). */
export type Link = 'opening' | 'up' | 'down' | 'not_paired' | 'ended';

export interface LiveOptions {
  fetch: typeof fetch;
  connect_ms: number;
  first_wait_ms: number;
  last_wait_ms: number;
}

export interface LiveEars {
  link(link: Link): void;
  /** A stream was opened; `afresh`: what is known is of another journal and must be asked for again. */
  hello(hello: Schemas['Hello']): void;
  kept(row: Row): void;
  ship(state: Record<string, unknown>): void;
  beat(beat: Beat): void;
  health(health: Health): void;
  devices(): void;
}

export const usualLive: LiveOptions = {
  fetch: (...args) => fetch(...args),
  connect_ms: 5_000,
  first_wait_ms: 500,
  last_wait_ms: 5_000,
};

export class Live {
  /** The last journal row that was heard; where to go on. */
  cursor: string | null;
  private abort: AbortController | null = null;
  private stopped = false;
  private heartbeat_ms = 10_000;
  private link: Link = 'opening';
  private wake: (() => void) | null = null;

  constructor(
    after: string | null,
    private readonly ears: LiveEars,
    private readonly options: LiveOptions = usualLive,
  ) {
    this.cursor = after;
  }

  stop(): void {
    this.stopped = true;
    this.abort?.abort();
    this.wake?.();
  }

  async run(): Promise<void> {
    let wait_ms = this.options.first_wait_ms;
    while (!this.stopped) {
      const heard = await this.listen();
      if (this.link === 'ended' || this.stopped) return;
      wait_ms = heard ? this.options.first_wait_ms : Math.min(wait_ms * 2, this.options.last_wait_ms);
      await new Promise<void>((done) => {
        this.wake = done;
        setTimeout(done, wait_ms);
      });
    }
  }

  /** One stream to its end; true when it said hello. */
  private async listen(): Promise<boolean> {
    const abort = new AbortController();
    this.abort = abort;
    let timer = setTimeout(() => abort.abort(), this.options.connect_ms);
    let heard = false;
    let goodbye: Schemas['GoodbyeReason'] | null = null;
    try {
      // A first visit says `after`; the header is the same word for those that come again.
      const headers: Record<string, string> = this.cursor ? { 'last-event-id': this.cursor } : {};
      const response = await this.options.fetch('/api/live', { headers, signal: abort.signal, cache: 'no-store' });
      if (!response.ok || !response.body) {
        this.say(response.status === 401 || response.status === 403 ? 'not_paired' : 'down');
        await response.body?.cancel();
        return false;
      }
      const bytes = response.body.getReader();
      const frames = new FrameReader();
      for (;;) {
        const { value, done } = await bytes.read();
        if (done) break;
        clearTimeout(timer);
        timer = setTimeout(() => abort.abort(), this.heartbeat_ms * 2);
        for (const frame of frames.read(value)) {
          if (frame.event === 'hello') heard = true;
          if (frame.event === 'goodbye') goodbye = (JSON.parse(frame.data) as Schemas['Goodbye']).reason;
          this.take(frame);
        }
      }
    } catch {
      // Broken off, silent for too long, or stopped: all the same to the reader, who comes again.
    } finally {
      clearTimeout(timer);
      abort.abort();
    }
    // A reader that fell behind comes again at once; nobody needs to be told.
    if (goodbye !== 'behind') this.say(goodbye === 'revoked' ? 'ended' : 'down');
    return heard;
  }

  private take(frame: Frame): void {
    switch (frame.event) {
      case 'hello': {
        const hello = JSON.parse(frame.data) as Schemas['Hello'];
        this.heartbeat_ms = hello.heartbeat_s * 1_000;
        this.cursor = hello.from;
        this.say('up');
        this.ears.hello(hello);
        break;
      }
      case 'kept':
        this.cursor = frame.id;
        this.ears.kept(JSON.parse(frame.data) as Row);
        break;
      case 'ship':
        this.ears.ship((JSON.parse(frame.data) as { state: Record<string, unknown> }).state);
        break;
      case 'beat':
        this.ears.beat(JSON.parse(frame.data) as Beat);
        break;
      case 'health':
        this.ears.health(JSON.parse(frame.data) as Health);
        break;
      case 'devices':
        this.ears.devices();
        break;
      default:
      // A message of a newer ship: not for this page.
    }
  }

  private say(link: Link): void {
    if (this.link === link) return;
    this.link = link;
    this.ears.link(link);
  }
}

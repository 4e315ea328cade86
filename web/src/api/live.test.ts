// The live stream: every row once and in order, over broken and silent links.
import { describe, expect, it, vi } from 'vitest';
import { FrameReader, type Link, Live, type LiveEars } from './live.ts';

const bytes = (text: string) => new TextEncoder().encode(text);

describe('frames', () => {
  // Source: WHATWG HTML, section 9.2.6, the examples after the parsing rules. Tolerance: none; difference seen: none.
  it('val_ the examples of the standard are read as it says', () => {
    const read = (text: string) => new FrameReader().read(bytes(text));
    expect(read('data: YHOO\ndata: +2\ndata: 10\n\n').map((frame) => frame.data)).toEqual(['YHOO\n+2\n10']);
    const stream = ': test stream\n\ndata: first event\nid: 1\n\ndata:second event\nid\n\ndata:  third event\n';
    expect(read(stream).map(({ data, id }) => [data, id])).toEqual([['first event', '1'], ['second event', '']]);
    expect(read('data\n\ndata\ndata\n\ndata:').map((frame) => frame.data)).toEqual(['', '\n']);
    expect(read('data:test\n\ndata: test\n\n').map((frame) => frame.data)).toEqual(['test', 'test']);
  });

  it('verif_ bytes cut anywhere give the same frames, whatever the line ends', () => {
    for (const end of ['\n', '\r\n', '\r']) {
      const whole = bytes(['event: kept', 'id: e.7', 'data: {"a":"é"}', '', ': alive', '', 'event: ship', 'data: 1', '', ''].join(end));
      for (let cut = 1; cut < whole.length; cut++) {
        const reader = new FrameReader();
        const found = [...reader.read(whole.slice(0, cut)), ...reader.read(whole.slice(cut))];
        expect(found).toEqual([{ event: 'kept', data: '{"a":"é"}', id: 'e.7' }, { event: 'ship', data: '1', id: 'e.7' }]);
      }
    }
  });
});

/** A ship that streams its rows from the cursor on, and does to each stream what the script says. */
function ship(rows: number, scripts: ((send: (text: string) => void, close: () => void, from: number) => void)[]) {
  const asked: (string | null)[] = [];
  const hello = (from: number) =>
    `event: hello\ndata: {"cursor":"e.${rows}","from":"e.${from}","afresh":false,"heartbeat_s":0.03}\n\n`;
  const fetch_: typeof fetch = async (_input, init) => {
    const id = new Headers(init?.headers).get('last-event-id');
    asked.push(id);
    const from = id ? Number(id.split('.')[1]) : 0;
    const script = scripts[Math.min(asked.length, scripts.length) - 1]!;
    let ended = false;
    const body = new ReadableStream<Uint8Array>({
      start(stream) {
        init?.signal?.addEventListener('abort', () => {
          if (!ended) stream.error(new Error('aborted'));
          ended = true;
        });
        stream.enqueue(bytes(hello(from)));
        script(
          (text) => { if (!ended) stream.enqueue(bytes(text)); },
          () => { if (!ended) stream.close(); ended = true; },
          from,
        );
      },
    });
    return new Response(body);
  };
  return { asked, fetch: fetch_ };
}
const row = (at: number) => `id: e.${at}\nevent: kept\ndata: {"ship_seq":${at}}\n\n`;

function listen(fetch_: typeof fetch, after: string | null = 'e.0') {
  const heard: number[] = [];
  const links: Link[] = [];
  const ears: LiveEars = {
    link: (link) => links.push(link), hello: () => {}, kept: (kept) => heard.push(kept.ship_seq), ship: () => {}, beat: () => {}, health: () => {}, devices: () => {},
  };
  const live = new Live(after, ears, { fetch: fetch_, connect_ms: 100, first_wait_ms: 1, last_wait_ms: 5 });
  return { heard, links, live, done: live.run() };
}
async function until(what: () => boolean): Promise<void> {
  for (let tries = 0; tries < 400 && !what(); tries++) await new Promise((done) => setTimeout(done, 5));
  expect(what()).toBe(true);
}

describe('the live stream', () => {
  it('verif_ a broken stream is resumed after the last row: each once, in order', async () => {
    const two = (send: (text: string) => void, close: () => void, from: number) => {
      for (let at = from + 1; at <= Math.min(from + 2, 7); at++) send(row(at));
      if (from + 2 < 7) close();
    };
    const { asked, fetch } = ship(7, [two]);
    const { heard, live, done } = listen(fetch);
    await until(() => heard.length === 7);
    live.stop();
    await done;
    expect(heard).toEqual([1, 2, 3, 4, 5, 6, 7]);
    expect(asked).toEqual(['e.0', 'e.2', 'e.4', 'e.6']);
  });

  it('verif_ silence without heartbeats is a dead link; heartbeats keep a quiet one', async () => {
    vi.useFakeTimers();
    const quiet = (send: (text: string) => void) => {
      let beats = 0;
      const timer = setInterval(() => { send(': alive\n\n'); if (++beats === 6) clearInterval(timer); }, 25);
    };
    const { asked, fetch } = ship(0, [quiet, () => {}]);
    const { links, live, done } = listen(fetch);
    await vi.advanceTimersByTimeAsync(120);
    expect(links).toEqual(['up']);
    await vi.advanceTimersByTimeAsync(95);
    expect(links).toEqual(['up', 'down', 'up']);
    expect(asked.length).toBe(2);
    live.stop();
    await vi.advanceTimersByTimeAsync(10);
    await done;
    vi.useRealTimers();
  });

  it('verif_ a device whose right was taken away does not come again', async () => {
    const { asked, fetch } = ship(0, [(send, close) => { send('event: goodbye\ndata: {"reason":"revoked"}\n\n'); close(); }]);
    const { links, done } = listen(fetch);
    await done;
    expect(links).toEqual(['up', 'ended']);
    expect(asked.length).toBe(1);
  });

  it('verif_ a reader that fell behind comes again without a word', async () => {
    const behind = (send: (text: string) => void, close: () => void) => { send(row(1)); send('event: goodbye\ndata: {"reason":"behind"}\n\n'); close(); };
    const { asked, fetch } = ship(2, [behind, (send) => send(row(2) + ': alive\n\n')]);
    const { heard, links, live, done } = listen(fetch);
    await until(() => heard.length === 2);
    live.stop();
    await done;
    expect(links[0]).toBe('up');
    expect(links.slice(0, 2)).not.toEqual(['up', 'down', 'up']);
    expect(asked).toEqual(['e.0', 'e.1']);
  });
});

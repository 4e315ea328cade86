// The sea between the tablets and the ship: a proxy that loses requests, holds them back, lets later ones overtake
// them, sends them twice, breaks off in the middle of a body or of an answer, and at times swallows everything.
//
// It sits on the TCP connections of plain http and cuts them into requests (RFC 9112); each goes to the ship on a
// connection of its own, byte for byte, but for the word that the connection ends with its answer. The live stream is
// passed through and broken off now and then. The same number gives the same weather.
import { createServer, type Server, type Socket, connect } from 'node:net';

/** Shares of requests, 0 to 1; what is left over goes through. */
export interface Weather {
  /** Never reaches the ship, and no word comes back. */
  lost: number;
  /** Reaches the ship, later than what was sent after it. */
  late: number;
  /** Reaches the ship twice, the second time later. */
  twice: number;
  /** Half of it reaches the ship, then the line breaks. */
  half: number;
  /** The ship takes it; the line breaks before its answer is through. */
  cut: number;
  /** How long late ones are held back, ms. */
  late_ms: [number, number];
  /** Added to everything, ms. */
  delay_ms: [number, number];
  /** How long a live stream lives, ms. */
  stream_ms: [number, number];
}

export const CALM: Weather = { lost: 0, late: 0, twice: 0, half: 0, cut: 0, late_ms: [0, 0], delay_ms: [0, 0], stream_ms: [1e9, 1e9] };
export const ROUGH: Weather = { lost: 0.04, late: 0.15, twice: 0.15, half: 0.12, cut: 0.15, late_ms: [200, 2_500], delay_ms: [5, 120], stream_ms: [1_000, 6_000] };

export type Fate = 'through' | 'lost' | 'late' | 'twice' | 'half' | 'cut' | 'swallowed';

/** Mulberry32: a small even random number generator (public domain, T. Ettinger, 2017). */
function randomOf(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}

export class Sea {
  port = 0;
  weather: Weather = CALM;
  /** Dead Wi-Fi: connections are taken and nothing ever comes back; those that stand fall silent. */
  black_hole = false;
  /** What became of the requests that bring events. */
  readonly fates: Record<Fate, number> = { through: 0, lost: 0, late: 0, twice: 0, half: 0, cut: 0, swallowed: 0 };
  private readonly random: () => number;
  private readonly open = new Set<Socket>();
  private server: Server | null = null;

  constructor(
    private readonly ship_port: number,
    seed = 1,
  ) {
    this.random = randomOf(seed);
  }

  async start(): Promise<void> {
    this.server = createServer((client) => this.tablet(client));
    await new Promise<void>((done) => this.server!.listen(0, '127.0.0.1', done));
    this.port = (this.server!.address() as { port: number }).port;
  }

  async stop(): Promise<void> {
    for (const socket of this.open) socket.destroy();
    await new Promise<void>((done) => (this.server ? this.server.close(() => done()) : done()));
  }

  /** For so long nothing comes back; the connections that stood are dead afterwards. */
  async deadFor(ms: number): Promise<void> {
    this.black_hole = true;
    await new Promise((done) => setTimeout(done, ms));
    this.black_hole = false;
    for (const socket of this.open) socket.destroy();
  }

  private between([from, to]: [number, number]): number {
    return from + this.random() * (to - from);
  }

  private hold(socket: Socket): void {
    this.open.add(socket);
    socket.on('close', () => this.open.delete(socket));
    socket.on('error', () => socket.destroy());
    socket.setNoDelay(true);
  }

  private tablet(client: Socket): void {
    this.hold(client);
    let rest = Buffer.alloc(0);
    let busy = false;
    client.on('data', (bytes) => {
      if (this.black_hole) return;
      rest = Buffer.concat([rest, bytes]);
      const request = busy ? null : cutRequest(rest);
      if (!request) return;
      // A browser sends the next one on this connection after the answer only, and the answer ends the connection.
      busy = true;
      this.carry(client, request);
    });
  }

  private carry(client: Socket, request: Buffer): void {
    const first = request.subarray(0, request.indexOf('\r\n')).toString('latin1');
    const posts = first.startsWith('POST /api/events');
    const fate = this.fate(posts);
    if (posts) this.fates[fate] += 1;
    const delay_ms = this.between(this.weather.delay_ms) + (fate === 'late' ? this.between(this.weather.late_ms) : 0);
    if (fate === 'lost') return;
    setTimeout(() => {
      if (this.black_hole) return void (posts && (this.fates.swallowed += 1));
      const bytes = ending(request);
      if (fate === 'half') {
        const ship = this.ship();
        const head = bytes.indexOf('\r\n\r\n') + 4;
        ship.write(bytes.subarray(0, head + Math.floor((bytes.length - head) * this.random())), () => {
          ship.destroy();
          client.destroy();
        });
        return;
      }
      if (fate === 'twice') setTimeout(() => this.send(bytes, null, false), this.between(this.weather.late_ms));
      this.send(bytes, client, fate === 'cut', first.includes('/api/live'));
    }, delay_ms);
  }

  private fate(posts: boolean): Fate {
    const { lost, late, twice, half, cut } = this.weather;
    let drawn = this.random();
    for (const [fate, share] of [['lost', posts ? lost : lost / 2], ['cut', cut], ['late', posts ? late : 0], ['twice', posts ? twice : 0], ['half', posts ? half : 0]] as const) {
      if (drawn < share) return fate;
      drawn -= share;
    }
    return 'through';
  }

  private ship(): Socket {
    const ship = connect(this.ship_port, '127.0.0.1');
    this.hold(ship);
    return ship;
  }

  /** Gives a request to the ship, whoever still waits for its answer. */
  private send(bytes: Buffer, client: Socket | null, cut: boolean, stream = false): void {
    const ship = this.ship();
    const answer: Buffer[] = [];
    ship.write(bytes);
    ship.on('data', (part) => {
      if (this.black_hole) return;
      if (cut || !client) answer.push(part);
      else client.write(part);
    });
    ship.on('close', () => {
      if (this.black_hole || !client) return;
      if (!cut) return void client.end();
      const whole = Buffer.concat(answer);
      client.write(whole.subarray(0, Math.floor(whole.length * this.random())), () => client.destroy());
    });
    if (!client) return;
    client.on('close', () => ship.destroy());
    if (stream) {
      const timer = setTimeout(() => client.destroy(), Math.min(this.between(this.weather.stream_ms), 2 ** 31 - 1));
      client.on('close', () => clearTimeout(timer));
    }
  }
}

/** The first whole request of what has come in; none yet: null. */
function cutRequest(bytes: Buffer): Buffer | null {
  const head = bytes.indexOf('\r\n\r\n');
  if (head < 0) return null;
  const length = /^content-length: *(\d+)/im.exec(bytes.subarray(0, head).toString('latin1'))?.[1] ?? '0';
  const end = head + 4 + Number(length);
  return bytes.length >= end ? bytes.subarray(0, end) : null;
}

/** The same request with the word that its connection ends with the answer. */
function ending(request: Buffer): Buffer {
  const head = request.indexOf('\r\n\r\n');
  const lines = request.subarray(0, head).toString('latin1').replace(/^connection: .*$/gim, 'Connection: close');
  return Buffer.concat([Buffer.from(lines, 'latin1'), request.subarray(head)]);
}

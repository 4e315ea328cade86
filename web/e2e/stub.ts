// A stub of the ship's server for browser tests: the built screens under the ship's own content security policy, a
// set of one voyage, and a journal in memory that outlives a killed server.
import { createHash } from 'node:crypto';
import { existsSync, readFileSync } from 'node:fs';
import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http';
import type { AddressInfo, Socket } from 'node:net';
import type { PlanWanted } from '../src/plan/types.ts';
import { offered, reckon } from './stub-plan.ts';

const DIST = new URL('../dist/', import.meta.url);
const TYPES: Record<string, string> = { html: 'text/html; charset=utf-8', js: 'text/javascript', css: 'text/css', json: 'application/json' };
const CSP =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; connect-src 'self'; worker-src 'self' blob:; " +
  "manifest-src 'self'; media-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

interface Row {
  cursor: string;
  ship_seq: number;
  received_at: string;
  text: string;
}

export interface Posted {
  id: string;
  device: string;
  device_seq: number;
  kind: string;
  happened_at: string;
  set: string | null;
  data: Record<string, unknown>;
}

export class Stub {
  rows: Row[] = [];
  epoch = 'epoch1';
  /** Every body that came, whether or not the answer reached its sender. */
  bodies: string[] = [];
  /** Answers posts with this status instead. */
  status: number | null = null;
  lose_answers = 0;
  /** No set before, no profile: nothing is offered to plan from. */
  thin = false;
  /** How long the reckoning of a plan takes. */
  plan_ms = 15;
  plans_asked = 0;
  plans_open = 0;
  plans_open_most = 0;
  readonly set = '019cdb86-0528-70b3-8fb3-f4dbaaebca9a';
  readonly started_ms = Date.now() - 1_200_000;
  private server: Server | null = null;
  private sockets = new Set<Socket>();
  private streams = new Set<ServerResponse>();
  port = 0;

  constructor() {
    this.own('setting_started', { gear: 'deep' }, 1, this.started_ms, this.set);
    const at = new Date(this.started_ms).toISOString();
    this.own('beat', { basket: 1, position: 0, at, beat_s: 4, hooks_per_basket: 25, float_takes_a_beat: true }, 2, this.started_ms);
    for (let place = 1; place <= 11; place++) this.own('float_clipped', { place, tag: String(40 + place) }, 2 + place, this.started_ms + (place - 1) * 104_000);
  }

  private own(kind: string, data: Record<string, unknown>, seq: number, at_ms: number, id = `own-${seq}`): void {
    const happened_at = new Date(at_ms).toISOString();
    const event = { id, device: 'bridge', device_seq: seq, kind, version: 1, happened_at, happened_basis: 'tapped', boot: null, monotonic_ms: null, person: null, set: this.set, haul: null, data };
    this.add(JSON.stringify(event));
  }

  events(kind?: string): Posted[] {
    return this.rows.map((row) => JSON.parse(row.text) as Posted).filter((event) => event.device !== 'bridge' && (!kind || event.kind === kind));
  }

  start(): Promise<void> {
    this.server = createServer((request, response) => this.serve(request, response));
    this.server.on('connection', (socket) => {
      this.sockets.add(socket);
      socket.on('close', () => this.sockets.delete(socket));
    });
    return new Promise((done) =>
      this.server!.listen(this.port, '127.0.0.1', () => {
        this.port = (this.server!.address() as AddressInfo).port;
        done();
      }),
    );
  }

  /** As by a power cut: every connection is gone at once. */
  kill(): Promise<void> {
    const closed = new Promise<void>((done) => this.server?.close(() => done()));
    for (const socket of this.sockets) socket.destroy();
    this.streams.clear();
    return closed;
  }

  private add(text: string): number {
    const ship_seq = this.rows.length + 1;
    const row = { cursor: `${this.epoch}.${ship_seq}`, ship_seq, received_at: new Date().toISOString(), text };
    this.rows.push(row);
    for (const stream of this.streams) stream.write(this.frame(row));
    return ship_seq;
  }

  private frame(row: Row): string {
    return `id: ${this.epoch}.${row.ship_seq}\nevent: kept\ndata: ${this.rowJson(row)}\n\n`;
  }

  private rowJson(row: Row): string {
    return `{"cursor":"${this.epoch}.${row.ship_seq}","ship_seq":${row.ship_seq},"received_at":"${row.received_at}","event":${row.text}}`;
  }

  private serve(request: IncomingMessage, response: ServerResponse): void {
    const url = new URL(request.url ?? '/', 'http://ship');
    response.setHeader('content-security-policy', CSP);
    const json = (value: unknown, status = 200) => {
      response.writeHead(status, { 'content-type': 'application/json' });
      response.end(typeof value === 'string' ? value : JSON.stringify(value));
    };
    if (!url.pathname.startsWith('/api/')) {
      const file = new URL(`.${url.pathname === '/' ? '/index.html' : url.pathname}`, DIST);
      if (!existsSync(file)) return json({ code: 'not_found', text: '-' }, 404);
      response.writeHead(200, { 'content-type': TYPES[file.pathname.split('.').pop() ?? ''] ?? 'application/octet-stream', 'cache-control': 'no-cache' });
      return void response.end(readFileSync(file));
    }
    const now = new Date().toISOString();
    const head = `${this.epoch}.${this.rows.length}`;
    const elapsed_s = (Date.now() - this.started_ms) / 1_000;
    const baskets = Math.floor(elapsed_s / 104) + 1;
    switch (url.pathname) {
      case '/api/clock':
        return json({ utc: now, basis: 'satellite' });
      case '/api/health':
        return json({ ok: true, version: '0', epoch: this.epoch, ship_seq: this.rows.length, stopped: null, set_aside: 0, now_utc: now, time_basis: 'satellite', backup: null, not_for_navigation: true });
      case '/api/devices/me': {
        const own = this.rows.filter((row) => (JSON.parse(row.text) as Posted).device === url.searchParams.get('device'));
        const last = own.at(-1);
        const hash = last ? createHash('sha256').update(own.map((row) => row.text).join('\n')).digest('hex') : null;
        return json({ device: url.searchParams.get('device'), name: null, role: 'wheelhouse', this_computer: true, pin_needed: false, epoch: this.epoch, last_seq: last ? (JSON.parse(last.text) as Posted).device_seq : null, hash, may_forget_through_seq: null, may_forget_after_days: 30 });
      }
      case '/api/voyage':
        return json({
          cursor: head, now_utc: now, voyages: 1, doubts: [],
          voyage: { number: 1, id: 'v', vessel: {}, port: null, opened_utc: null, closed_utc: null, utc_offset_min: 720, days_without_set: [] },
          sets: [{ number: 1, id: this.set, open: true, stage: this.rows.some((row) => row.text.includes('"setting_ended"')) ? 'soaking' : 'setting', started_utc: new Date(this.started_ms).toISOString(), ended_utc: null, places: baskets, baskets, hooks_set: Math.floor(elapsed_s / 4.16), hooks_in_water: 1, hooks_hauled: 0, hooks_lost: 0, hooks_unknown: 0, fish: 0, doubts: 0 }],
        });
      case '/api/sets/1':
        return json({
          cursor: head, now_utc: now, stage: 'setting', report: {}, target: null, night: null, plan: { baskets: 40, layer_m: [205, 300] },
          gear: { name: 'deep', float_line_m: 28, hooks_per_basket: 25, clip_spacing_m: 36, float_takes_a_beat: true, tag_mode: 'sequence_up' },
          radio_buoys: [{ buoy: 'A', place: 1, launched_utc: now, recovered_utc: null }, { buoy: 'B', place: 10, launched_utc: now, recovered_utc: null }],
          temperature_profile: [[0, 28.3], [50, 28], [100, 25], [150, 20.5], [200, 16], [250, 12.5], [300, 10.5], [400, 8.5]].map(([depth_m, temperature_c]) => ({ depth_m, temperature_c })),
        });
      case '/api/sets/1/baskets':
        return json(Array.from({ length: baskets }, (_, at) => ({ basket: at + 1, hooks: 25, hooks_missed: 0, hooks_in_water: 25, hooks_hauled: 0, hooks_lost: 0, hooks_unknown: 0, fish: 0, has_end_float: true, main_line_m: 936, clip_spacing_m: 36, sag_ratio: 0.75, sag_basis: 'measured', branch_type: null, empty_line_m: 0, tangled: false, shallowest_m: 88, deepest_m: 290 - 30 * Math.sin(at / 5), band_m: 24 })));
      case '/api/sets/1/places':
        return json(Array.from({ length: baskets }, (_, at) => ({ place: at + 1, tag: at < 11 ? String(41 + at) : null, radio_buoy: null, clipped_utc: null, tapped: at < 11, position: { latitude_deg: -14.31 + at * 0.0085, longitude_deg: ((179.75 + at * 0.0105 + at * at * 0.0004 + 540) % 360) - 180 }, along_line_m: null, hauled_utc: null, missing: false })));
      case '/api/sets/1/strip': {
        // 40 baskets of equal width, each an arc of three points.
        const arc = (at: number, state: string, depth: number) => ({ basket: at + 1, state, depth_known: true, points: [[at / 40, 0], [(at + 0.5) / 40, depth], [(at + 1) / 40, 0]] });
        const all = Array.from({ length: 40 }, (_, at) => arc(at, at + 1 < baskets ? 'in_water' : at + 1 === baskets ? 'being_set' : 'to_come', 290 - 30 * Math.sin(at / 5)));
        return json({
          deepest_m: 320, draw_to_m: 336, arcs: all, floats: [], baskets_set: baskets, baskets_to_come: 40 - baskets, rests_on: 'planned_baskets', line_ends_at: baskets / 40, haul: null, hauled_bars: [],
          flags: [{ at: 0, label: 'A' }, { at: 9 / 40, label: 'B' }], missing_floats: [], crosses: [], questions: [], dots: [],
          light: [{ from: 0, to: 0.3, light: 'night' }, { from: 0.3, to: 0.4, light: 'twilight' }, { from: 0.4, to: 1, light: 'day' }], hours: [{ at: 0.1, at_utc: now }],
        });
      }
      case '/api/sets/1/section': {
        const basket = Number(url.searchParams.get('basket') ?? baskets);
        const depth = (along: number) => 28 + 230 * (1 - ((along - 350) / 350) ** 2);
        const hooks = Array.from({ length: 25 }, (_, at) => {
          const along_m = (700 * (at + 1)) / 26;
          return { position: at + 1, state: basket < baskets ? 'clipped' : 'coming', along_m, clip_depth_m: depth(along_m), depth_m: depth(along_m) + 25, band_m: 12 + depth(along_m) / 20, in_layer: depth(along_m) + 25 >= 205 };
        });
        const levels = [[0, 28.3], [50, 28], [100, 25], [150, 20.5], [200, 16], [250, 12.5], [300, 10.5], [400, 8.5]].map(([depth_m, temperature_c]) => ({ depth_m, temperature_c }));
        return json({
          basket, state: basket < baskets ? 'set' : 'being_set', from_tag: String(40 + basket), to_tag: null, span_m: 700, draw_to_m: 350, main_line: Array.from({ length: 41 }, (_, at) => [at * 17.5, depth(at * 17.5)]), in_current: false,
          hooks, wanted_layer_m: [205, 300], hooks_in_layer: 15, hooks_surely_in_layer: 11, hooks_counted: 25, levels, isotherms: [{ depth_m: 75, temperature_c: 26 }, { depth_m: 200, temperature_c: 16 }, { depth_m: 260, temperature_c: 12 }],
          depth_ticks_m: [0, 100, 200, 300], float_line_m: 28, branch_line_m: 25, sag_ratio: 0.75, sag_basis: 'measured', doubts: [],
        });
      }
      case '/api/sets/1/fish':
        return json([]);
      case '/api/sets/1/hooks':
        return json(Array.from({ length: (baskets - 1) * 25 }, (_, at) => {
          const position = (at % 25) + 1;
          return { basket: Math.floor(at / 25) + 1, position, number: at + 1, depth_m: 88 + 200 * (1 - ((position - 13) / 12) ** 2), depth_band_m: 14 + 10 * (1 - Math.abs(position - 13) / 12), fate: 'in_water', fish: [], doubts: [] };
        }));
      case '/api/plan/start':
        return this.thin ? json({ code: 'not_found', text: 'There is no set and no gear to start from.' }, 404) : json(offered(this.started_ms, url.searchParams.get('other_way') === 'true'));
      case '/api/tables/zones':
        return json({ what: 'zones', tables: [{ what: 'zones', name: 'north box', state: 'loaded' }], rows: [] });
      case '/api/tables/zones/north%20box':
        return json({ type: 'Feature', properties: { name: 'north box' }, geometry: { type: 'Polygon', coordinates: [[[-179.99, -13.94], [-179.9, -14.1], [-179.5, -14.1], [-179.5, -13.6], [-179.99, -13.94]]] } });
      case '/api/tables/targets':
        return json({ what: 'targets', tables: [], rows: [{ name: 'bigeye', layer_m: [205, 300], source: 'this boat, 2025' }, { name: 'swordfish', layer_m: [30, 90], source: 'this boat, 2025' }] });
      case '/api/sets/1/map':
        return json({
          type: 'FeatureCollection',
          features: [
            { type: 'Feature', properties: { what: 'line_as_set' }, geometry: { type: 'MultiLineString', coordinates: [[[179.55, -14.45], [179.8, -14.36], [180, -14.3]], [[-180, -14.3], [-179.95, -14.28]]] } },
            ...[179.62, 179.7, 179.86, -179.99].map((longitude, at) => ({ type: 'Feature', properties: { what: 'fish' }, geometry: { type: 'Point', coordinates: [longitude, -14.425 + at * 0.035] } })),
          ],
        });
      case '/api/plan': {
        let body = '';
        this.plans_asked += 1;
        this.plans_open += 1;
        this.plans_open_most = Math.max(this.plans_open_most, this.plans_open);
        request.on('data', (part) => (body += part));
        return void request.on('end', () => setTimeout(() => {
          this.plans_open -= 1;
          const got = reckon(JSON.parse(body) as PlanWanted);
          json(got, 'code' in got ? 422 : 200);
        }, this.plan_ms));
      }
      case '/api/live': {
        response.writeHead(200, { 'content-type': 'text/event-stream' });
        const known = /^(.+)\.(\d+)$/.exec(String(request.headers['last-event-id'] ?? url.searchParams.get('after') ?? ''));
        const from = known?.[1] === this.epoch ? Number(known[2]) : known ? 0 : this.rows.length;
        response.write(`retry: 1000\n\nevent: hello\ndata: ${JSON.stringify({ cursor: head, from: `${this.epoch}.${from}`, afresh: known !== null && known[1] !== this.epoch, heartbeat_s: 0.5 })}\n\n`);
        for (const row of this.rows.slice(from)) response.write(this.frame(row));
        response.write(`event: ship\ndata: ${JSON.stringify({ state: { latitude_deg: -14.20687, longitude_deg: 179.8451, speed_over_ground_kn: 8.1, speed_through_water_kn: 7.6, course_deg_true: 52, heading_deg_true: 50 } })}\n\n`);
        this.streams.add(response);
        const beat = setInterval(() => response.write(': alive\n\n'), 500);
        return void response.on('close', () => {
          clearInterval(beat);
          this.streams.delete(response);
        });
      }
      case '/api/events': {
        if (request.method === 'GET') {
          const after = Number((url.searchParams.get('after') ?? '.0').split('.').pop());
          const found = this.rows.slice(after, after + Number(url.searchParams.get('limit') ?? 1_000));
          return json(`{"events":[${found.map((row) => this.rowJson(row)).join(',')}],"next":"${head}","more":false,"afresh":false}`);
        }
        let body = '';
        request.on('data', (part) => (body += part));
        return void request.on('end', () => {
          this.bodies.push(body);
          if (this.status !== null) return json({ code: 'journal_stopped', text: '-' }, this.status);
          const results = (JSON.parse(body) as Posted[]).map((event) => {
            const text = JSON.stringify(event);
            if (!body.includes(text)) throw new Error('encoded twice');
            const same = this.rows.find((row) => (JSON.parse(row.text) as Posted).id === event.id);
            if (same) return { id: event.id, result: same.text === text ? 'repeat' : 'conflict', reason_code: 'contradicts' };
            return { id: event.id, result: 'kept', ship_seq: this.add(text) };
          });
          if (this.lose_answers > 0) {
            this.lose_answers -= 1;
            return void request.socket.destroy();
          }
          json({ results });
        });
      }
      default:
        return json({ code: 'not_found', text: '-' }, 404);
    }
  }
}

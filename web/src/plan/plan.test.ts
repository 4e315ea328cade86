// The plan's logic: what is typed, what follows, what is asked, what is kept on the device.
import { describe, expect, it } from 'vitest';
import { components, readProfile, speedOf } from './csv.ts';
import { fix, fixedOnly, type Follows, followsOf, letFollow, paces, solvable } from './follow.ts';
import { linesOf, shapes } from './geojson.ts';
import { Latest } from './latest.ts';
import { targetsOf } from './targets.ts';
import { type Event, SetLog } from '../set/log.ts';
import { keptOf, otherWay, read, runs, sent, write } from './store.ts';
import { fieldsOf, momentOf, typedDegrees, typedNumber } from './typed.ts';

describe('numbers and positions typed', () => {
  it('verif_ either decimal sign is a number, words are none', () => {
    expect(['7,6', '7.6', ' 1 200 ', '−3', '.5'].map(typedNumber)).toEqual([7.6, 7.6, 1200, -3, 0.5]);
    expect(['', '7.6.1', 'seven', '1e9', '7 kn'].map(typedNumber)).toEqual([null, null, null, null, null]);
  });

  it('verif_ a position is read however it is parted, with its letter', () => {
    for (const text of ['14°31.500′ S', '14 31.5 s', 'S 14 31,5', '1431.5S', '14.525 S', "14°31.5'S"]) {
      expect(typedDegrees(text, 'latitude', null), text).toEqual({ value: expect.closeTo(-14.525, 9), assumed: false });
    }
    expect(typedDegrees('17922.000E', 'longitude', null)).toEqual({ value: expect.closeTo(179 + 22 / 60, 9), assumed: false });
    expect(typedDegrees('5 30 E', 'longitude', null)).toEqual({ value: 5.5, assumed: false });
  });

  it('verif_ without a letter the ship’s side is taken, and told', () => {
    expect(typedDegrees('14 31.5', 'latitude', -10)).toEqual({ value: expect.closeTo(-14.525, 9), assumed: true });
    expect(typedDegrees('14 31.5', 'latitude', null)).toEqual({ value: expect.closeTo(14.525, 9), assumed: true });
    expect(typedDegrees('-14.5', 'latitude', 10)).toEqual({ value: -14.5, assumed: false });
  });

  it('verif_ 180° is the one side of the range, and what is no position is refused by name', () => {
    expect(typedDegrees('180 00.000 E', 'longitude', null)).toEqual({ value: -180, assumed: false });
    expect(typedDegrees('14 60 S', 'latitude', null)).toEqual({ fault: 'minutes' });
    expect(typedDegrees('91 S', 'latitude', null)).toEqual({ fault: 'range' });
    expect(typedDegrees('14 31 E', 'latitude', null)).toEqual({ fault: 'letter' });
    expect(typedDegrees('-14 31 S', 'latitude', null)).toEqual({ fault: 'letter' });
    expect(typedDegrees('', 'latitude', null)).toEqual({ fault: 'not-read' });
    expect(typedDegrees('14 31 30 20 S', 'latitude', null)).toEqual({ fault: 'not-read' });
  });

  it('verif_ ship time and back, over midnight and the end of a month', () => {
    expect(momentOf('2026-03-04', '02:00', 720)).toBe('2026-03-03T14:00:00Z');
    expect(momentOf('2026-03-01', '0130', 120)).toBe('2026-02-28T23:30:00Z');
    expect(fieldsOf('2026-02-28T23:30:00Z', 120)).toEqual({ date: '2026-03-01', hour: '01:30' });
    expect([momentOf('2026-02-30', '2', 0), momentOf('2026-03-01', '24', 0), momentOf('', '2', 0), momentOf('2026-03-01', '2', 0)]).toEqual([null, null, null, '2026-03-01T02:00:00Z']);
  });
});

describe('which value follows', () => {
  const all = paces.flatMap((one) => paces.map((other): Follows => [one, other])).filter(solvable);
  it('verif_ of ten pairs eight are solvable, and no choice ever leaves them', () => {
    expect(all.length).toBe(16);
    for (const pair of all) {
      for (const value of paces) {
        const next = letFollow(pair, value);
        expect(solvable(next) && next.includes(value), `${pair} let ${value}`).toBe(true);
        const fixed = fix(pair, value);
        expect(solvable(fixed) && !fixed.includes(value), `${pair} fix ${value}`).toBe(true);
      }
    }
  });
  it('verif_ only what is fixed is sent', () => {
    const setting = { vessel_speed_through_water_kn: 7.6, shooter_speed_m_s: 5.1, sag_ratio: 0.76, beat_s: 7, clip_spacing_m: 36, hooks_per_basket: 25, hooks: 2500, baskets: 100, float_takes_a_beat: false };
    expect(fixedOnly(setting, ['sag_ratio', 'clip_spacing_m'], 'hooks')).toEqual({ vessel_speed_through_water_kn: 7.6, shooter_speed_m_s: 5.1, beat_s: 7, hooks_per_basket: 25, hooks: 2500, float_takes_a_beat: false });
    expect(fixedOnly(setting, ['shooter_speed_m_s', 'beat_s'], 'baskets')).not.toHaveProperty('hooks');
  });
  it('verif_ values from elsewhere: what is absent follows', () => {
    expect([...followsOf({ vessel_speed_through_water_kn: 8, sag_ratio: 0.92, clip_spacing_m: 49 })].sort()).toEqual(['beat_s', 'shooter_speed_m_s']);
    expect([...followsOf({ vessel_speed_through_water_kn: 8, shooter_speed_m_s: 5, beat_s: 7 })].sort()).toEqual(['clip_spacing_m', 'sag_ratio']);
    expect(followsOf({})).toEqual(['sag_ratio', 'clip_spacing_m']);
    expect(solvable(followsOf({ sag_ratio: 0.8, vessel_speed_through_water_kn: 8 }))).toBe(true);
  });
});

describe('latest wins', () => {
  it('verif_ one under way, one waiting, none queued; no answer overtakes a later one', async () => {
    const asked: number[] = [];
    const shown: [number, boolean][] = [];
    const free: (() => void)[] = [];
    const latest = new Latest<number, number>(
      (wanted) => (asked.push(wanted), new Promise((done) => free.push(() => done(wanted)))),
      (got, _wanted, newest) => shown.push([got, newest]),
    );
    for (let wish = 1; wish <= 50; wish++) latest.want(wish);
    expect(asked).toEqual([1]);
    free.shift()!();
    await new Promise((done) => setTimeout(done));
    expect(asked).toEqual([1, 50]);
    free.shift()!();
    await new Promise((done) => setTimeout(done));
    expect(shown).toEqual([[1, false], [50, true]]);
    expect(latest.waits).toBe(false);
  });
});

describe('profiles as text', () => {
  const read = (text: string) => readProfile(text) as { levels: { depth_m: number; temperature_c?: number; east_m_s?: number; north_m_s?: number }[]; passed_over: string[] };
  it('verif_ depth, temperature and current by components', () => {
    const { levels, passed_over } = read('Depth (m),Temp (°C),East (m/s),North (m/s),Salinity\n100,25,0.1,-0.2,35\n0,28.5,0.3,0,35\n');
    expect(levels).toEqual([{ depth_m: 0, temperature_c: 28.5, east_m_s: 0.3, north_m_s: 0 }, { depth_m: 100, temperature_c: 25, east_m_s: 0.1, north_m_s: -0.2 }]);
    expect(passed_over).toEqual(['Salinity']);
  });
  it('verif_ semicolons with decimal commas, speed with direction towards, knots, gaps', () => {
    const { levels } = read('\uFEFFdepth [m];temperature [C];speed [kn];towards [deg]\r\n0;28,3;1;90\r\n50;27,9;;\r\n100;;0,5;180\r\n');
    expect(levels[0]!.east_m_s).toBeCloseTo(1852 / 3600, 8);
    expect(levels[0]!.north_m_s).toBeCloseTo(0, 8);
    expect(levels[1]).toEqual({ depth_m: 50, temperature_c: 27.9 });
    expect(levels[2]!.north_m_s).toBeCloseTo(-926 / 3600, 8);
  });
  it('verif_ the project’s own names: depth_m, temperature_c, east_m_s, north_m_s', () => {
    expect(read('depth_m,temperature_c,east_m_s,north_m_s\n0,28,0.1,0.2\n200,16,0,0').levels.length).toBe(2);
  });
  it('verif_ what cannot be read is refused whole, with the line', () => {
    expect(readProfile('')).toEqual({ fault: 'empty' });
    expect(readProfile('depth,temp')).toEqual({ fault: 'empty' });
    expect(readProfile('a,b\n1,2')).toEqual({ fault: 'no-depth' });
    expect(readProfile('depth (m)\n1\n2')).toEqual({ fault: 'nothing-else' });
    expect(readProfile('depth,speed,towards\n1,2,3\n4,5,6')).toEqual({ fault: 'unit', column: 'speed' });
    expect(readProfile('depth,temp (F)\n0,80\n10,80')).toEqual({ fault: 'unit', column: 'temp (F)' });
    expect(readProfile('depth,temp\n0,28\n10,warm')).toEqual({ fault: 'number', line: 3, text: 'warm' });
    expect(readProfile('depth,temp\n0,28\n10,99')).toEqual({ fault: 'range', line: 3, text: 'temp 99' });
    expect(readProfile('depth,temp\n10,28\n10,27')).toEqual({ fault: 'twice', line: 3, depth_m: 10 });
    expect(readProfile('depth,temp,east (m/s)\n0,28,1\n1,28,1')).toEqual({ fault: 'half-current' });
    expect(readProfile('depth,temp\n0,28')).toEqual({ fault: 'few' });
  });
  it('verif_ components and back', () => {
    for (const [speed, towards] of [[0.5, 0], [0.5, 90], [0.25, 225], [1, 359]] as const) {
      const back = speedOf(...components(speed, towards));
      expect(back.speed_m_s).toBeCloseTo(speed, 8);
      expect(back.towards_deg_true).toBeCloseTo(towards, 6);
    }
  });
});

describe('plans kept on the device', () => {
  const wanted = { legs: [{ course_deg_true: 52, hooks: 1500 }, { course_deg_true: 310, hooks: 1000 }], setting: { vessel_speed_through_water_kn: 7.6, shooter_speed_m_s: 5.1, beat_s: 7, hooks: 2500 }, start: { latitude_deg: -14.5, longitude_deg: 179.4 } };
  it('verif_ written and read again is the same', () => {
    const kept = { ...keptOf('B', wanted, 'deeper'), follows: ['shooter_speed_m_s', 'beat_s'] as const, own_water: true };
    expect(read(write({ open: 'B', plans: [kept] }))).toEqual({ open: 'B', plans: [kept] });
    expect(kept.wanted.legs[1]!.hooks).toBeNull();
  });
  it('verif_ what is half good gives what is good, what is bad gives nothing', () => {
    expect(read(null)).toBeNull();
    expect(read('{')).toBeNull();
    expect(read('{"plans":[]}')).toBeNull();
    const half = read('{"open":"C","plans":[{"letter":"A","wanted":{}},{"letter":"Q","wanted":{}},{"letter":"A","wanted":{}},7,{"letter":"B","wanted":{"setting":{},"legs":[]},"follows":["beat_s","clip_spacing_m"],"name":5}]}')!;
    expect(half.open).toBe('A');
    expect(half.plans.map((plan) => plan.letter)).toEqual(['A', 'B']);
    expect(half.plans.every((plan) => solvable(plan.follows) && plan.wanted.legs.length === 1 && plan.name === '')).toBe(true);
  });
  it('verif_ the other way round, twice, is the plan again', () => {
    const once = otherWay(keptOf('A', wanted).wanted, { latitude_deg: -14.2, longitude_deg: -179.9 }, [1500, 1000]);
    expect(once.legs).toEqual([{ course_deg_true: 130, hooks: 1000 }, { course_deg_true: 232, hooks: null }]);
    expect(once.start).toEqual({ latitude_deg: -14.2, longitude_deg: -179.9 });
    const twice = otherWay(once, wanted.start, [1000, 1500]);
    expect(twice.legs).toEqual([{ course_deg_true: 52, hooks: 1500 }, { course_deg_true: 310, hooks: null }]);
  });
  it('verif_ what is sent has no empty fields, no half-described part and only what is fixed', () => {
    const kept = keptOf('A', { ...wanted, branch_line_m: null, target: '', main_line: { density_kg_m3: 1150 }, branch: { weight_in_water_n: 0.6 }, aboard: { main_line_m: null, floats: 90 }, layer_m: [200, 300] });
    expect(sent(kept, 720)).toEqual({ start: wanted.start, legs: kept.wanted.legs, setting: wanted.setting, branch: { weight_in_water_n: 0.6 }, aboard: { floats: 90 }, layer_m: [200, 300], utc_offset_min: 720 });
  });
  it('verif_ runs of hooks', () => {
    expect(runs([6, 7, 8, 9], '–')).toBe('6–9');
    expect(runs([1, 2, 20, 24, 25], '–')).toBe('1–2, 20, 24–25');
    expect(runs([], '–')).toBe('');
  });
});

describe('what the ship has loaded', () => {
  it('verif_ edges of every kind of GeoJSON, nothing of what is none', () => {
    const ring = [[179, -14], [-179, -14], [-179, -13], [179, -14]];
    const spots = ring.map(([longitude_deg, latitude_deg]) => ({ latitude_deg, longitude_deg }));
    expect(linesOf({ type: 'LineString', coordinates: ring })).toEqual([spots]);
    expect(shapes({ type: 'FeatureCollection', features: [{ type: 'Feature', properties: {}, geometry: { type: 'Polygon', coordinates: [ring] } }, { type: 'Feature', properties: {}, geometry: null }] })).toEqual([spots]);
    expect(shapes({ type: 'GeometryCollection', geometries: [{ type: 'MultiPolygon', coordinates: [[ring], [ring]] }] })).toEqual([spots, spots]);
    for (const none of [null, 7, {}, { type: 'Point', coordinates: [1, 2] }, { features: 'no' }]) expect(shapes(none)).toEqual([]);
  });
  it('verif_ targets are taken as the table says them; a layer upside down is none', () => {
    expect(targetsOf({ rows: [{ name: 'bigeye', layer_m: [205, 300], source: 'this boat' }, { name: 'x', layer_m: [300, 205], source: '' }, { layer_m: [1, 2] }, 5] })).toEqual([
      { name: 'bigeye', layer_m: [205, 300], source: 'this boat' }, { name: 'x', layer_m: null, source: '' },
    ]);
    expect([targetsOf(null), targetsOf({ rows: 'no' })]).toEqual([[], []]);
  });
});

describe('the plan that the next set takes', () => {
  const event = (seq: number, kind: string, at: string, data: Record<string, unknown> = {}): Event => ({ id: `e${seq}`, device: 'wheelhouse', device_seq: seq, kind, happened_at: at, set: null, data });
  it('verif_ the last plan kept, until a set has been started after it; one taken back is none', () => {
    const log = new SetLog();
    expect(log.planned()).toBeNull();
    log.take(event(1, 'set_planned', '2026-03-03T10:00:00Z', { plan: { beat_s: 7 } }));
    log.take(event(2, 'set_planned', '2026-03-03T11:00:00Z', { plan: { beat_s: 6 } }));
    expect(log.planned()).toEqual({ id: 'e2', data: { plan: { beat_s: 6 } } });
    log.take(event(3, 'voided', '2026-03-03T11:01:00Z', { target: 'e2', why: 'undo' }));
    expect(log.planned()?.id).toBe('e1');
    log.take(event(4, 'setting_started', '2026-03-03T12:00:00Z', { gear: 'deep' }));
    expect(log.planned()).toBeNull();
    log.take(event(5, 'set_planned', '2026-03-04T10:00:00Z', { plan: {} }));
    expect(log.planned()?.id).toBe('e5');
  });
});

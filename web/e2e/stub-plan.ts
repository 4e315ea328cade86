// A stand-in for the ship's reckoning of a plan, for tests of the screen alone: a parabola and round numbers, no physics.
import type { Planned, PlanWanted } from '../src/plan/types.ts';

const PROFILE = [[0, 28.3], [50, 28], [100, 25], [150, 20.5], [200, 16], [250, 12.5], [300, 10.5], [400, 8.5]].map(([depth_m, temperature_c]) => ({ depth_m: depth_m!, temperature_c: temperature_c! }));

/** What the ship offers to start from. */
export function offered(now_ms: number, other_way: boolean): PlanWanted {
  const turned = { start: { latitude_deg: -14.28, longitude_deg: -179.95 }, legs: [{ course_deg_true: 130, hooks: 1000 }, { course_deg_true: 232, hooks: null }] };
  return {
    start_at: new Date(Math.ceil(now_ms / 3_600_000) * 3_600_000).toISOString(), start: { latitude_deg: -14.525, longitude_deg: 179.36667 },
    legs: [{ course_deg_true: 52, hooks: 1500 }, { course_deg_true: 310, hooks: null }],
    setting: { vessel_speed_through_water_kn: 7.6, shooter_speed_m_s: 5.1, beat_s: 7, hooks_per_basket: 25, hooks: 2500, float_takes_a_beat: true, hooks_per_radio_buoy: 500 },
    float_line_m: 28, branch_line_m: 25, main_line: { diameter_mm: 3.6 }, branch: { weight_in_water_n: 0.6, drag_area_m2: 0.06 },
    water: { levels: PROFILE.map((level) => ({ ...level, east_m_s: 0.32, north_m_s: 0 })), taken_at: new Date(now_ms - 13 * 3_600_000).toISOString(), source: 'own sonde' },
    layer_m: [205, 300], target: 'bigeye',
    aboard: {
      main_line_m: 110_000, branch_lines: 2650, floats: 120, radio_buoys: 5, bins: ['7', '19', '4', '11', '2'].map((bin) => ({ bin, hooks: 500 })),
      bait: [{ bait: 'squid', boxes: 160, pieces_per_box: 100, share: 0.6, thaw_h: 9 }, { bait: 'mackerel', boxes: 8, pieces_per_box: 100, share: 0.4, thaw_h: 6 }],
    },
    ...(other_way ? turned : {}),
  };
}

const wrap = (longitude: number) => ((((longitude + 180) % 360) + 360) % 360) - 180;

export function reckon(wanted: PlanWanted): Planned | { code: string; text: string } {
  const given = wanted.setting;
  const ship_m_s = given.vessel_speed_through_water_kn == null ? null : (given.vessel_speed_through_water_kn * 1852) / 3600;
  let { shooter_speed_m_s: shooter = null, sag_ratio: sag = null, beat_s: beat = null, clip_spacing_m: spacing = null } = given;
  let ship = ship_m_s;
  for (let round = 0; round < 2; round++) {
    shooter ??= ship !== null && sag ? ship / sag : spacing !== null && beat ? spacing / beat : null;
    sag ??= ship !== null && shooter ? ship / shooter : null;
    ship ??= sag !== null && shooter !== null ? sag * shooter : null;
    beat ??= spacing !== null && shooter ? spacing / shooter : null;
    spacing ??= beat !== null && shooter !== null ? beat * shooter : null;
  }
  if (sag !== null && (sag <= 0 || sag > 1)) return { code: 'bad_input', text: `The sag ratio ${sag.toFixed(3)} is out of range: it lies above 0 and up to 1.` };
  const per = given.hooks_per_basket ?? null;
  const hooks = given.hooks ?? (given.baskets != null && per ? given.baskets * per : null);
  const baskets = given.baskets ?? (hooks !== null && per ? Math.ceil(hooks / per) : null);
  const clips = per === null ? null : per + (given.float_takes_a_beat === false ? 0 : 1);
  const whole = hooks === null || baskets === null ? null : hooks + baskets;
  const levels = wanted.water?.levels ?? [];
  const temperature = levels.flatMap((level) => (level.temperature_c == null ? [] : [{ depth_m: level.depth_m, temperature_c: level.temperature_c }]));
  const current = levels.flatMap((level) => (level.east_m_s == null || level.north_m_s == null ? [] : [{ depth_m: level.depth_m, east_m_s: level.east_m_s, north_m_s: level.north_m_s }]));
  const setting_s = whole === null || beat === null ? null : whole * beat;
  const start_ms = wanted.start_at ? Date.parse(wanted.start_at) : null;
  const ends_at = start_ms === null || setting_s === null ? null : new Date(start_ms + setting_s * 1000).toISOString();
  const layer = wanted.layer_m ?? null;
  let at = wanted.start ?? null;
  const track = at ? [{ ...at, at: wanted.start_at ?? null, leg: 1 }] : [];
  let from = 1;
  const stretches = wanted.legs.map((leg, index) => {
    const left = hooks === null ? null : hooks - from + 1;
    const taken = left === null ? null : index === wanted.legs.length - 1 ? left : Math.min(left, leg.hooks ?? 0);
    const to = taken === null ? null : from + taken - 1;
    if (at && taken !== null && hooks && setting_s !== null && ship !== null) {
      const way_deg = (ship * setting_s * (taken / hooks)) / 1852 / 60;
      const angle = (leg.course_deg_true * Math.PI) / 180;
      at = { latitude_deg: at.latitude_deg + way_deg * Math.cos(angle), longitude_deg: wrap(at.longitude_deg + (way_deg * Math.sin(angle)) / Math.cos((at.latitude_deg * Math.PI) / 180)) };
      track.push({ ...at, at: ends_at, leg: index + 1 });
    }
    const section = per !== null && clips !== null && sag !== null && spacing !== null && wanted.float_line_m != null && wanted.branch_line_m != null ? basket(per, clips, sag * (current.length ? 1.04 + 0.03 * index : 1), spacing, wanted.float_line_m, wanted.branch_line_m, layer) : null;
    const deepest = section ? Math.max(...section.hooks.map((hook) => hook.depth_m)) : null;
    const positions = (section?.hooks ?? []).filter((hook) => hook.in_layer).map((hook) => hook.position);
    const stretch = {
      leg: index + 1, from_hook: to === null ? null : from, to_hook: to, from_place: 1, to_place: 2, course_deg_true: leg.course_deg_true, off_current_deg: current.length ? Math.abs((leg.course_deg_true % 180) - 90) : null,
      starts_at: wanted.start_at ?? null, ends_at, hooks: per, in_layer: layer && section ? positions.length : null, in_layer_positions: positions, in_layer_if_current_stronger: layer && section && current.length ? Math.max(0, positions.length - 6) : null,
      deepest_m: deepest, deepest_band_m: deepest === null ? null : deepest * 0.1, mostly: section ? ('current' as const) : null, shallowest_m: section?.hooks[0]?.depth_m ?? null, in_current: current.length > 0, short_basket_depths_m: [], section, doubts: [],
    };
    if (taken !== null) from += taken;
    return stretch;
  });
  const share = (pick: 'in_layer' | 'in_layer_if_current_stronger') => (layer && hooks !== null && per && stretches.every((one) => one[pick] != null) ? Math.round(stretches.reduce((sum, one) => sum + ((one.to_hook! - one.from_hook! + 1) * one[pick]!) / per, 0)) : null);
  const line_m = whole === null || spacing === null ? null : whole * spacing;
  const buoys = hooks !== null && given.hooks_per_radio_buoy ? Math.ceil(hooks / given.hooks_per_radio_buoy) + 1 : null;
  const deepest = Math.max(0, ...stretches.map((one) => (one.deepest_m ?? 0) + (one.deepest_band_m ?? 0)), layer?.[1] ?? 0);
  const need = (what: Planned['needed'][number]['what'], needed: number | null, aboard?: number | null) => ({ what, needed, aboard: aboard ?? null, enough: needed === null || aboard == null ? null : aboard >= needed });
  const hour = (ms: number) => new Date(ms).toISOString();
  const [sky_from, sky_to] = start_ms === null ? [0, 0] : [start_ms - 6 * 3_600_000, start_ms + 12 * 3_600_000];
  const first = track[0] ?? null;
  const last = track.at(-1) ?? null;
  return {
    setting: { vessel_speed_through_water_kn: ship === null ? null : (ship * 3600) / 1852, shooter_speed_m_s: shooter, sag_ratio: sag, beat_s: beat, clip_spacing_m: spacing, hooks_per_basket: per, hooks, baskets, float_takes_a_beat: given.float_takes_a_beat !== false, hooks_per_radio_buoy: given.hooks_per_radio_buoy ?? null, doubts: [] },
    order: { ship_kn: ship === null ? null : (ship * 3600) / 1852, shooter_m_s: shooter, shooter_m_min: shooter === null ? null : shooter * 60, beat_s: beat, hooks_per_basket: per, float_line_m: wanted.float_line_m ?? null, branch_line_m: wanted.branch_line_m ?? null, sag_ratio: sag, clip_spacing_m: spacing },
    stretches, hooks, hooks_in_layer: share('in_layer'), hooks_in_layer_if_current_stronger: share('in_layer_if_current_stronger'),
    temperature, current, isotherms: isotherms(temperature), draw_to_m: Math.ceil((deepest * 1.05 + 1) / 50) * 50,
    totals: { hooks, baskets, floats: baskets === null ? null : baskets + 1 - (buoys ?? 0), radio_buoys: buoys, main_line_m: line_m, setting_s, ends_at, hooks_by_daylight: hooks === null || start_ms === null ? null : Math.round(hooks * 0.2), distance_m: null },
    needed: [need('main_line_m', line_m, wanted.aboard?.main_line_m), need('branch_lines', hooks, wanted.aboard?.branch_lines), need('floats', baskets === null ? null : baskets + 1, wanted.aboard?.floats), need('radio_buoys', buoys, wanted.aboard?.radio_buoys)],
    bait: (wanted.aboard?.bait ?? []).map((one) => {
      const pieces = hooks === null ? null : Math.round(hooks * (one.share ?? 1));
      const boxes = pieces === null || !one.pieces_per_box ? null : Math.ceil(pieces / one.pieces_per_box);
      return { bait: one.bait, pieces, boxes, boxes_aboard: one.boxes ?? null, enough: boxes === null || one.boxes == null ? null : one.boxes >= boxes, take_out_by: one.thaw_h == null || start_ms === null ? null : hour(start_ms - one.thaw_h * 3_600_000), sets_left: boxes && one.boxes != null ? Math.floor(one.boxes / boxes) : null };
    }),
    bins: wanted.aboard?.bins ?? [], bins_short_of_hooks: null, track,
    radio_buoys: first && last ? [{ at_hook: 0, place: 1, ...first }, { at_hook: hooks ?? 0, place: (baskets ?? 0) + 1, ...last }] : [],
    strip: strip(stretches[0]?.section ?? null, baskets ?? 0, start_ms, setting_s),
    sky: start_ms === null || !at ? null : {
      from: hour(sky_from), to: hour(sky_to), moon_illuminated: 0.23,
      bars: ([['day', -6, -1.5], ['twilight', -1.5, -0.7], ['night', -0.7, 8], ['twilight', 8, 8.9], ['day', 8.9, 12]] as const).map(([light, a, b]) => ({ light, from: hour(start_ms + a * 3_600_000), to: hour(start_ms + b * 3_600_000) })),
      events: ([['sunset', -1.5], ['nautical_dusk', -0.7], ['moonset', 6.8], ['nautical_dawn', 8], ['sunrise', 8.9]] as const).map(([what, a]) => ({ what, at: hour(start_ms + a * 3_600_000) })),
    },
    zones: last ? [{ name: 'north box', least_distance_m: 16_700, inside: false, at: ends_at, latitude_deg: last.latitude_deg + 0.02, longitude_deg: wrap(last.longitude_deg + 0.15), leg: 2 }] : [],
    warnings: [], doubts: current.length ? [{ concerns: 'water', kind: 'profile_old', text: 'The profile is 13 h old.' }, { concerns: 'water', kind: 'current_guessed', text: 'The current below 150 m is guessed from the levels above.' }] : [{ concerns: 'water', kind: 'still_water', text: 'No current is known: depths are for still water, and in a current the gear hangs shallower.' }],
    event_data: { plan: { hooks_per_basket: per, beat_s: beat, hooks, baskets, float_takes_a_beat: given.float_takes_a_beat !== false, layer_m: layer }, target: wanted.target ?? null, start_at: wanted.start_at ?? null, legs: wanted.legs },
  };
}

function basket(per: number, clips: number, sag: number, spacing: number, float_m: number, branch_m: number, layer: readonly [number, number] | null) {
  const span_m = clips * spacing * Math.min(1, sag);
  const drop = clips * spacing * Math.sqrt(Math.max(0, 1 - Math.min(1, sag))) * 0.55;
  const depth = (x: number) => float_m + drop * (1 - (2 * x - 1) ** 2);
  const points = Array.from({ length: 61 }, (_, at) => at / 60);
  return {
    span_m, main_line: points.map((x): [number, number] => [x * span_m, depth(x)]),
    band_upper: points.map((x): [number, number] => [x * span_m, depth(x) - 0.1 * (depth(x) - float_m)]), band_lower: points.map((x): [number, number] => [x * span_m, depth(x) + 0.1 * (depth(x) - float_m)]),
    hooks: Array.from({ length: per }, (_, at) => {
      const x = (at + 1) / (per + 1);
      const depth_m = depth(x) + branch_m;
      return { position: at + 1, x_m: x * span_m, clip_depth_m: depth(x), depth_m, band_m: depth_m * 0.1, in_layer: layer ? depth_m >= layer[0] && depth_m <= layer[1] : null };
    }),
  };
}

function isotherms(levels: { depth_m: number; temperature_c: number }[]): { temperature_c: number; depth_m: number }[] {
  const found: { temperature_c: number; depth_m: number }[] = [];
  for (let at = 0; at + 1 < levels.length; at++) {
    const [a, b] = [levels[at]!, levels[at + 1]!];
    for (let t = Math.floor(a.temperature_c); t > b.temperature_c; t--) found.push({ temperature_c: t, depth_m: a.depth_m + ((b.depth_m - a.depth_m) * (a.temperature_c - t)) / (a.temperature_c - b.temperature_c) });
  }
  return found;
}

function strip(section: ReturnType<typeof basket> | null, baskets: number, start_ms: number | null, setting_s: number | null): Planned['strip'] {
  const hours: { at: number; at_utc: string }[] = [];
  if (start_ms !== null && setting_s) for (let ms = Math.ceil(start_ms / 3_600_000) * 3_600_000; ms < start_ms + setting_s * 1000; ms += 3_600_000) hours.push({ at: (ms - start_ms) / setting_s / 1000, at_utc: new Date(ms).toISOString() });
  const deepest_m = Math.max(100, ...(section?.hooks ?? []).map((hook) => hook.depth_m));
  return {
    deepest_m, draw_to_m: deepest_m * 1.05, hours, baskets_set: 0, baskets_to_come: baskets, rests_on: 'planned_hooks', line_ends_at: 1, haul: null,
    hauled_bars: [], missing_floats: [], crosses: [], questions: [], dots: [], floats: [],
    arcs: Array.from({ length: section ? baskets : 0 }, (_, at) => ({ basket: at + 1, state: 'to_come' as const, depth_known: true, points: section!.main_line.filter((_, one) => one % 6 === 0).map(([x, depth]): [number, number] => [(at + x! / section!.span_m) / baskets, depth!]) })),
    flags: ['A', 'B', 'C', 'D', 'E', 'F'].map((label, at) => ({ at: at / 5, label })),
    light: [{ from: 0, to: 0.62, light: 'night' }, { from: 0.62, to: 0.75, light: 'twilight' }, { from: 0.75, to: 1, light: 'day' }],
  };
}

// What is asked of the ship for a plan, and what it answers. Places in [−180, 180), times in UTC, depth down, currents
// towards. What is not known is absent or null, never 0.
import type { components } from '../api/api.d.ts';

export interface Level {
  depth_m: number;
  temperature_c?: number | null;
  east_m_s?: number | null;
  north_m_s?: number | null;
}

/** What the setting rests on: only what the user fixed; the ship works out the rest. */
export interface SettingWanted {
  vessel_speed_through_water_kn?: number | null;
  shooter_speed_m_s?: number | null;
  sag_ratio?: number | null;
  beat_s?: number | null;
  clip_spacing_m?: number | null;
  hooks_per_basket?: number | null;
  hooks?: number | null;
  baskets?: number | null;
  float_takes_a_beat?: boolean | null;
  hooks_per_radio_buoy?: number | null;
}

export interface LegWanted {
  course_deg_true: number;
  /** Null for the last leg: it takes the rest. */
  hooks?: number | null;
}

export interface BaitAboard {
  bait: string;
  boxes?: number | null;
  pieces_per_box?: number | null;
  share?: number | null;
  thaw_h?: number | null;
}

export interface Aboard {
  main_line_m?: number | null;
  branch_lines?: number | null;
  floats?: number | null;
  radio_buoys?: number | null;
  bins?: { bin: string; hooks: number }[] | null;
  bait?: BaitAboard[] | null;
}

export interface PlanWanted {
  start_at?: string | null;
  start?: { latitude_deg: number; longitude_deg: number } | null;
  legs: LegWanted[];
  setting: SettingWanted;
  float_line_m?: number | null;
  branch_line_m?: number | null;
  main_line?: Record<string, number | null> | null;
  branch?: Record<string, unknown> | null;
  float_line?: Record<string, number | null> | null;
  float?: Record<string, number | null> | null;
  water?: { levels: Level[]; taken_at?: string | null; source?: string | null } | null;
  layer_m?: [number, number] | null;
  target?: string | null;
  night?: boolean | null;
  aboard?: Aboard | null;
  utc_offset_min?: number | null;
  [more: string]: unknown;
}

export type Cause = 'sag_ratio' | 'weight' | 'drag' | 'current';

export interface SectionHook {
  position: number;
  x_m: number;
  clip_depth_m: number;
  depth_m: number;
  band_m?: number | null;
  in_layer?: boolean | null;
}

export interface Section {
  span_m: number;
  main_line: [number, number][];
  hooks: SectionHook[];
  band_upper?: [number, number][] | null;
  band_lower?: [number, number][] | null;
}

export interface Place {
  latitude_deg: number;
  longitude_deg: number;
}

export interface Stretch {
  leg: number;
  from_hook?: number | null;
  to_hook?: number | null;
  from_place?: number | null;
  to_place?: number | null;
  course_deg_true?: number | null;
  off_current_deg?: number | null;
  starts_at?: string | null;
  ends_at?: string | null;
  hooks?: number | null;
  in_layer?: number | null;
  in_layer_positions: number[];
  in_layer_if_current_stronger?: number | null;
  deepest_m?: number | null;
  deepest_band_m?: number | null;
  mostly?: Cause | null;
  shallowest_m?: number | null;
  in_current?: boolean;
  section?: Section | null;
  doubts: Doubt[];
}

export interface Doubt {
  kind: string;
  text: string;
}

export interface Needed {
  what: 'main_line_m' | 'branch_lines' | 'floats' | 'radio_buoys';
  needed?: number | null;
  aboard?: number | null;
  enough?: boolean | null;
}

export interface BaitNeeded {
  bait: string;
  pieces?: number | null;
  boxes?: number | null;
  boxes_aboard?: number | null;
  enough?: boolean | null;
  take_out_by?: string | null;
  sets_left?: number | null;
}

export interface Sky {
  from: string;
  to: string;
  bars: { from: string; to: string; light: 'night' | 'twilight' | 'day' }[];
  events: { what: string; at: string }[];
  moon_illuminated?: number | null;
}

export interface ZoneNear {
  name: string;
  least_distance_m?: number | null;
  inside: boolean;
  at?: string | null;
  latitude_deg?: number | null;
  longitude_deg?: number | null;
  leg?: number | null;
}

export type PlanStrip = components['schemas']['ScreenStrip'];

export interface Planned {
  setting: SettingWanted & { doubts: Doubt[] };
  order: {
    ship_kn?: number | null;
    shooter_m_s?: number | null;
    shooter_m_min?: number | null;
    beat_s?: number | null;
    hooks_per_basket?: number | null;
    float_line_m?: number | null;
    branch_line_m?: number | null;
    sag_ratio?: number | null;
    clip_spacing_m?: number | null;
  };
  stretches: Stretch[];
  hooks_in_layer?: number | null;
  hooks_in_layer_if_current_stronger?: number | null;
  hooks?: number | null;
  isotherms: { temperature_c: number; depth_m: number }[];
  temperature: { depth_m: number; temperature_c: number }[];
  current: { depth_m: number; east_m_s: number; north_m_s: number }[];
  draw_to_m: number;
  totals: {
    hooks?: number | null;
    baskets?: number | null;
    floats?: number | null;
    radio_buoys?: number | null;
    main_line_m?: number | null;
    setting_s?: number | null;
    ends_at?: string | null;
    hooks_by_daylight?: number | null;
    distance_m?: number | null;
  };
  needed: Needed[];
  bait: BaitNeeded[];
  bins: { bin: string; hooks: number }[];
  bins_short_of_hooks?: number | null;
  track: (Place & { at?: string | null; leg: number })[];
  radio_buoys: { at_hook: number; place: number; latitude_deg?: number | null; longitude_deg?: number | null; at?: string | null }[];
  strip?: PlanStrip | null;
  sky?: Sky | null;
  zones: ZoneNear[];
  warnings: Doubt[];
  doubts: Doubt[];
  /** The data of a `set_planned` event. */
  event_data: Record<string, unknown>;
}

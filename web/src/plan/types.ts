// What is asked of the ship for a plan, and what it answers: the types of the API document. A plan in work has fewer
// fields than the document names: what is not known yet is absent or null.
import type { components } from '../api/api.d.ts';

type Schemas = components['schemas'];

export type Level = Schemas['PlanWaterLevel'];
/** Only what the user fixed is sent; the ship works out the rest. */
export type SettingWanted = Partial<Schemas['SettingInput']>;
export type LegWanted = Schemas['PlanLeg'];
export type BaitAboard = Pick<Schemas['PlanBaitAboard'], 'bait'> & Partial<Schemas['PlanBaitAboard']>;
export type Aboard = Partial<Omit<Schemas['PlanAboard'], 'bait'>> & { bait?: BaitAboard[] };
/** A part of the gear while it is typed: it may still lack what the ship needs of it. */
export type PartWanted = Record<string, unknown>;

type Draft = Omit<Schemas['PlanWanted'], 'legs' | 'setting' | 'aboard' | 'layer_m' | 'main_line' | 'branch' | 'float_line' | 'float' | 'water'>;

export type PlanWanted = Partial<Draft> & {
  /** The last leg takes the rest. */
  legs: LegWanted[];
  setting: SettingWanted;
  aboard?: Aboard | null;
  layer_m?: [number, number] | null;
  main_line?: PartWanted | null;
  branch?: PartWanted | null;
  float_line?: PartWanted | null;
  float?: PartWanted | null;
  water?: (Pick<Schemas['PlanWater'], 'levels'> & Partial<Schemas['PlanWater']>) | null;
};

export type Planned = Schemas['PlanAnswer'];
export type Section = Schemas['PlanSection'];
export type Stretch = Schemas['PlanStretch'];
/** A doubt of the forecast or of the setting. */
export type Doubt = { kind: string; text: string };

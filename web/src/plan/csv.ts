// Reads a profile of the water from text: one row for each depth, the header names the columns with their units.
//
// Columns are told by words in the header, in any order: depth (m, or fathoms), temperature (°C), and the current either
// as components towards east and north, or as speed and the direction towards which it runs; m/s, cm/s or kn. Field
// signs: comma, semicolon or tab; a decimal comma where the fields are parted by another sign.
import type { Level } from './types.ts';

export type CsvFault =
  | { fault: 'empty' }
  | { fault: 'no-depth' }
  | { fault: 'nothing-else' }
  | { fault: 'unit'; column: string }
  | { fault: 'number'; line: number; text: string }
  | { fault: 'range'; line: number; text: string }
  | { fault: 'twice'; line: number; depth_m: number }
  | { fault: 'half-current' }
  | { fault: 'few' }
  | { fault: 'many' };

export type CsvRead = { levels: Level[]; passed_over: string[] } | CsvFault;

type Column = 'depth' | 'temperature' | 'east' | 'north' | 'speed' | 'towards';
const MOST_LEVELS = 2_000;
const KNOT_M_S = 1852 / 3600;
const FATHOM_M = 1.8288;

function columnOf(head: string): Column | null {
  const word = head.toLowerCase();
  if (/\b(from)\b/.test(word) && /dir|current/.test(word)) return null;
  if (/depth|prof|^\s*[dz]\s*(\(|\[|$|_m)/.test(word)) return 'depth';
  if (/temp|^\s*t\s*(\(|\[|$|_c)/.test(word)) return 'temperature';
  if (/east|^\s*u\s*(\(|\[|$|_)/.test(word)) return 'east';
  if (/north|^\s*v\s*(\(|\[|$|_)/.test(word)) return 'north';
  if (/toward|direction|^dir|course/.test(word)) return 'towards';
  if (/speed/.test(word)) return 'speed';
  return null;
}

/** What a number of a column is multiplied with; null for a unit that is not known here. */
function scaleOf(column: Column, head: string): number | null {
  const word = head.toLowerCase();
  const bracket = /[([]\s*([^)\]]*?)\s*[)\]]/.exec(word)?.[1] ?? /_(c|degc|m|fm|cm_s|m_s|kn|kt|kts)$/.exec(word.trim())?.[1] ?? null;
  const unit = bracket?.replace(/\s|\^|\*|·/g, '').replace('_', '/') ?? null;
  if (column === 'depth') return unit === null || /^(m|metres?|meters?)$/.test(unit) ? 1 : /^(fm|ftm|fathoms?)$/.test(unit) ? FATHOM_M : null;
  if (column === 'temperature') return unit === null || /^(°|deg\.?)?c(elsius)?$/.test(unit) ? 1 : null;
  if (column === 'towards') return unit === null || /^(°|deg|degrees)(t|true)?$/.test(unit) ? 1 : null;
  // A speed without a unit could be knots or metres a second: never guessed.
  if (unit === null) return null;
  if (/^(m\/s|ms-1|m\.s-1)$/.test(unit)) return 1;
  if (/^(cm\/s|cms-1)$/.test(unit)) return 0.01;
  return /^(kn|kts?|knots?)$/.test(unit) ? KNOT_M_S : null;
}

const RANGES: Record<Column, [number, number]> = { depth: [0, 12_000], temperature: [-3, 40], east: [-6, 6], north: [-6, 6], speed: [0, 6], towards: [0, 360] };

export function readProfile(text: string): CsvRead {
  const lines = text.replace(/^\uFEFF/, '').split(/\r\n|\r|\n/).map((line, at) => ({ line: at + 1, text: line.trim() })).filter((row) => row.text !== '' && !row.text.startsWith('#'));
  const [head, ...rows] = lines;
  if (!head || rows.length === 0) return { fault: 'empty' };
  const sign = ['\t', ';', ','].find((one) => head.text.includes(one)) ?? ',';
  const cells = (row: string) => row.split(sign).map((cell) => cell.trim().replace(/^"(.*)"$/, '$1'));
  const heads = cells(head.text);
  const columns: { column: Column; at: number; scale: number }[] = [];
  const passed_over: string[] = [];
  for (const [at, name] of heads.entries()) {
    const column = columnOf(name);
    if (!column || columns.some((one) => one.column === column)) {
      if (name) passed_over.push(name);
      continue;
    }
    const scale = scaleOf(column, name);
    if (scale === null) return { fault: 'unit', column: name };
    columns.push({ column, at, scale });
  }
  const has = (column: Column) => columns.some((one) => one.column === column);
  if (!has('depth')) return { fault: 'no-depth' };
  if (has('east') !== has('north') || (has('speed') !== has('towards') && !has('east'))) return { fault: 'half-current' };
  if (!has('temperature') && !has('east') && !has('speed')) return { fault: 'nothing-else' };
  if (rows.length > MOST_LEVELS) return { fault: 'many' };
  const levels: Level[] = [];
  for (const row of rows) {
    const values = cells(row.text);
    const found: Partial<Record<Column, number>> = {};
    for (const { column, at, scale } of columns) {
      const cell = values[at] ?? '';
      if (/^(|-|na|nan|null)$/i.test(cell)) continue;
      const value = Number(sign === ',' ? cell : cell.replace(',', '.'));
      if (!Number.isFinite(value)) return { fault: 'number', line: row.line, text: cell };
      const scaled = value * scale;
      const [least, most] = RANGES[column];
      if (scaled < least || scaled > most) return { fault: 'range', line: row.line, text: `${heads[at]} ${cell}` };
      found[column] = scaled;
    }
    if (found.depth === undefined) return { fault: 'number', line: row.line, text: values[columns.find((one) => one.column === 'depth')!.at] ?? '' };
    if (levels.some((level) => Math.abs(level.depth_m - found.depth!) < 1e-6)) return { fault: 'twice', line: row.line, depth_m: found.depth };
    const level: Level = { depth_m: found.depth };
    if (found.temperature !== undefined) level.temperature_c = found.temperature;
    if (found.east !== undefined && found.north !== undefined) [level.east_m_s, level.north_m_s] = [found.east, found.north];
    else if (found.speed !== undefined && found.towards !== undefined) [level.east_m_s, level.north_m_s] = components(found.speed, found.towards);
    if (level.temperature_c !== undefined || level.east_m_s !== undefined) levels.push(level);
  }
  if (levels.length < 2) return { fault: 'few' };
  levels.sort((a, b) => a.depth_m - b.depth_m);
  return { levels, passed_over };
}

/** Speed and direction towards, as parts towards east and north. */
export function components(speed_m_s: number, towards_deg_true: number): [number, number] {
  const angle = (towards_deg_true * Math.PI) / 180;
  return [clean(speed_m_s * Math.sin(angle)), clean(speed_m_s * Math.cos(angle))];
}

/** The other way round. */
export function speedOf(east_m_s: number, north_m_s: number): { speed_m_s: number; towards_deg_true: number } {
  const towards = (Math.atan2(east_m_s, north_m_s) * 180) / Math.PI;
  return { speed_m_s: Math.hypot(east_m_s, north_m_s), towards_deg_true: (towards + 360) % 360 };
}

const clean = (value: number) => Math.round(value * 1e9) / 1e9 + 0;

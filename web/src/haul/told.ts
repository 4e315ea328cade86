// What was kept, in a few words.
import { say, words } from '../words/words.svelte.ts';
import { haul } from './haul.svelte.ts';
import { type Entry, number, text } from './log.ts';
import { codeOf, nameOf } from './species.ts';

const FISH = new Set(['landed', 'lost_at_rail', 'bitten', 'released']);
const small = (word: string) => word.toLocaleLowerCase(words.tag);
const place = (value: unknown) => haul.nameOf(number(value));

/** What it was and where on the line it came, with what was said of it since. */
export function told(entry: Entry): { what: string; where: string; fish: boolean } {
  const { data, kind } = entry;
  if (FISH.has(kind)) {
    const said: string[] = [];
    const count = number(data['count_since_float']);
    if (entry.after !== null) said.push(count === null ? say('entry-after', { float: haul.nameOf(entry.after) }) : say(number(data['uncertainty_hooks']) ? 'entry-about' : 'entry-exactly', { count, float: haul.nameOf(entry.after) }));
    const condition = text(data['condition']);
    if (condition) said.push(small(say(condition.startsWith('alive') ? 'catch-alive' : 'catch-dead')));
    const size = text((data['grade'] as Record<string, unknown> | undefined)?.['size']);
    if (size) said.push(small(say(size === 'S' ? 'catch-small' : size === 'L' ? 'catch-large' : 'catch-medium')));
    const [length, weight] = [number(data['length_cm']), number(data['weight_kg'])];
    if (length !== null) said.push(`${words.number(length)} cm`);
    if (weight !== null) said.push(`${words.number(weight)} kg`);
    const fate = text(data['fate']);
    if (fate === 'released') said.push(small(say('catch-let-go')));
    if (fate === 'discarded') said.push(small(say('catch-discarded')));
    const species = codeOf(data);
    const what = kind === 'lost_at_rail' ? 'haul-lost' : kind === 'bitten' ? 'haul-bitten' : null;
    return { what: what ? (species ? `${say(what)}: ${nameOf(species)}` : say(what)) : nameOf(species ?? 'MZZ'), where: said.join(', '), fish: true };
  }
  const between = () => say('entry-between', { from: place(data['from_place']), to: place(data['to_place']) });
  switch (kind) {
    case 'float_hauled':
      return { what: say('entry-float', { float: text(data['tag']) ?? place(data['place']) }), where: say('entry-hauled'), fish: false };
    case 'radio_buoy_recovered':
      return { what: say('haul-buoy', { buoy: text(data['buoy']) ?? '?' }), where: say('entry-hauled'), fish: false };
    case 'float_missing':
      return { what: say('entry-float', { float: place(data['place']) }), where: say('entry-missing'), fish: false };
    case 'branch_line_lost':
      return { what: say('haul-branch'), where: say(data['cause'] === 'bitten' ? 'branch-bitten' : data['cause'] === 'cut' ? 'branch-cut' : 'branch-broken'), fish: false };
    case 'tangle':
      return { what: say('haul-tangle'), where: `${between()}, ${say('entry-tangle', { saved: number(data['branch_lines_saved']) ?? 0, cut: number(data['branch_lines_cut']) ?? 0 })}`, fish: false };
    case 'gear_lost':
      return { what: say('haul-gear-lost'), where: between(), fish: false };
    case 'gear_recovered':
      return { what: say('haul-gear-found'), where: between(), fish: false };
    case 'haul_started':
      return { what: say('entry-started'), where: say(data['direction'] === 'to_last' ? 'haul-to-last' : 'haul-to-first'), fish: false };
    default:
      return { what: say('entry-ended'), where: say(data['reason'] === 'all_up' ? 'end-all-up' : data['reason'] === 'parted' ? 'haul-parted' : data['reason'] === 'left_in_water' ? 'end-left' : 'end-given-up'), fish: false };
  }
}

// What comes up: kinds, codes, names and which of them open the step card, from species.json.
import { words } from '../words/words.svelte.ts';
import list from './species.json' with { type: 'json' };

export type Kind = keyof typeof list.kinds;
type Names = Record<string, Record<string, string>>;

const names = list.names as Names;
export const kinds = Object.keys(list.kinds) as Kind[];
export const anyOf = (kind: Kind): string => list.kinds[kind].any;
export const codesOf = (kind: Kind): readonly string[] => list.kinds[kind].codes;
/** All codes that the boat's list knows. */
export const known: ReadonlySet<string> = new Set(Object.keys(names));

export function kindOf(code: string | null | undefined): Kind | null {
  return kinds.find((kind) => anyOf(kind) === code || codesOf(kind).includes(code ?? '')) ?? null;
}

/** What an event says it is: its code, else the kind that stands for one. */
export const codeOf = (data: Record<string, unknown>): string | null => (typeof data['species'] === 'string' ? data['species'] : typeof data['kind'] === 'string' ? data['kind'] : null);

/** What an event says of a key's code: a kind without a code of its own is no species. */
export const asData = (code: string): { species: string } | { kind: string } => (/^[A-Z]{3}$/.test(code) ? { species: code } : { kind: code });

/** A name in the reader's language; else the English one, else the code. */
export function nameOf(code: string | null | undefined, language: string = words.tag): string {
  const of = names[code ?? ''];
  return of?.[language] ?? of?.['en'] ?? code ?? '?';
}

/** The figure drawn for a code. */
export function figureOf(code: string | null | undefined): string {
  const own = (list.figures as Record<string, string>)[code ?? ''];
  const kind = kindOf(code);
  return own ?? (kind === 'billfish' ? 'marlin' : kind === 'mammal' ? 'dolphin' : (kind ?? 'fish'));
}

/** Whether the boat's list wants the step card for it. */
export function opensCard(code: string | null | undefined): boolean {
  const kind = kindOf(code);
  const wanted = kind && kind in list.card ? (list.card as Record<string, string[]>)[kind]! : [];
  return wanted.includes('*') || wanted.includes(code ?? '');
}

/** Kinds that have a key of their own beside the six commonest. */
const EATEN: readonly Kind[] = ['tuna', 'billfish', 'fish'];

/** The species on the first row, commonest of the trip first; frozen when the haul begins. */
export function commonest(caught: ReadonlyMap<string, number>, most = 6): string[] {
  const eaten = new Set(EATEN.flatMap((kind) => codesOf(kind)));
  const usual = list.usual.indexOf.bind(list.usual);
  const rank = (code: string) => (usual(code) < 0 ? 99 : usual(code));
  return [...new Set([...[...caught.keys()].filter((code) => eaten.has(code)), ...list.usual])]
    .sort((a, b) => (caught.get(b) ?? 0) - (caught.get(a) ?? 0) || rank(a) - rank(b))
    .slice(0, most);
}

/** The kinds of a group, those caught on this trip first. */
export function kindsOf(kind: Kind, caught: ReadonlyMap<string, number>): string[] {
  return [...codesOf(kind)].filter((code) => code !== anyOf(kind)).sort((a, b) => (caught.get(b) ?? 0) - (caught.get(a) ?? 0));
}

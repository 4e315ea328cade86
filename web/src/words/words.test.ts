// The words: every language has the same sentences with the same gaps, and every sentence is used.
import { readdirSync, readFileSync } from 'node:fs';
import { FluentBundle, FluentResource } from '@fluent/bundle';
import { describe, expect, it } from 'vitest';
import { family } from '../draw/font.ts';
import { degrees } from './position.ts';

const folder = new URL('../../locales/', import.meta.url);
const read = (tag: string) => {
  const text = readFileSync(new URL(`${tag}.ftl`, folder), 'utf8');
  const messages = new Map<string, Set<string>>();
  for (const [, id, pattern] of text.matchAll(/^([a-z][\w-]*) = (.+)$/gm)) messages.set(id!, new Set([...pattern!.matchAll(/\$(\w+)/g)].map((gap) => gap[1]!)));
  return { text, messages };
};
const tags = readdirSync(folder).filter((name) => name.endsWith('.ftl')).map((name) => name.slice(0, -4));
const english = read('en');

function sources(from: URL): string {
  return readdirSync(from, { withFileTypes: true })
    .map((entry) => (entry.isDirectory() ? sources(new URL(`${entry.name}/`, from)) : /\.(svelte|ts)$/.test(entry.name) && !/\.(d|test)\.ts$/.test(entry.name) ? readFileSync(new URL(entry.name, from), 'utf8') : ''))
    .join('\n');
}

describe('words', () => {
  it('verif_ the seven languages are there', () => {
    expect(tags.sort()).toEqual(['en', 'es', 'fil', 'id', 'ja', 'vi', 'zh-Hans']);
    // The names by which they are chosen are those that the files bear.
    const listed = readFileSync(new URL('words.svelte.ts', import.meta.url), 'utf8');
    for (const tag of tags) expect(listed).toContain(`{ tag: '${tag}', name: '${/^language-name = (.+)$/m.exec(read(tag).text)![1]}' }`);
  });

  for (const tag of tags) {
    it(`verif_ ${tag}: the same sentences with the same gaps, readable by Fluent`, () => {
      const { text, messages } = read(tag);
      expect([...messages.keys()].sort()).toEqual([...english.messages.keys()].sort());
      for (const [id, gaps] of english.messages) expect([...messages.get(id)!].sort(), id).toEqual([...gaps].sort());
      const bundle = new FluentBundle(tag, { useIsolating: false });
      expect(bundle.addResource(new FluentResource(text))).toEqual([]);
      for (const [id, gaps] of messages) {
        const errors: Error[] = [];
        const said = bundle.formatPattern(bundle.getMessage(id)!.value!, Object.fromEntries([...gaps].map((gap) => [gap, '7'])), errors);
        expect(errors, id).toEqual([]);
        expect(said, id).not.toMatch(/[{}]/);
      }
      if (tag !== 'en') expect(text).toMatch(/^# needs a native reader\n/);
    });
  }

  it('verif_ every sentence that a screen says is there, and every one there is said', () => {
    const all = sources(new URL('../', import.meta.url));
    const said = [...all.matchAll(/(?<![.\w])say\('([\w-]+)'/g)].map((one) => one[1]!);
    for (const id of said) expect(english.messages.has(id), id).toBe(true);
    const made = ['kind-', 'queue-reason-', 'link-', 'palette-', 'state-', 'screen-', 'journal-', 'basis-', 'role-', 'card-', 'caution-', 'hook-', 'figure-', 'language-name', 'pace-', 'pane-', 'needed-', 'sky-', 'told-mostly-', 'typed-', 'csv-', 'gear-', 'where-'];
    for (const id of english.messages.keys()) expect(all.includes(`'${id}'`) || made.some((start) => id.startsWith(start)), id).toBe(true);
  });
});

describe('type', () => {
  const css = readFileSync(new URL('../look/base.css', import.meta.url), 'utf8');
  it('verif_ Japanese and Chinese have faces of their own, the same on the canvas as on the page', () => {
    for (const [language, face] of [['ja', 'JP'], ['zh-Hans', 'SC']] as const) {
      expect(family(language)).toContain(`'Noto Sans CJK ${face}'`);
      expect(css).toContain(`:lang(${language}) { font-family: ${family(language)}; }`);
    }
    for (const language of ['en', 'es', 'fil', 'id', 'vi']) expect(css).toContain(`font-family: ${family(language)};`);
    expect(family('zh-Hans')).not.toMatch(/JP|Hiragino|Yu Gothic/);
  });
});

describe('positions', () => {
  it('verif_ minutes never reach 60, and the letter tells the side', () => {
    expect(degrees(-14.20687, 2, 'N', 'S')).toBe('14°12.412′ S');
    expect(degrees(179.99999999, 3, 'E', 'W')).toBe('180°00.000′ E');
    expect(degrees(-0.00001, 2, 'N', 'S')).toBe('00°00.001′ S');
    expect(degrees(9.9999999, 2, 'N', 'S')).toBe('10°00.000′ N');
  });
});

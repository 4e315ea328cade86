// The words of the screens, by Fluent. English is in the bundle, and stands wherever a language lacks a sentence. The
// other languages are files beside it, all fetched when the page starts and kept on the device, so that nothing is
// fetched in a hole of the Wi-Fi: a device that spoke a language once speaks it without the ship.
import { FluentBundle, FluentNumber, FluentResource } from '@fluent/bundle';
import english_text from '../../locales/en.ftl?raw';

const files = import.meta.glob<string>(['../../locales/*.ftl', '!../../locales/en.ftl'], { query: '?url', import: 'default', eager: true });

/** Every language by its tag and its own name. */
export const languages: readonly { tag: string; name: string }[] = [
  { tag: 'en', name: 'English' }, { tag: 'es', name: 'Español' }, { tag: 'fil', name: 'Filipino' }, { tag: 'id', name: 'Bahasa Indonesia' },
  { tag: 'ja', name: '日本語' }, { tag: 'vi', name: 'Tiếng Việt' }, { tag: 'zh-Hans', name: '简体中文' },
];

function bundleOf(tag: string, text: string): FluentBundle {
  const bundle = new FluentBundle(tag, { useIsolating: false });
  bundle.addResource(new FluentResource(text));
  return bundle;
}

const english = bundleOf('en', english_text);

/** Number formats are dear to make and are used many times in every picture. */
const made = new Map<string, Intl.NumberFormat>();
function numbers(tag: string, digits: number): Intl.NumberFormat {
  const key = `${tag}/${digits}`;
  const found = made.get(key) ?? new Intl.NumberFormat(tag, { minimumFractionDigits: digits, maximumFractionDigits: digits, useGrouping: false });
  made.set(key, found);
  return found;
}

function first(): string {
  const stored = localStorage.getItem('language');
  const wanted = [stored ?? '', ...navigator.languages.map((one) => (one.startsWith('zh') ? 'zh-Hans' : one.startsWith('tl') ? 'fil' : one.split('-')[0]!))];
  return wanted.find((tag) => languages.some((one) => one.tag === tag)) ?? 'en';
}

const STORE = 'words:';

/** What this device was told before. */
function stored(): Record<string, string> {
  const found: Record<string, string> = {};
  for (const { tag } of languages) {
    const text = localStorage.getItem(STORE + tag);
    if (text !== null) found[tag] = text;
  }
  return found;
}

class Words {
  tag = $state(first());
  /** Texts of the languages that are here, by tag. */
  private texts = $state.raw<Record<string, string>>(stored());
  private readonly bundle = $derived(this.tag === 'en' || this.texts[this.tag] === undefined ? english : bundleOf(this.tag, this.texts[this.tag]!));
  /** Words 40 % longer, to see whether the layout holds. */
  longer = $state(new URLSearchParams(location.search).has('longer'));

  /** Fetches the languages, the one that is spoken first; what cannot be had now is tried again. */
  async fetch(): Promise<void> {
    const tags = languages.map((one) => one.tag).filter((tag) => tag !== 'en');
    for (const tag of tags.sort((a, b) => (a === this.tag ? -1 : b === this.tag ? 1 : 0))) {
      for (let wait_ms = 1_000; ; wait_ms = Math.min(60_000, wait_ms * 2)) {
        const answer = await fetch(files[`../../locales/${tag}.ftl`] ?? '').catch(() => null);
        const text = answer?.ok ? await answer.text().catch(() => null) : null;
        if (text?.includes('language-name')) {
          if (text !== this.texts[tag]) this.texts = { ...this.texts, [tag]: text };
          try {
            localStorage.setItem(STORE + tag, text);
          } catch {
            // No room: it is here until the page is closed.
          }
          break;
        }
        await new Promise((done) => setTimeout(done, wait_ms));
      }
    }
  }

  choose(tag: string): void {
    this.tag = tag;
    localStorage.setItem('language', tag);
  }

  /** A sentence; English where a language lacks it, the id where all do. */
  say(id: string, values?: Record<string, string | number | FluentNumber>): string {
    for (const bundle of [this.bundle, english]) {
      const message = bundle.getMessage(id);
      if (message?.value) {
        const text = bundle.formatPattern(message.value, values);
        return this.longer ? stretch(text) : text;
      }
    }
    return id;
  }

  /** A half-width: never a nought that would say that something is certain. */
  band(value: number): string {
    return this.number(value, value < 1 ? 1 : 0);
  }

  /** A number as the reader writes it, thousands parted by a thin space. */
  number(value: number, digits = 0): string {
    const text = numbers(this.tag, digits).format(value);
    const at = text.search(/[.,]/);
    const whole = at < 0 ? text : text.slice(0, at);
    const parted = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, '\u2009') : whole;
    return parted + (at < 0 ? '' : text.slice(at));
  }
}

function stretch(text: string): string {
  return text.replace(/\p{L}{3,}/gu, (word) => word + word.slice(0, Math.ceil(word.length * 0.4)));
}

export const words = new Words();
export const say = (id: string, values?: Record<string, string | number>): string => words.say(id, values);

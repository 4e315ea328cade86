// The words of the screens, by Fluent. All languages are in the one bundle: nothing is fetched in a hole of the Wi-Fi.
import { FluentBundle, FluentNumber, FluentResource } from '@fluent/bundle';

const files = import.meta.glob<string>('../../locales/*.ftl', { query: '?raw', import: 'default', eager: true });

/** Every language by its tag and its own name. */
export const languages: readonly { tag: string; name: string }[] = Object.entries(files)
  .map(([path, text]) => ({ tag: path.replace(/^.*\/|\.ftl$/g, ''), name: /^language-name = (.+)$/m.exec(text)?.[1] ?? path }))
  .sort((a, b) => (a.tag === 'en' ? -1 : b.tag === 'en' ? 1 : a.tag.localeCompare(b.tag)));

function bundleOf(tag: string): FluentBundle {
  const bundle = new FluentBundle(tag, { useIsolating: false });
  bundle.addResource(new FluentResource(files[`../../locales/${tag}.ftl`] ?? ''));
  return bundle;
}

const english = bundleOf('en');

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

class Words {
  tag = $state(first());
  private readonly bundle = $derived(this.tag === 'en' ? english : bundleOf(this.tag));
  /** Words 40 % longer, to see whether the layout holds. */
  longer = $state(new URLSearchParams(location.search).has('longer'));

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

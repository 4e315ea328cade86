// Type on the canvases: the same families as on the page (look/base.css), by language. With one list for all, Chinese
// would be drawn with Japanese shapes.
export const FAMILIES: Readonly<Record<string, string>> = {
  ja: "'Noto Sans CJK JP', 'Noto Sans JP', 'Hiragino Sans', 'Yu Gothic', sans-serif",
  'zh-Hans': "'Noto Sans CJK SC', 'Noto Sans SC', 'PingFang SC', 'Microsoft YaHei', sans-serif",
  '': "'Noto Sans', 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif",
};

/** The families of a language. */
export const family = (language: string): string => FAMILIES[language] ?? FAMILIES['']!;

/** A canvas font in the language of the page. */
export function font(size_px: number, weight = 400): string {
  return `${weight} ${size_px}px ${family(typeof document === 'undefined' ? '' : document.documentElement.lang)}`;
}

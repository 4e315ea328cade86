// Writes the service worker after a build: every file that the build has left, and a version from their contents.
import { createHash } from 'node:crypto';
import { readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join, relative, resolve } from 'node:path';
import type { Plugin } from 'vite';

/** Every file below a folder, by its path from there, in order. */
function below(folder: string, root = folder): string[] {
  return readdirSync(folder)
    .sort()
    .flatMap((name) => {
      const path = join(folder, name);
      return statSync(path).isDirectory() ? below(path, root) : [relative(root, path).replaceAll('\\', '/')];
    });
}

/** The worker's text for the files of a build. */
export function worker(template: string, dist: string): string {
  const files = below(dist).filter((file) => file !== 'sw.js');
  const hash = createHash('sha256').update(template);
  for (const file of files) hash.update(`${file}\0`).update(readFileSync(join(dist, file))).update('\0');
  const paths = files.map((file) => (file === 'index.html' ? '/' : `/${file}`));
  return template.replace('__VERSION__', hash.digest('hex').slice(0, 16)).replace('__FILES__', JSON.stringify(paths));
}

export function serviceWorker(): Plugin {
  let dist = 'dist';
  return {
    name: 'service-worker',
    apply: 'build',
    configResolved: (config) => {
      dist = resolve(config.root, config.build.outDir);
    },
    // After the files of public/ have been copied too.
    closeBundle: () => {
      const template = readFileSync(new URL('./sw.js', import.meta.url), 'utf8');
      writeFileSync(join(dist, 'sw.js'), worker(template, dist));
    },
  };
}

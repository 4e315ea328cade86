// Fails the build when there is more than one script or more than 150 kB of it, gzipped.
import { readdirSync, readFileSync } from 'node:fs';
import { gzipSync } from 'node:zlib';

const folder = new URL('../dist/assets/', import.meta.url);
const scripts = readdirSync(folder).filter((name) => name.endsWith('.js'));
const bytes = scripts.reduce((sum, name) => sum + gzipSync(readFileSync(new URL(name, folder)), { level: 9 }).length, 0);
console.log(`${scripts.length} script, ${bytes} bytes gzipped (limit 150000)`);
if (scripts.length !== 1) throw new Error(`there must be one script, not ${scripts.length}: a lazy part fails in a hole of the Wi-Fi`);
if (bytes > 150_000) throw new Error(`the script has ${bytes} bytes gzipped; the limit is 150000`);

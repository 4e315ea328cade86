// Ids made on the device. crypto.randomUUID is absent on plain http; getRandomValues is there.
// Source: RFC 9562, section 5.7 (UUID version 7: 48 bits of Unix milliseconds, version, 12 + 62 random bits, variant).

/** A UUID of version 7 for the Unix time `now_ms`. */
export function uuid7(now_ms: number): string {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let ms = Math.max(0, Math.min(Math.floor(now_ms), 2 ** 48 - 1));
  for (let at = 5; at >= 0; at--) {
    bytes[at] = ms % 256;
    ms = Math.floor(ms / 256);
  }
  bytes[6] = (bytes[6]! & 0x0f) | 0x70;
  bytes[8] = (bytes[8]! & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}

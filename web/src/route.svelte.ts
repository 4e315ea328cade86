// Which screen is open: the part of the address behind the hash, which is never sent.
export const screens = ['plan', 'set', 'stern', 'haul', 'queue', 'devices'] as const;
export type Screen = (typeof screens)[number];

const read = (): Screen => screens.find((one) => location.hash.startsWith(`#/${one}`)) ?? 'set';

class Route {
  screen = $state<Screen>(read());
  /** A pairing code behind the hash of the address that the wheelhouse shows. */
  code = /^#pair=(\d{4,12})/.exec(location.hash)?.[1] ?? '';

  constructor() {
    addEventListener('hashchange', () => (this.screen = read()));
  }
}

export const route = new Route();

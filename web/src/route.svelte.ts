// Which screen is open: the part of the address behind the hash, which is never sent.
export const screens = ['plan', 'set', 'stern', 'soak', 'haul', 'queue', 'devices'] as const;
export type Screen = (typeof screens)[number];

const read = (): Screen => screens.find((one) => location.hash.startsWith(`#/${one}`)) ?? 'set';

class Route {
  screen = $state<Screen>(read());
  /** A pairing code behind the hash of the address that the wheelhouse shows. */
  code = /^#pair=(\d{4,12})/.exec(location.hash)?.[1] ?? '';

  /** The page of enrolment, which has a path of its own; any screen leads away from it. */
  enrol = $state(location.pathname === '/enrol' && !location.hash.startsWith('#/'));

  constructor() {
    addEventListener('hashchange', () => {
      this.screen = read();
      this.enrol &&= !location.hash.startsWith('#/');
    });
  }
}

export const route = new Route();

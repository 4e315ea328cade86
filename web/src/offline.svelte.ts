// The service worker as the page sees it. It is there on https and at the ship's own computer only; elsewhere the page
// lives as long as it is not closed. A new version waits until a person takes it, and is not offered while a set is
// being laid or hauled: nothing on a deck may change under the hand.

/** none: this address cannot have one. starting: being fetched. ready: the page opens without the ship. */
export type Worker = 'none' | 'starting' | 'ready' | 'failed';

const LATER_MS = 10_000;

class Offline {
  worker = $state<Worker>('none');
  /** A newer version of the screens lies here and waits. */
  newer = $state(false);
  private registration: ServiceWorkerRegistration | null = null;
  private taking = false;
  private later: ReturnType<typeof setTimeout> | undefined;

  async start(): Promise<void> {
    // `serviceWorker` is the only honest sign; other names exist on plain http too.
    if (!import.meta.env.PROD || !('serviceWorker' in navigator)) return;
    this.worker = 'starting';
    // Asked for once; whether it is granted is the browser's affair, and nothing here rests on it.
    void navigator.storage?.persist?.().catch(() => false);
    navigator.serviceWorker.addEventListener('controllerchange', () => {
      if (this.taking) location.reload();
    });
    try {
      this.registration = await navigator.serviceWorker.register('/sw.js', { updateViaCache: 'none' });
      this.watch(this.registration);
      await navigator.serviceWorker.ready;
      this.worker = 'ready';
    } catch {
      this.worker = 'failed';
    }
  }

  /** The ship answers again: perhaps with other screens. */
  look(): void {
    void this.registration?.update().catch(() => this.lookLater());
  }

  /** The way broke off in the middle: soon again. */
  private lookLater(): void {
    clearTimeout(this.later);
    this.later = setTimeout(() => this.look(), LATER_MS);
  }

  /** Goes over to the new version; the page opens anew, the queue stays. */
  take(): void {
    this.taking = true;
    this.registration?.waiting?.postMessage('take over');
  }

  private watch(registration: ServiceWorkerRegistration): void {
    const see = () => (this.newer = registration.waiting !== null && navigator.serviceWorker.controller !== null);
    see();
    registration.addEventListener('updatefound', () => {
      const coming = registration.installing;
      coming?.addEventListener('statechange', () => {
        see();
        // Not all of its files came through.
        if (coming.state === 'redundant' && registration.waiting === null && registration.active !== coming) this.lookLater();
      });
    });
  }
}

export const offline = new Offline();

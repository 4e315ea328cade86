// The boat's table of targets: what it hopes to catch and between which depths, by its own word. From the ship's tables.
import { askAny } from '../../plan/ask.ts';
import { type Target, targetsOf } from '../../plan/targets.ts';

class Targets {
  rows = $state.raw<Target[]>([]);
  private asked = false;

  async load(): Promise<void> {
    if (this.asked) return;
    this.asked = true;
    const found = await askAny('/api/tables/targets');
    this.rows = targetsOf(found);
    if (found === null) setTimeout(() => (this.asked = false), 10_000);
  }
}

export const targets = new Targets();

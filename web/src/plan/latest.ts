// Asks for the latest and never queues: one question is under way, and of all that were wanted meanwhile only the last
// is asked after it. An answer is shown even when something newer is wanted already: a picture that is half a step old
// is better than one that stands still while a slider moves.

export class Latest<Wanted, Got> {
  private wanted: { what: Wanted; number: number } | null = null;
  private under_way = false;
  private number = 0;
  /** The number of the newest wish that was answered. */
  answered = 0;

  constructor(
    private readonly ask: (wanted: Wanted) => Promise<Got>,
    private readonly show: (got: Got, wanted: Wanted, newest: boolean) => void,
  ) {}

  /** Wishes; answers the wish's number. */
  want(what: Wanted): number {
    this.number += 1;
    this.wanted = { what, number: this.number };
    void this.go();
    return this.number;
  }

  get waits(): boolean {
    return this.under_way || this.wanted !== null;
  }

  private async go(): Promise<void> {
    if (this.under_way) return;
    this.under_way = true;
    try {
      while (this.wanted) {
        const { what, number } = this.wanted;
        this.wanted = null;
        const got = await this.ask(what);
        this.answered = number;
        this.show(got, what, this.wanted === null);
      }
    } finally {
      this.under_way = false;
    }
  }
}

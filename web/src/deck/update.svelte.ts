// A new version of the app waits until it is tapped, and until nothing is being
// written down.

class Update {
  /** A new version waits. */
  waits = $state(false);
  /** Why the app cannot be kept on this tablet, where it cannot. */
  problem = $state('');
  #takeOver: (() => Promise<void>) | undefined;

  async watch(register: (updateWaits: (takeOver: () => Promise<void>) => void) => Promise<void>): Promise<void> {
    try {
      await register((takeOver) => {
        this.#takeOver = takeOver;
        this.waits = true;
      });
    } catch (e) {
      this.problem = e instanceof Error ? e.message : String(e);
    }
  }

  /** take lets the new version take over and loads the page anew. */
  async take(): Promise<void> {
    await this.#takeOver?.();
    location.reload();
  }
}

export const update = new Update();

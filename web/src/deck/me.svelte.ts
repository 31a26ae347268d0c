// Who this tablet is to the laptop, kept for days without it.
import type { TabletSelf } from '$lib/api/types';
import { wordsOf } from '$lib/offline/errors';
import { AskError, fetchSelf, pair } from './ask';
import type { Keep } from './keep';

class Me {
  self = $state.raw<TabletSelf>();
  /** The laptop answered in this visit. */
  reached = $state<boolean>();
  /** The laptop does not know this tablet (any more). */
  stranger = $state(false);
  contactMs = $state(0);
  /** The browser's answer to the wish never to clear what this tablet keeps. */
  persistent = $state<boolean>();
  #keep!: Keep;

  async begin(keep: Keep): Promise<void> {
    this.#keep = keep;
    this.self = await keep.self();
    this.contactMs = await keep.contactMs();
    void navigator.storage?.persisted?.().then((p) => (this.persistent = p));
  }

  /** ask hears from the laptop what this tablet is. */
  async ask(): Promise<void> {
    try {
      await this.#take(await fetchSelf());
    } catch (e) {
      this.reached = e instanceof AskError && e.status !== 0;
      if (e instanceof AskError && e.status === 401) this.stranger = true;
    }
  }

  async #take(self: TabletSelf): Promise<void> {
    this.reached = true;
    this.contactMs = Date.now();
    this.stranger = !self.paired;
    await this.#keep.setContactMs(this.contactMs);
    // A laptop that does not know this tablet any more takes nothing away from it.
    if (!self.paired) {
      this.self = { ...self, studies: this.self?.studies ?? [], device: this.self?.device, name: this.self?.name };
      return;
    }
    this.self = self;
    await this.#keep.setSelf(self);
    if (self.device) await this.#keep.addNames([self.device]);
  }

  /** pair lets this tablet in with a code; it goes on under the names that it wrote under before. Returns why not. */
  async pair(code: string, name: string): Promise<string> {
    try {
      await this.#take(await pair(code, name, await this.#keep.names()));
      if (!this.persistent) this.persistent = await navigator.storage?.persist?.();
      return '';
    } catch (e) {
      return wordsOf(e);
    }
  }
}

export const me = new Me();

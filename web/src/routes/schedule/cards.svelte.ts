// The cards while they are out. One of these belongs to one component and dies
// with it; what a card says is in it while it is shown, and nowhere else.
import { tick } from 'svelte';
import { asProblem, type RequestError } from '$lib/api/client';
import type { Card, CardList, KeyProof, ScheduleProgram, Wiring } from '$lib/api/schedule';
import { words } from '$lib/words';

/** A card that is left open covers itself. */
export const shownMs = 120_000;

/** What lies in the page for the printer. */
export type Sheet = { cards: CardList } | { wiring: Wiring };

type Program = Pick<ScheduleProgram, 'cards' | 'card' | 'allCards' | 'wiring' | 'putAway'>;
const w = words.cards;

export class Cards {
  out = $state(false);
  trials = $state.raw<readonly string[]>([]);
  trial = $state('');
  card = $state.raw<Card>();
  wiring = $state.raw<Wiring>();
  sheet = $state.raw<Sheet>();
  said = $state('');
  busy = $state(false);
  problem = $state.raw<RequestError>();
  readonly covered = $derived(!this.card && !this.wiring);
  readonly following = $derived(this.trials[this.trials.indexOf(this.trial) + 1] ?? '');

  /** What cards are asked for with: a plain value, not state. */
  #token = '';
  #timer: ReturnType<typeof setTimeout> | undefined;
  /** Grows with every hiding: an answer that comes after it is thrown away. */
  #turn = 0;

  constructor(
    private readonly program: Program,
    /** Opens the browser's print dialog. */
    private readonly print: () => void,
  ) {}

  /** take gets the cards; true when they are out. */
  async take(proof: KeyProof, author: string): Promise<boolean> {
    return this.#ask(async () => {
      const taken = await this.program.cards({ ...proof, author });
      this.#token = taken.token;
      this.trials = taken.trials;
      this.trial = taken.next || (taken.trials[0] ?? '');
      this.said = taken.next ? '' : w.noneLeft;
      this.out = true;
    });
  }

  /** show uncovers the card of the trial. */
  async show(): Promise<void> {
    const turn = ++this.#turn;
    await this.#ask(async () => {
      const answer = await this.program.card(this.#token, this.trial);
      if (turn !== this.#turn || answer.trial !== this.trial) return;
      this.wiring = undefined;
      this.card = answer;
      this.#shown();
    });
  }

  async showWiring(): Promise<void> {
    const turn = ++this.#turn;
    await this.#ask(async () => {
      const answer = await this.program.wiring(this.#token);
      if (turn !== this.#turn) return;
      this.card = undefined;
      this.wiring = answer;
      this.#shown();
    });
  }

  /** hide covers whatever is shown; why is said where something was. */
  hide(why = ''): void {
    clearTimeout(this.#timer);
    this.#turn++;
    if (why && !this.covered) this.said = why;
    this.card = undefined;
    this.wiring = undefined;
  }

  toggle(): void {
    if (this.covered) void this.show();
    else this.hide();
  }

  go(to: string): void {
    if (!to) return;
    this.hide();
    this.said = '';
    this.trial = to;
  }

  printCards = (): Promise<void> => this.#printed(async () => ({ cards: await this.program.allCards(this.#token) }));
  printWiring = (): Promise<void> => this.#printed(async () => ({ wiring: await this.program.wiring(this.#token) }));

  async #printed(make: () => Promise<Sheet>): Promise<void> {
    this.hide();
    await this.#ask(async () => {
      const sheet = await make();
      // Put away meanwhile: nothing comes back onto the page.
      if (!this.#token) return;
      this.sheet = sheet;
      await tick();
      this.print();
    });
  }

  /** printed takes the sheet out of the page; true where there was one. */
  printed(): boolean {
    const was = this.sheet !== undefined;
    this.sheet = undefined;
    return was;
  }

  /** forget takes everything of the cards out of this page, and out of the program. */
  forget(): void {
    this.hide();
    this.sheet = undefined;
    this.out = false;
    this.trials = [];
    this.trial = '';
    this.problem = undefined;
    const held = this.#token;
    this.#token = '';
    if (held) this.program.putAway(held).catch(() => undefined);
  }

  #shown(): void {
    this.said = '';
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.hide(w.hidden.time), shownMs);
  }

  async #ask(act: () => Promise<void>): Promise<boolean> {
    if (this.busy) return false;
    this.busy = true;
    this.problem = undefined;
    try {
      await act();
      return true;
    } catch (e) {
      this.problem = asProblem(e);
      return false;
    } finally {
      this.busy = false;
    }
  }
}

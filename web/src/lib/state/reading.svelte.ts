// The field at the cross: asked anew when the cross or a knob moves.
import { asProblem, type RequestError } from '$lib/api/client';
import type { Asked, Form, StimulusPoint, Vector } from '$lib/api/stimulus';
import { Newest } from './newest';
import type { Stimulus } from './stimulus.svelte';

interface Want {
  asked: Asked;
  place: Vector;
}

export class Reading {
  point = $state.raw<StimulusPoint>();
  /** Where the point is read, and which form it is of. */
  of = $state.raw<{ place: Vector; form: Form }>();
  problem = $state.raw<RequestError>();

  #newest = new Newest<Want>((want, signal) => this.#read(want, signal));

  constructor(private readonly stimulus: Stimulus) {}

  /** ask reads the place in the form that the pictures show. */
  ask(form: Form): void {
    const { asked, place } = this.stimulus;
    if (asked) this.#newest.ask({ asked: { ...asked, form }, place });
  }

  stop(): void {
    this.#newest.stop();
  }

  async #read({ asked, place }: Want, signal: AbortSignal): Promise<void> {
    try {
      const view = await this.stimulus.program.points({ ...asked, points_m: [place] }, signal);
      if (signal.aborted) return;
      this.point = view.points[0];
      this.of = { place, form: asked.form };
      this.problem = undefined;
    } catch (e) {
      if (!signal.aborted) this.problem = asProblem(e);
    }
  }
}

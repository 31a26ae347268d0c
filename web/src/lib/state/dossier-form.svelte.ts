// The words and rights of a study's dossiers as they are being typed, and how
// their saving stands.
import { asProblem, type RequestError } from '$lib/api/client';
import type { Dossier, DossierPerson, DossierSpec } from '$lib/api/dossier';
import type { Entry, StudyProgram } from '$lib/api/studies';
import { formFaults, peopleText, plainOrcid, plainPeople, refusedAt, specText, without } from './dossier-spec';

/** One person in the list; key stays the same while the list is worked on. */
export interface PersonRow extends DossierPerson {
  key: number;
}

type Start = Pick<Dossier, 'spec' | 'spec_text' | 'people' | 'people_text'>;

export type FormSaving =
  { state: 'saving' | 'saved' | 'changed' } | { state: 'refused' } | { state: 'failed'; problem: RequestError };

export class DossierForm {
  start = $state.raw<Start>();
  /** Never changed in place. */
  spec = $state.raw<DossierSpec>({});
  people = $state.raw<readonly PersonRow[]>([]);
  saving = $state.raw<FormSaving>();
  /** What is wrong is said from the first try on. */
  tried = $state(false);
  #refused = $state.raw(refusedAt([]));
  #key = 0;

  readonly changed = $derived(
    this.start !== undefined &&
      (specText(this.spec) !== specText(this.start.spec) || peopleText(this.people) !== peopleText(this.start.people)),
  );
  readonly faults = $derived(formFaults(this.spec, this.people));
  /** Sentences of the last refusal by their place, and those without one. */
  readonly places = $derived(this.#refused.places);
  readonly rest = $derived(this.#refused.rest);

  constructor(
    private readonly study: Pick<StudyProgram, 'edit'>,
    private readonly program: { view(): Promise<Dossier> },
    /** Called with what a saved change wrote. */
    private readonly wrote: (entries: readonly Entry[]) => void,
  ) {}

  /** begin takes what the study holds, unless something else is being typed. */
  begin(view: Start): void {
    if (this.changed || this.saving?.state === 'saving') return;
    if (this.start?.spec_text === view.spec_text && this.start.people_text === view.people_text) return;
    this.#take(view);
  }

  #take(view: Start): void {
    this.start = view;
    this.spec = view.spec;
    this.people = view.people.map((p) => ({ ...p, key: ++this.#key }));
  }

  turn<K extends keyof DossierSpec>(field: K, value: DossierSpec[K]): void {
    this.spec = { ...this.spec, [field]: value };
    this.#touched(`spec/${field}`);
  }

  turnPerson(at: number, more: Partial<DossierPerson>): void {
    this.people = this.people.map((p, i) => (i === at ? { ...p, ...more } : p));
    for (const field of Object.keys(more)) this.#touched(`people/${at}/${field}`);
  }

  /** tidyOrcid writes an ORCID iD as it is printed, once its field is left. */
  tidyOrcid(at: number): void {
    const orcid = this.people[at]?.orcid ?? '';
    if (orcid && plainOrcid(orcid) !== orcid) this.turnPerson(at, { orcid: plainOrcid(orcid) });
  }

  /** add gives the key of the new row. */
  add(): number {
    this.people = [...this.people, { key: ++this.#key, given: '', family: '' }];
    this.#moved();
    return this.#key;
  }

  remove(at: number): void {
    this.people = this.people.filter((_, i) => i !== at);
    this.#moved();
  }

  move(at: number, by: -1 | 1): void {
    const rows = [...this.people];
    const [one, other] = [rows[at], rows[at + by]];
    if (!one || !other) return;
    [rows[at], rows[at + by]] = [other, one];
    this.people = rows;
    this.#moved();
  }

  /** What a refusal said of a field no longer holds once the field is changed. */
  #touched(place: string): void {
    if (this.saving?.state === 'saved') this.saving = undefined;
    if (!this.#refused.places.has(place)) return;
    this.#refused = without(this.#refused, (p) => p === place);
  }

  /** Rows are named by their number: after a move the sentences would stand at others. */
  #moved(): void {
    if (this.saving?.state === 'saved') this.saving = undefined;
    this.#refused = without(this.#refused, (place) => place.startsWith('people/'));
  }

  /** save writes what was changed; true once the study holds it. */
  async save(): Promise<boolean> {
    const start = this.start;
    if (!start || this.saving?.state === 'saving') return false;
    this.tried = true;
    if (this.faults.size > 0) return false;
    // Rows without a word are not kept: what is on the page is what is written.
    const spec = this.spec;
    const people = this.people.filter((p) => plainPeople([p]).length > 0);
    const texts = { spec: specText(spec), people: peopleText(people) };
    const changes = [
      ...(texts.spec === specText(start.spec) ? [] : [edit('spec', start.spec_text, texts.spec)]),
      ...(texts.people === peopleText(start.people) ? [] : [edit('people', start.people_text, texts.people)]),
    ];
    this.people = people; // a refusal counts the rows that were sent
    this.saving = { state: 'saving' };
    this.#refused = refusedAt([]);
    try {
      const done = changes.length > 0 ? await this.study.edit({ changes }) : { entries: [] };
      this.start = {
        spec,
        people: plainPeople(people),
        spec_text: changes.some((c) => c.field === 'spec') ? texts.spec : start.spec_text,
        people_text: changes.some((c) => c.field === 'people') ? texts.people : start.people_text,
      };
      this.saving = { state: 'saved' };
      this.tried = false;
      this.wrote(done.entries);
      return true;
    } catch (e) {
      this.saving = await this.#why(asProblem(e), start);
      return false;
    }
  }

  async #why(problem: RequestError, start: Start): Promise<FormSaving> {
    if (problem.status === 422) {
      this.#refused = refusedAt(problem.details);
      if (this.#refused.places.size === 0 && this.#refused.rest.length === 0)
        this.#refused = { ...refusedAt([]), rest: [problem.message] };
      return { state: 'refused' };
    }
    if (problem.status === 409) {
      try {
        const view = await this.program.view();
        if (view.spec_text !== start.spec_text || view.people_text !== start.people_text) {
          // What is on the page stays: it is mine; theirs is the start now.
          this.start = view;
          return { state: 'changed' };
        }
      } catch (e) {
        return { state: 'failed', problem: asProblem(e) };
      }
    }
    return { state: 'failed', problem };
  }

  /** theirs gives up what is on the page for what the study holds. */
  theirs(): void {
    if (this.start) this.#take(this.start);
    this.saving = undefined;
    this.tried = false;
    this.#refused = refusedAt([]);
  }
}

const edit = (field: 'spec' | 'people', from: string, to: string) => ({ kind: 'dossier', id: '', field, from, to });

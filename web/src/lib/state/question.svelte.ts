// The page Question: what it holds, and how the saving of each field stands.
import { SvelteMap } from 'svelte/reactivity';
import { asProblem, RequestError } from '$lib/api/client';
import { placesOf, type Caution, type Entry, type Question, type StudyProgram } from '$lib/api/studies';

/** FieldName is one field of one record. */
export interface FieldName {
  kind: 'study' | 'site' | 'protocol' | 'permit' | 'caution';
  id: string;
  field: string;
}

export interface Saving {
  state: 'saving' | 'saved' | 'refused' | 'changed' | 'failed';
  typed: string;
  why: string[];
  problem?: RequestError;
}

const kinds = new Set(['study', 'site', 'protocol', 'permit', 'caution']);

/** permitName is a name that no other permit of the study has, withdrawn ones included. */
export function permitName(chance: () => number = Math.random): string {
  const letters = 'abcdefghjkmnpqrstuvwxyz23456789';
  return Array.from({ length: 6 }, () => letters[Math.floor(chance() * letters.length)]).join('');
}

export class QuestionState {
  view = $state.raw<Question>();
  problem = $state.raw<RequestError>();
  readonly saving = new SvelteMap<string, Saving>();
  readonly unsaved = $derived([...this.saving.values()].filter((s) => s.state !== 'saved').length);

  constructor(
    private readonly program: Pick<StudyProgram, 'question' | 'edit'>,
    /** Called with what a saved change wrote. */
    private readonly wrote: (entries: Entry[]) => void,
  ) {}

  key = ({ kind, id, field }: FieldName): string => `${kind}/${id}/${field}`;

  async load(): Promise<void> {
    try {
      this.view = await this.program.question();
      this.problem = undefined;
    } catch (e) {
      this.problem = asProblem(e);
    }
  }

  /** take reads the page again where something of it was written elsewhere. */
  take(entries: readonly Entry[]): void {
    if (entries.some((e) => kinds.has(e.kind))) void this.load();
  }

  /** value is what the study holds. */
  value({ kind, id, field }: FieldName): string {
    const v = this.view;
    if (!v) return '';
    switch (kind) {
      case 'study':
        return field === 'title' ? v.title : v.question;
      case 'site':
        return v.site[field] ?? '';
      case 'protocol':
        return v.protocol[field] ?? '';
      case 'permit':
        return v.permits.find((p) => p.id === id)?.fields[field] ?? '';
      case 'caution': {
        const caution = this.caution(id);
        if (field === 'ticked') return caution?.ticked ? 'yes' : '';
        return (field === 'note' ? caution?.note : caution?.by) ?? '';
      }
    }
  }

  caution(id: string): Caution | undefined {
    return this.view?.cautions.flatMap((g) => g.cautions).find((c) => c.id === id);
  }

  /** save sends a field that was left, if it is not what the study holds; true once the study holds it. */
  async save(name: FieldName, typed: string): Promise<boolean> {
    const key = this.key(name);
    const from = this.value(name);
    if (this.saving.get(key)?.state === 'saving') return false;
    if (typed === from) {
      if (this.saving.get(key)?.state !== 'saved') this.saving.delete(key);
      return true;
    }
    this.saving.set(key, { state: 'saving', typed, why: [] });
    try {
      const done = await this.program.edit({ changes: [{ ...name, from, to: typed }] });
      await this.load();
      this.saving.set(key, { state: 'saved', typed, why: [] });
      this.wrote(done.entries);
      return true;
    } catch (e) {
      this.saving.set(key, await this.#refused(name, typed, from, asProblem(e)));
      return false;
    }
  }

  /** drop gives up what was typed. */
  drop(name: FieldName): void {
    this.saving.delete(this.key(name));
  }

  /** addPermit makes a permit of what was filled in. */
  async addPermit(fields: Record<string, string>): Promise<void> {
    await this.#all({ add: [{ kind: 'permit', id: permitName(), fields }] });
  }

  async withdrawPermit(id: string): Promise<void> {
    await this.#all({ remove: [{ kind: 'permit', id }] });
  }

  async #all(request: Parameters<StudyProgram['edit']>[0]): Promise<void> {
    const done = await this.program.edit(request);
    await this.load();
    this.wrote(done.entries);
  }

  async #refused(name: FieldName, typed: string, from: string, problem: RequestError): Promise<Saving> {
    if (problem.status === 422) {
      const why = placesOf(problem).map((p) => p.message);
      return { state: 'refused', typed, why: why.length > 0 ? why : [problem.message] };
    }
    if (problem.status === 409) {
      await this.load();
      if (this.value(name) !== from) return { state: 'changed', typed, why: [] };
    }
    return { state: 'failed', typed, why: [], problem };
  }
}

// Pictures that the program has given are kept: to move one section, to lay the
// textbook beside them or to turn the current asks for nothing that is there.
import type { Asked, SectionPlane, SectionView, StimulusProgram } from '$lib/api/stimulus';

/** Two sections, the textbook's two, and those of a few settings before. */
const most = 16;
/** Below this the program's own check of the current cannot be meant. */
const plainCurrentUA = 1e6;

interface Kept {
  view: SectionView;
  currentUA: number;
}

export class SectionStore {
  #kept = new Map<string, Kept>();

  constructor(private readonly program: Pick<StimulusProgram, 'section'>) {}

  /** The field is in proportion to the current: a picture of one current is a picture of any. */
  #key({ knobs, form, tolerance }: Asked, section: SectionPlane): string {
    return JSON.stringify([{ ...knobs, current_uA: 1 }, form, tolerance, section]);
  }

  has(asked: Asked, section: SectionPlane): boolean {
    return this.#find(asked, section) !== undefined;
  }

  async get(asked: Asked, section: SectionPlane, signal?: AbortSignal): Promise<SectionView> {
    const found = this.#find(asked, section);
    if (found) return found;
    const view = await this.program.section({ ...asked, section }, signal);
    this.#keep(this.#key(asked, section), { view, currentUA: asked.knobs.current_uA });
    return view;
  }

  #find(asked: Asked, section: SectionPlane): SectionView | undefined {
    const key = this.#key(asked, section);
    const kept = this.#kept.get(key);
    const now = asked.knobs.current_uA;
    if (!kept || kept.currentUA === 0) return undefined;
    if (now === kept.currentUA) return kept.view;
    if (!(now > 0 && now <= plainCurrentUA)) return undefined;
    const times = Math.abs(now / kept.currentUA);
    const view = {
      ...kept.view,
      // Six digits, as the program writes them.
      magnitude_nV_per_cm: kept.view.magnitude_nV_per_cm.map((v) =>
        v === null ? null : Number((v * times).toPrecision(6)),
      ),
    };
    return view;
  }

  #keep(key: string, kept: Kept): void {
    this.#kept.delete(key);
    this.#kept.set(key, kept);
    const [oldest] = this.#kept.keys();
    if (this.#kept.size > most && oldest !== undefined) this.#kept.delete(oldest);
  }
}

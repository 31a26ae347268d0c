// The program lays a section symmetrically about (0, 0). To look closely at a
// pair that is elsewhere, the whole setting is moved there for the question, and
// the answer is moved back. A field does not depend on where its origin is.
import type { Knobs, SectionPlane, SectionView } from '$lib/api/stimulus';

const less = (at: readonly number[], [x, y]: readonly [number, number]): number[] =>
  at.map((v, i) => (i === 0 ? v - x : i === 1 ? v - y : v));

/** movedTo gives knobs and plane of a setting whose place `middle` has become (0, 0). */
export function movedTo(
  knobs: Knobs,
  plane: SectionPlane,
  middle: readonly [number, number],
): { knobs: Knobs; plane: SectionPlane } {
  const [x, y] = middle;
  if (x === 0 && y === 0) return { knobs, plane };
  const centred = <T extends { centre_m: number[] }>(of: T): T => ({ ...of, centre_m: less(of.centre_m, middle) });
  const a = (plane.azimuth_deg * Math.PI) / 180;
  return {
    knobs: {
      ...knobs,
      enclosure: knobs.enclosure && centred({ ...knobs.enclosure, centre_m: knobs.enclosure.centre_m ?? [0, 0] }),
      plates: knobs.plates.map(centred),
      pairs: knobs.pairs.map(centred),
      electrodes: knobs.electrodes.map((e) => ({ ...e, at_m: less(e.at_m, middle) })),
      bodies: knobs.bodies.map(centred),
    },
    plane:
      plane.plane === 'vertical'
        ? { ...plane, offset_m: plane.offset_m - (y * Math.cos(a) - x * Math.sin(a)) }
        : { ...plane, lowest_m: plane.lowest_m - y, highest_m: plane.highest_m - y },
  };
}

/** movedBack gives an answer the places of the study again. */
export function movedBack(view: SectionView, plane: SectionPlane, asked: SectionPlane, middleM: number): SectionView {
  if (plane === asked) return view;
  const by = (list: (number | null)[], d: number) => list.map((v) => (v === null ? null : v + d));
  return { ...view, u_m: by(view.u_m, middleM), v_m: by(view.v_m, plane.lowest_m - asked.lowest_m) };
}

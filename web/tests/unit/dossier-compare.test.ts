import { describe, expect, test } from 'vitest';
import { dossierProgramOf, type DossierChange, type DossierMade } from '$lib/api/dossier';
import { changeFigure, moved, stepsOf } from '$lib/draw/dossier-change';
import type { Mark } from '$lib/draw/picture';
import { toSvg } from '$lib/export/svg';
import { DossierCompare } from '$lib/state/dossier-compare.svelte';
import { mostBytes } from '$lib/state/dossier-spec';

const made = (name: string): DossierMade => ({
  ...{ name, files: [], made: '2026-11-29T12:00:00Z', bytes: 1, sha256: 'ab', title: 'T' },
});

describe('comparing', () => {
  const sentBy = async (share: number[] = []) => {
    const carried: string[] = [];
    const compare = new DossierCompare(dossierProgramOf('bay'), (url, file, tell) => {
      carried.push(`${url} ${file.size}`);
      tell(0.5);
      share.push(compare.sent[0]?.share ?? -1);
      return Promise.resolve('token-1');
    });
    return { compare, carried };
  };
  const file = (name: string, size: number) => ({ name, size }) as File;

  test('the two newest are offered, one that was sent stands for the older', async () => {
    const shares: number[] = [];
    const { compare, carried } = await sentBy(shares);
    const packs = [made('c.zip'), made('b.zip'), { ...made('a.zip'), why: 'damaged' }];
    expect(compare.sides(packs)).toEqual({ old: 'b.zip', fresh: 'c.zip' });
    await compare.take([file('theirs.zip', 10)]);
    expect([carried, shares]).toEqual([['/dossier/bay/check 10'], [0.5]]);
    expect(compare.choices(packs).map((c) => c.label)).toEqual(['c.zip', 'b.zip', 'theirs.zip']);
    expect(compare.sides(packs)).toEqual({ old: 'token-1', fresh: 'c.zip' });
    compare.choose('old', 'b.zip');
    expect(compare.sides(packs).old).toBe('b.zip');
    expect(compare.sides([made('c.zip')])).toEqual({ old: 'token-1', fresh: 'c.zip' });
    expect(compare.sides([])).toEqual({ old: '', fresh: 'token-1' });
  });

  test('what is too large is not sent', async () => {
    const { compare, carried } = await sentBy();
    await compare.take([file('huge.zip', mostBytes + 1)]);
    expect([carried, compare.sent[0]?.problem?.status]).toEqual([[], 413]);
    compare.drop(compare.sent[0]!.key);
    expect(compare.sent).toEqual([]);
  });

  const change = (what: string, way: (number | null)[], more: Partial<DossierChange> = {}): DossierChange => {
    const [old = null, program = null, model = null, data = null] = way;
    return {
      ...{ what, unit: 'nV/cm', old, after_program: program, after_model: model, after_data: data, new: data, by: [] },
      ...more,
    };
  };
  const changes = [
    change('Detection median of Raja clavata', [24.13, 24.13, 25.2, 22.87]),
    change('Detection median of Scyliorhinus canicula', [31, 31, 31, 31]),
    change('Median of the lognormal threshold with individuals of Raja clavata', [null, null, null, 19.5], {
      old_not_estimable: 'too few turns',
    }),
    change('Exact p', [3e-11, 3e-11, 3e-11, 4e-9], { unit: '' }),
    change('Difference in turning', [0.4, 0.41, 0.41, 0.35], { unit: '' }),
  ];

  test('steps are what each cause does after those before it', () => {
    expect(stepsOf(changes[0]!)).toEqual([
      { cause: 'model', from: 24.13, to: 25.2 },
      { cause: 'data', from: 25.2, to: 22.87 },
    ]);
    expect(changes.map(moved)).toEqual([true, false, true, true, true]);
  });

  test.each([
    ['dossier-change', 860],
    ['dossier-change-narrow', 340],
  ])('%s looks as stored', async (name, width) => {
    const figure = changeFigure(changes, width);
    const svg = toSvg(figure.picture, (p) => `var(--${p})`);
    expect(svg).not.toMatch(/NaN|Infinity|undefined|null/);
    for (const m of figure.picture.marks.filter((m: Mark) => m.kind === 'text')) {
      expect(m.x, m.text).toBeGreaterThanOrEqual(0);
      expect(m.x, m.text).toBeLessThanOrEqual(width);
    }
    await expect(svg).toMatchFileSnapshot(`../pictures/${name}.svg`);
    expect(figure.rows).toHaveLength(changes.length);
  });
  test('nothing to compare is an empty picture', () => expect(changeFigure([], 400).picture.height).toBeGreaterThan(0));
});

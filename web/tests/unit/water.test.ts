import { expect, test } from 'vitest';
import { fewCasts, spread, WaterState } from '$lib/state/water.svelte';
import { InventedStudy } from '../fixtures/study-program';

test('casts are spread from the first to the last', () => {
  expect(spread([1, 2, 3], 6)).toEqual([1, 2, 3]);
  expect(
    spread(
      Array.from({ length: 41 }, (_, i) => i),
      6,
    ),
  ).toEqual([0, 8, 16, 24, 32, 40]);
  expect(spread([1, 2, 3], 1)).toEqual([1]);
  expect(spread([], 6)).toEqual([]);
});

test('a few casts are shown at first, and each can be left out', async () => {
  const study = new InventedStudy(1);
  const water = await study.water();
  const many = Array.from({ length: 20 }, (_, i) => ({ ...water.casts[0]!, time: `2025-05-${i + 10}T08:00:00+01:00` }));
  study.water = async () => ({ ...water, casts: many });
  const state = new WaterState(study);
  await state.load();
  expect(state.chosen.size).toBe(fewCasts);
  expect(state.chosen.has(many[0]!.time) && state.chosen.has(many[19]!.time)).toBe(true);
  state.toggle(many[0]!.time);
  expect(state.chosen.has(many[0]!.time)).toBe(false);
  state.all();
  expect(state.chosen.size).toBe(20);
});

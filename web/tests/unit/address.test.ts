import { expect, test } from 'vitest';
import {
  addressOf,
  deckParts,
  dossierParts,
  footageParts,
  nameTaken,
  readAddress,
  scheduleParts,
  sections,
} from '$lib/state/address';

test.each([
  ['/', { page: 'home' }],
  ['/tank-2/findings', { page: 'study', study: 'tank-2', section: 'findings', part: '' }],
  ['/tank-2/findings/', { page: 'study', study: 'tank-2', section: 'findings', part: '' }],
  ['/Bay%20of%20B%C3%A9ara/tables/pass', { page: 'study', study: 'Bay of Béara', section: 'tables', part: 'pass' }],
  ['/tank-2/schedule/seal', { page: 'study', study: 'tank-2', section: 'schedule', part: 'seal' }],
  ['/tank-2/schedule/nothing', { page: 'unknown' }],
  ['/tank-2/deck/paper', { page: 'study', study: 'tank-2', section: 'deck', part: 'paper' }],
  ['/tank-2/deck/plan', { page: 'unknown' }],
  ['/tank-2/footage/measure', { page: 'study', study: 'tank-2', section: 'footage', part: 'measure' }],
  ['/tank-2/footage/plan', { page: 'unknown' }],
  ['/tank-2/dossier/compare', { page: 'study', study: 'tank-2', section: 'dossier', part: 'compare' }],
  ['/tank-2/dossier/zip', { page: 'unknown' }],
  ['/deck/tank-2', { page: 'unknown' }],
  ['/tank-2', { page: 'unknown' }],
  ['/tank-2/nothing', { page: 'unknown' }],
  ['/tank-2/findings/pass', { page: 'unknown' }],
  ['/tank-2/tables/pass/P1', { page: 'unknown' }],
  ['//findings', { page: 'unknown' }],
  ['/100%/findings', { page: 'unknown' }],
])('%s', (path, expected) => expect(readAddress(path)).toEqual(expected));

test('whatever a study is called, its address leads back to it', () => {
  for (const study of ['a', 'Bay 2025', 'a/b', '50 % off', 'Ærø, 2.5 m', '?x=1#y', '..', 'tables'])
    for (const section of sections) {
      const { pathname } = new URL(addressOf(study, section), 'http://localhost');
      if (study === '..') continue; // no folder can have this name
      expect(readAddress(pathname), pathname).toEqual({ page: 'study', study, section, part: '' });
    }
  expect(addressOf('a', 'tables', 'pass')).toBe('/a/tables/pass');
  for (const part of scheduleParts)
    expect(readAddress(addressOf('a', 'schedule', part))).toEqual({
      page: 'study',
      study: 'a',
      section: 'schedule',
      part,
    });
  for (const part of deckParts)
    expect(readAddress(addressOf('a', 'deck', part))).toEqual({ page: 'study', study: 'a', section: 'deck', part });
  for (const part of footageParts)
    expect(readAddress(addressOf('a', 'footage', part))).toEqual({
      page: 'study',
      study: 'a',
      section: 'footage',
      part,
    });
  for (const part of dossierParts)
    expect(readAddress(addressOf('a', 'dossier', part))).toEqual({
      page: 'study',
      study: 'a',
      section: 'dossier',
      part,
    });
});

test('names that the program uses itself', () => {
  expect(['api', 'Assets', ' download ', 'enter', 'Deck', 'dossier', 'media', 'Upload'].every(nameTaken)).toBe(true);
  expect(nameTaken('apiary')).toBe(false);
});

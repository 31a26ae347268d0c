import { describe, expect, test } from 'vitest';
import { RequestError } from '../../src/lib/api/client';
import type { Preregistration } from '../../src/lib/api/schedule';
import { differenceOf, near } from '../../src/lib/preregistration/difference';
import { blocksOf } from '../../src/lib/preregistration/markdown';
import { PreregistrationState } from '../../src/lib/state/preregistration.svelte';
import { preregistration as words } from '../../src/lib/words/en-preregistration';

describe('the document', () => {
  test('is taken apart into what is shown', () => {
    const text =
      '# Bay\n\nOne line\nand another.\n\n## Criteria\n\nAll rays.\n- none in amplexus\n- none\n  twice\n\n    c5fb\n\\# no heading\n\\---\n';
    expect(blocksOf(text)).toEqual([
      { kind: 'heading', level: 1, text: 'Bay' },
      { kind: 'paragraph', lines: ['One line', 'and another.'] },
      { kind: 'heading', level: 2, text: 'Criteria' },
      { kind: 'paragraph', lines: ['All rays.'] },
      { kind: 'list', items: ['none in amplexus', 'none twice'] },
      { kind: 'code', text: 'c5fb' },
      { kind: 'paragraph', lines: ['# no heading', '---'] },
    ]);
    expect(blocksOf('')).toEqual([]);
  });
});

describe('what changed', () => {
  const both = (before: string, after: string) => differenceOf(before, after).map((l) => l.what[0] + l.text);
  test('line by line, as little as can be', () => {
    expect(both('a\nb\nc', 'a\nx\nc')).toEqual(['sa', 'gb', 'nx', 'sc']);
    expect(both('a\nb', 'a\nb')).toEqual(['sa', 'sb']);
    expect(both('', 'a')).toEqual(['g', 'na']);
    // The longest common subsequence of ABCBDAB and BDCABA has four letters (Cormen et al., Introduction to Algorithms, 15.4).
    const letters = differenceOf([...'ABCBDAB'].join('\n'), [...'BDCABA'].join('\n'));
    expect(letters.filter((l) => l.what === 'same')).toHaveLength(4);
    const side = (leave: string) =>
      letters
        .filter((l) => l.what !== leave)
        .map((l) => l.text)
        .join('');
    expect([side('new'), side('gone')]).toEqual(['ABCBDAB', 'BDCABA']);
  });
  test('a very long one is still told', () => {
    const long = (mark: string) => Array.from({ length: 3000 }, (_, i) => `${mark}${i}`).join('\n');
    expect(differenceOf(long('a'), long('b'))).toHaveLength(6000);
  });
  test('only what is near a change is shown', () => {
    const lines = differenceOf('1\n2\n3\n4\n5\n6\n7', '1\n2\n3\n4\n5\n6\nx');
    expect(near(lines, 1).map((l) => l?.text ?? null)).toEqual([null, '6', '7', 'x']);
    expect(near(differenceOf('1\n2', '1\n2'))).toEqual([null]);
  });
});

const view = (text: string, changed = false): Preregistration => ({
  text,
  sha256: `hash of ${text}`,
  missing: ['seal'],
  registered: [],
  changed,
});

describe('registering', () => {
  const program = (answer: () => Promise<Preregistration>) => {
    const asked: object[] = [];
    let texts = 0;
    const state = new PreregistrationState({
      preregistration: () => Promise.resolve(view(`text ${++texts}`)),
      register: (body) => {
        asked.push(body);
        return answer();
      },
    });
    return { state, asked };
  };
  test('writes down what is shown', async () => {
    const { state, asked } = program(() => Promise.resolve(view('registered')));
    await state.load();
    expect(await state.register('N. Example')).toBe(true);
    expect(asked).toEqual([{ author: 'N. Example', sha256: 'hash of text 1' }]);
    expect(state.view?.text).toBe('registered');
  });
  test('a document that changed meanwhile is read again and not written', async () => {
    const { state } = program(() => Promise.reject(new RequestError(409, 'changed meanwhile')));
    await state.load();
    expect(await state.register('N. Example')).toBe(false);
    expect(state.registering).toEqual({ state: 'changed' });
    expect(state.view?.text).toBe('text 2');
  });
  test('a refusal gives its sentences, another failure itself', async () => {
    const detail = { message: 'it names P. Sample; expected a role', location: 'preregistration//text' };
    const { state } = program(() => Promise.reject(new RequestError(422, 'no', [detail])));
    await state.load();
    await state.register('N. Example');
    expect(state.registering).toEqual({ state: 'refused', why: [detail.message] });
    const gone = new RequestError(0, '');
    const other = program(() => Promise.reject(gone));
    await other.state.load();
    await other.state.register('N. Example');
    expect(other.state.registering).toEqual({ state: 'failed', problem: gone });
  });
});

test('every part that the program can miss has its words and its place', () => {
  // As internal/app names them in preregistration_text.go.
  const keys =
    'title question site hypotheses species method criteria stopping_rule analysis_plan analysis uncertainty seal';
  for (const key of keys.split(' ')) expect(words.missing.lacks[key]?.say, key).toBeTruthy();
});

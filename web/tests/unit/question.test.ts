import { describe, expect, test } from 'vitest';
import { RequestError } from '$lib/api/client';
import { permitName, QuestionState, type FieldName } from '$lib/state/question.svelte';
import { InventedStudy } from '../fixtures/study-program';

const title: FieldName = { kind: 'study', id: '', field: 'title' };
const depth: FieldName = { kind: 'site', id: '', field: 'depth_m' };

async function opened() {
  const study = new InventedStudy(3);
  const written: string[] = [];
  const page = new QuestionState(study, (entries) => written.push(...entries.map((e) => e.entry)));
  await page.load();
  return { study, page, written };
}

describe('a field that is left', () => {
  test('is saved when it changed, and only then', async () => {
    const { study, page, written } = await opened();
    const was = page.value(title);
    expect(await page.save(title, was)).toBe(true);
    expect(study.sent).toEqual([]);
    study.page = { ...study.page, title: 'Another title' };
    expect(await page.save(title, 'Another title')).toBe(true);
    expect(study.sent).toEqual([
      { changes: [{ kind: 'study', id: '', field: 'title', from: was, to: 'Another title' }] },
    ]);
    expect(page.saving.get(page.key(title))?.state).toBe('saved');
    expect(written).toEqual(['e1']);
    expect(page.unsaved).toBe(0);
  });
  test('keeps what was typed when it is refused, with the sentence', async () => {
    const { study, page } = await opened();
    study.fail = new RequestError(422, 'all', [
      { location: 'site//depth_m', message: 'depth_m is -3, which is negative; expected more than 0' },
    ]);
    expect(await page.save(depth, '-3')).toBe(false);
    expect(page.saving.get(page.key(depth))).toMatchObject({
      state: 'refused',
      typed: '-3',
      why: ['depth_m is -3, which is negative; expected more than 0'],
    });
    expect(page.value(depth)).toBe('6.5');
    expect(page.unsaved).toBe(1);
    page.drop(depth);
    expect(page.unsaved).toBe(0);
  });
  test('that was changed meanwhile shows what is there now', async () => {
    const { study, page } = await opened();
    study.page = { ...study.page, site: { ...study.page.site, depth_m: '7' } };
    study.fail = new RequestError(409, 'this value was changed meanwhile');
    await page.save(depth, '8');
    expect(page.saving.get(page.key(depth))).toMatchObject({ state: 'changed', typed: '8' });
    expect(page.value(depth)).toBe('7');
    await page.save(depth, '8');
    expect(study.sent.at(-1)!.changes![0]).toMatchObject({ from: '7', to: '8' });
  });
  test('that did not arrive says so', async () => {
    const { study, page } = await opened();
    study.fail = new RequestError(0, '');
    await page.save(depth, '8');
    expect(page.saving.get(page.key(depth))).toMatchObject({ state: 'failed', problem: { status: 0 } });
  });
});

test('what is written elsewhere is read again', async () => {
  const { study, page } = await opened();
  study.page = { ...study.page, title: 'From another window' };
  const entry = (await study.edit({ changes: [{ kind: 'study', id: '', field: 'title', from: '', to: '' }] })).entries;
  page.take(entry);
  await expect.poll(() => page.value(title)).toBe('From another window');
});

test('a tick is a value of its caution', async () => {
  const { study, page } = await opened();
  const open = page.view!.cautions.flatMap((g) => g.cautions).find((c) => !c.ticked)!;
  await page.save({ kind: 'caution', id: open.id, field: 'ticked' }, 'yes');
  expect(study.sent[0]!.changes).toEqual([{ kind: 'caution', id: open.id, field: 'ticked', from: '', to: 'yes' }]);
});

test('permits get names of their own and are withdrawn by them', async () => {
  const { study, page } = await opened();
  await page.addPermit({ what: 'Trials in the bay (invented)' });
  const added = study.sent[0]!.add![0]!;
  expect(added).toMatchObject({ kind: 'permit', fields: { what: 'Trials in the bay (invented)' } });
  expect(added.id).toMatch(/^[a-z2-9]{6}$/);
  expect(permitName(() => 0)).toBe('aaaaaa');
  expect(permitName(() => 0.999999)).toBe('999999');
});

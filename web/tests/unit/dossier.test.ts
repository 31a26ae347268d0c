import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { RequestError } from '$lib/api/client';
import { dossierProgramOf, type Dossier, type DossierMade, type DossierProgram } from '$lib/api/dossier';
import type { EditRequest } from '$lib/api/studies';
import {
  formFaults,
  headingsOf,
  linkOf,
  numbersOf,
  orcidHolds,
  peopleText,
  plainOrcid,
  readKeywords,
  readLack,
  refusedAt,
  specText,
  withinKm,
} from '$lib/state/dossier-spec';
import { DossierState } from '$lib/state/dossier.svelte';

const made = (name: string, files: string[] = []): DossierMade => ({
  ...{ name, files, made: '2026-11-29T12:00:00Z', bytes: 1, sha256: 'ab', title: 'T' },
});
const empty: Dossier = {
  ...{ study: 'bay', read_only: false, invented: true, ready: true, sealed_trials: 0, spec: {}, spec_text: '' },
  ...{ people: [], people_text: '', lacks: [], names: 2, notes: 3, browser: '', made: [] },
};

/** A program that holds what it is told to. */
class Fake {
  view: Dossier = empty;
  edits: Omit<EditRequest, 'author'>[] = [];
  refuse: RequestError | undefined;
  asked: string[] = [];
  readonly program: DossierProgram = {
    ...dossierProgramOf('bay'),
    view: () => Promise.resolve(this.view),
    make: (again) => {
      this.asked.push(`make ${again}`);
      this.view = { ...this.view, job: { stage: 'Fields', done: 0, total: 3 } };
      return Promise.resolve(this.view);
    },
    remove: (pack) => {
      this.view = { ...this.view, made: this.view.made.filter((m) => m.name !== pack) };
      return Promise.resolve(this.view);
    },
    check: (pack) => Promise.reject(new RequestError(422, `${pack} is no package`)),
    compare: () => Promise.reject(new RequestError(422, 'no')),
  };
  readonly study = {
    edit: (body: Omit<EditRequest, 'author'>) => {
      this.edits.push(body);
      if (this.refuse) return Promise.reject(this.refuse);
      for (const c of body.changes ?? [])
        this.view = { ...this.view, [c.field === 'spec' ? 'spec_text' : 'people_text']: c.to };
      return Promise.resolve({ entries: [] } as never);
    },
  };
}
const started = async (view: Partial<Dossier> = {}) => {
  const fake = new Fake();
  fake.view = { ...empty, ...view };
  const page = new DossierState(fake.program, fake.study);
  await page.load();
  return { fake, page };
};

describe('what is typed', () => {
  test('the same choices are always the same text, and nothing chosen is none', () => {
    expect(specText({ title: ' A\r\nB ', licence: 'CC0-1.0', photos: false, coarsen_km: 0, keywords: [] })).toBe(
      '{"licence":"CC0-1.0","title":"A\\nB"}',
    );
    expect(specText({ licence: 'CC0-1.0', title: 'A\nB' })).toBe('{"licence":"CC0-1.0","title":"A\\nB"}');
    expect(specText({ title: '  ', names_of: '' })).toBe('');
    expect(peopleText([{ given: ' ', family: '' }])).toBe('');
    expect(peopleText([{ given: 'A', family: 'B', role: 'author', email: '' }])).toBe('[{"given":"A","family":"B"}]');
  });

  // The examples of ORCID's own description of its check character (ISO 7064 MOD 11-2).
  test.each([
    ['0000-0002-1825-0097', true],
    ['0000-0001-5109-3700', true],
    ['0000-0002-1694-233X', true],
    ['https://orcid.org/0000-0002-1694-233x', true],
    ['0000000218250097', true],
    ['0000-0002-1825-0098', false],
    ['0000-0002-1825-009', false],
    ['', false],
  ])('ORCID iD %s', (text, holds) => expect(orcidHolds(text)).toBe(holds));
  test('what is pasted is written as it is printed', () => {
    expect(plainOrcid(' https://orcid.org/0000000218250097')).toBe('0000-0002-1825-0097');
    expect(plainOrcid('nobody')).toBe('nobody');
    expect(specText({ doi: 'https://doi.org/10.1234/ab.5' })).toBe('{"doi":"10.1234/ab.5"}');
    expect(readKeywords('rays, electric sense;\nrays ')).toEqual(['rays', 'electric sense', 'rays']);
  });

  test('faults stand at their field', () => {
    const people = [
      { given: 'A', family: 'B', orcid: '0000-0002-1825-0098', email: 'a@b' },
      { given: '', family: '', affiliation: 'Institute' },
      { given: '', family: '' },
    ];
    expect([...formFaults({ doi: 'ten' }, people)]).toEqual([
      ['spec/doi', 'doi'],
      ['people/0/orcid', 'orcid'],
      ['people/0/email', 'email'],
      ['people/1/family', 'nameless'],
    ]);
    expect(formFaults({ doi: 'doi:10.1234/ab' }, []).size).toBe(0);
  });

  test.each([
    ['dossier//spec/licence', 'spec/licence'],
    ['dossier//spec.licence', 'spec/licence'],
    ['dossier//people/0/orcid', 'people/0/orcid'],
    ['dossier//people[1].email', 'people/1/email'],
    ['dossier//spec/keywords/3', 'spec/keywords'],
  ])('a refusal at %s', (location, place) =>
    expect([...refusedAt([{ location, message: 'why' }]).places]).toEqual([[place, 'why']]),
  );
  test('a refusal without a field is said as it is', () =>
    expect(refusedAt([{ location: 'dossier//spec', message: 'why' }]).rest).toEqual(['why']));

  // Half the diagonal of a square: edge / √2.
  test('the place lies within half a diagonal', () => {
    expect(withinKm(10)).toBeCloseTo(10 / Math.sqrt(2), 12);
    expect(withinKm(0)).toBe(0);
  });
});

describe('what is shown', () => {
  test('numbers of a figure, and of no other that begins alike', () => {
    const files = ['figures/map.csv', 'figures/map-2.csv', 'figures/map-wide.csv', 'figures/map-single.svg'];
    expect(numbersOf({ files }, 'map')).toEqual(['figures/map.csv', 'figures/map-2.csv']);
  });

  test('headings have a place each, and links lead to them or out', () => {
    const text = (t: string) => [{ text: t }];
    const blocks = [
      { kind: 'heading', level: 1, anchor: 'methods', text: text('Methods') },
      { kind: 'paragraph', text: text('p') },
      { kind: 'heading', level: 7, text: text('Last') },
    ];
    expect(headingsOf({ blocks })).toEqual([
      { level: 1, text: 'Methods', anchor: 'report-methods' },
      undefined,
      { level: 3, text: 'Last', anchor: 'report-part-2' },
    ]);
    expect(linkOf('#methods')).toBe('#report-methods');
    expect(linkOf('https://doi.org/10.1/x')).toBe('https://doi.org/10.1/x');
    for (const bad of ['javascript:alert(1)', 'http://a', '//a', '', undefined]) expect(linkOf(bad)).toBeUndefined();
  });

  test('what is lacking leads to its page', () => {
    expect(readLack('Authors: none (page Dossier, part Package: Authors).')).toEqual({
      ...{ what: 'Authors: none', where: 'Dossier, part Package: Authors', more: '' },
      place: { section: 'dossier', part: 'package' },
    });
    expect(readLack('Sex (page Tables, table Individuals: Sex, length).').place).toEqual({
      section: 'tables',
      part: 'individual',
    });
    expect(readLack('A plan (page Schedule, part Preregistration; late once trials began).')).toEqual({
      ...{ what: 'A plan', where: 'Schedule, part Preregistration', more: 'late once trials began' },
      place: { section: 'schedule', part: 'preregistration' },
    });
    expect(readLack('Who scored (page Question, What is planned: Who, when, or elsewhere).')).toEqual({
      ...{ what: 'Who scored', where: 'Question, What is planned: Who, when', more: 'or elsewhere' },
      place: { section: 'question', part: '' },
    });
    expect(readLack('No interval (page Findings says why).')).toMatchObject({ where: 'Findings', more: 'says why' });
    expect(readLack('Known (the part [uncertainty] of study.toml).').place).toBeUndefined();
  });
  test('every sentence of the program that names a page is understood', () => {
    const source = readFileSync(new URL('../../../core/dossier/report_lacks.go', import.meta.url), 'utf8');
    const sentences = [...source.matchAll(/"([^"\n]*\(page [^"\n]*\))"/g)].map((m) => `${m[1]}.`);
    expect(sentences.length).toBeGreaterThan(20);
    expect(sentences.filter((s) => !readLack(s).place)).toEqual([]);
    // Whatever is named as a part or a table is one that the app has.
    expect(sentences.filter((s) => /(part|table) [A-Z]/.test(s) && !readLack(s).place?.part)).toEqual([]);
  });

  test('addresses are encoded', () => {
    const program = dossierProgramOf('a b/c');
    expect(program.figure('map', 'svg', true, { version: 2 })).toBe('/dossier/a%20b%2Fc/figure/map.svg?wide=1&v=2');
    expect(program.figure('map', 'pdf', false, { save: true })).toBe('/dossier/a%20b%2Fc/figure/map.pdf?save=1');
    expect(program.file('x 1.zip', 'report/report.pdf', true)).toBe(
      '/dossier/a%20b%2Fc/package/x%201.zip?file=report%2Freport.pdf&show=1',
    );
    expect(program.file('x.zip', '')).toBe('/dossier/a%20b%2Fc/package/x.zip');
  });
});

describe('saving', () => {
  test('writes what was changed and nothing else', async () => {
    const { fake, page } = await started({ people: [{ given: 'A', family: 'B' }], people_text: '[old]' });
    page.form.turn('title', 'Rays');
    page.form.add(); // a row without a word is not kept
    expect(page.form.changed).toBe(true);
    expect(await page.form.save()).toBe(true);
    expect(fake.edits).toEqual([
      { changes: [{ kind: 'dossier', id: '', field: 'spec', from: '', to: '{"title":"Rays"}' }] },
    ]);
    expect([page.form.changed, page.form.people.length, page.form.saving?.state]).toEqual([false, 1, 'saved']);
    page.form.turnPerson(0, { family: 'C' });
    await page.form.save();
    expect(fake.edits[1]?.changes).toEqual([
      { kind: 'dossier', id: '', field: 'people', from: '[old]', to: '[{"given":"A","family":"C"}]' },
    ]);
  });

  test('sends nothing while a field is wrong', async () => {
    const { fake, page } = await started();
    page.form.turn('doi', 'ten');
    expect(await page.form.save()).toBe(false);
    await page.make(false);
    expect([fake.edits, fake.asked]).toEqual([[], []]);
  });

  test('keeps mine when somebody else saved, and can take theirs', async () => {
    const { fake, page } = await started();
    page.form.turn('title', 'Mine');
    fake.refuse = new RequestError(409, 'changed');
    fake.view = { ...empty, spec: { title: 'Theirs' }, spec_text: '{"title":"Theirs"}' };
    expect(await page.form.save()).toBe(false);
    expect([page.form.saving?.state, page.form.spec.title]).toEqual(['changed', 'Mine']);
    fake.refuse = undefined;
    expect(await page.form.save()).toBe(true);
    expect(fake.edits[1]?.changes?.[0]).toMatchObject({ from: '{"title":"Theirs"}', to: '{"title":"Mine"}' });
    page.form.turn('title', 'Again');
    page.form.theirs();
    expect(page.form.spec.title).toBe('Mine');
  });

  test('what is being typed outlives a reading of the page', async () => {
    const { fake, page } = await started();
    page.form.turn('title', 'Half');
    fake.view = { ...empty, spec: { title: 'Other' }, spec_text: '{"title":"Other"}' };
    await page.load();
    expect(page.form.spec.title).toBe('Half');
  });

  test('a refusal stands at its field until that is changed', async () => {
    const { fake, page } = await started();
    page.form.turn('title', 'x');
    fake.refuse = new RequestError(422, 'no', [{ location: 'dossier//spec/title', message: 'too long' }]);
    await page.form.save();
    expect(page.form.places.get('spec/title')).toBe('too long');
    page.form.turn('abstract', 'y');
    expect(page.form.places.size).toBe(1);
    page.form.turn('title', 'z');
    expect(page.form.places.size).toBe(0);
  });

  test('rows change places', async () => {
    const { page } = await started({ people: ['A', 'B', 'C'].map((family) => ({ given: '', family })) });
    page.form.move(2, -1);
    page.form.move(0, -1);
    page.form.remove(0);
    expect(page.form.people.map((p) => p.family)).toEqual(['C', 'B']);
  });
});

describe('making', () => {
  test('saves first, and tells which one is finished', async () => {
    const { fake, page } = await started({ made: [made('old.zip')] });
    page.form.turn('title', 'Rays');
    await page.make(true);
    expect([fake.edits.length, fake.asked, page.working]).toEqual([1, ['make true'], true]);
    fake.view = { ...fake.view, job: undefined as never, made: [made('new.zip'), made('old.zip')] };
    await page.load();
    expect([page.working, page.finished]).toEqual([false, 'new.zip']);
    await page.remove('new.zip');
    expect([page.finished, page.made.map((m) => m.name)]).toEqual(['', ['old.zip']]);
  });

  test('one that broke off is not in the making', async () => {
    const { page } = await started({ job: { stage: 'Figures', done: 1, total: 2, error: 'disc full' } });
    expect(page.working).toBe(false);
  });

  test('what checking refuses is kept with its package', async () => {
    const { page } = await started();
    await page.check('a.zip', false);
    expect(page.checked['a.zip']?.problem?.message).toBe('a.zip is no package');
    expect(page.checked['a.zip']?.busy).toBe('');
  });
});

// The fixture was asked of the program for its invented demo study.
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import type { BackgroundDocument, BackgroundProgram, BackgroundSpec, BackgroundStart } from '$lib/api/background';
import { RequestError } from '$lib/api/client';
import type { EditRequest } from '$lib/api/studies';
import { cube, fallFigure } from '$lib/draw/background-fall';
import { hourOf, motionFigure } from '$lib/draw/background-motion';
import { planView } from '$lib/draw/background-plan';
import { clipped, ground, planScales, plateOutline, roundUp } from '$lib/draw/background-scene';
import type { Figure } from '$lib/draw/picture';
import { toSvg } from '$lib/export/svg';
import {
  cutM,
  distanceM,
  faultsAt,
  groupFrom,
  keepAwayM,
  keepOf,
  labelFor,
  newSource,
  readySpec,
  samples,
  sourceKinds,
  standing,
  tidySpec,
} from '$lib/state/background-spec';
import { Background, type FieldLine } from '$lib/state/background.svelte';
import { knobs } from '../fixtures/stimulus-program';

const fixture = JSON.parse(readFileSync(new URL('../fixtures/background.json', import.meta.url), 'utf8')) as {
  start: BackgroundStart;
  spec: BackgroundSpec;
  document: BackgroundDocument;
};
const { start, spec, document } = fixture;
const answered = { spec, document };
const plates = [{ ...knobs().plates[0]!, centre_m: [0, 0] }];
const frame = { left: 0, right: 700, top: 0, bottom: 500 };

describe('the specification', () => {
  test('new sources have what their kind needs, a label of their own, and lie apart', () => {
    let now = readySpec(start.spec);
    for (const kind of [...sourceKinds, ...sourceKinds])
      now = { ...now, sources: [...(now.sources ?? []), newSource(kind, now, start)] };
    const sources = now.sources!;
    expect(new Set(sources.map((s) => s.label)).size).toBe(sources.length);
    expect(new Set(sources.map((s) => s.at_m.join())).size).toBe(sources.length);
    expect(sources.find((s) => s.kind === 'couple')).toMatchObject({ metals: ['zinc', 'brass'], apart_m: 0.1 });
    // A boat floats on the surface; nothing else lies above it.
    const depth = start.spec.site.depth_m!;
    for (const s of sources) expect(s.at_m[2]).toBeLessThanOrEqual(depth);
    expect(sources.find((s) => s.kind === 'boat')!.at_m[2]).toBe(depth);
    expect(labelFor('a', ['a', 'a 2'])).toBe('a 3');
  });
  test('blanks are left out, zeros are not', () =>
    expect(
      tidySpec({ ...start.spec, swim_m_per_s: null, height_m: 0, stream: { slack: '', flood_peak_m_per_s: 0 } }),
    ).toMatchObject({ height_m: 0, stream: { flood_peak_m_per_s: 0 } }));
  test('faults are sorted to their knobs', () => {
    const { faults, rest } = faultsAt([
      { location: 'background/sources/0/at_m/2', message: 'a' },
      { location: 'body.site.latitude', message: 'b' },
      { location: 'background', message: 'c' },
      { location: '', message: 'd' },
    ]);
    expect([...faults]).toEqual([
      ['sources/0/at_m/2', 'a'],
      ['site/latitude', 'b'],
    ]);
    expect(rest).toEqual(['c', 'd']);
  });
  test('sentences of where values come from stand at their groups', () => {
    const from = groupFrom([...start.from, 'Something else.']);
    expect(from.water).toEqual(start.from.filter((s) => s.startsWith('Water')));
    expect(from.pairs).toEqual(start.from.filter((s) => s.startsWith('Pairs')));
    expect(from.share).toEqual(start.from.filter((s) => s.startsWith('Stimulus')));
    expect(from.other).toEqual(['Something else.']);
    expect(Object.values(from).flat()).toHaveLength(start.from.length + 1);
  });
});

describe('distances', () => {
  test.each([0.01, 0.1, 0.34, 1.99, 2, 2.01, 7.9, 9.99, 10, 10.2, 175.2])('%d m is never rounded down', (m) => {
    expect(keepAwayM(m)).toBeGreaterThanOrEqual(m * (1 - 1e-9));
    expect(keepAwayM(m)).toBeLessThanOrEqual(m + 1);
  });
  test('a crew is told the larger distance of the two', () => {
    expect(keepOf({ standoff_m: 7.9, standoff_high_m: 8.3 })).toBe(8.5);
    expect(keepOf({ standoff_m: 7.9, standoff_high_m: null })).toBe(8);
    expect(keepOf({ standoff_m: null, standoff_high_m: null })).toBeNull();
  });
  test('the ring is a sphere cut at the height of the pairs', () => {
    expect(cutM(5, 3)).toBe(4);
    expect(cutM(2, 3)).toBe(0);
  });
  test('to the nearest pair as the program counts it', () =>
    spec.sources!.forEach((s, i) => expect(distanceM(s, spec)).toBeCloseTo(document.sources[i]!.nearest_m!, 9)));
  test('how a source stands is the program’s word while it lies where it was asked about, then its distance', () => {
    const near = spec.sources!.findIndex((_, i) => document.sources[i]!.ok === false);
    const source = spec.sources![near]!;
    expect(standing(source, spec, answered, near)).toBe('near');
    const away = { ...source, at_m: [source.at_m[0]! + 1e4, 0, 0] };
    expect(standing(away, { ...spec, sources: [away] }, answered, near)).toBe('far');
    expect(standing(source, spec, undefined, near)).toBe('unknown');
    expect(standing({ ...source, kind: 'other' }, spec, answered, near)).toBe('unknown');
  });
  test('places of the picture over distance lie at their distances, at the height of the pairs', () => {
    const questions = samples(spec, document);
    expect(questions).toHaveLength(spec.sources!.length);
    for (const q of questions) {
      const source = q.sources![0]!;
      const up = (q.height_m ?? 0) - source.at_m[2]!;
      for (const p of q.pairs!) {
        const r = Math.hypot(p.centre_m[0]! - source.at_m[0]!, p.centre_m[1]! - source.at_m[1]!, up);
        expect(r).toBeGreaterThanOrEqual(0.0999);
        expect(r).toBeLessThanOrEqual(200.001);
      }
      expect(q.stream).toBeUndefined();
    }
  });
});

describe('the ground', () => {
  test.each(planScales)('%s: there and back', (scale) => {
    const g = ground(spec, plates, scale, frame);
    for (const p of [[0.1, 0.05], [-0.8, 0], [22, 12], g.middle] as const) {
      const [x, y] = g.back(g.at(p));
      expect(x).toBeCloseTo(p[0], 9);
      expect(y).toBeCloseTo(p[1], 9);
    }
  });
  test('a pair at 10 cm and a boat at 30 m are both to be seen', () => {
    const far = { ...spec, sources: [{ label: 'Boat', kind: 'boat', at_m: [30, 0, 0] }] };
    const g = ground({ ...far, pairs: [{ label: 'A', centre_m: [0, 0] }] }, [], 'log', frame);
    const from = (x: number) => g.at([x, 0])[0] - g.at([0, 0])[0];
    expect(from(0.1)).toBeGreaterThan(12);
    expect(from(30)).toBeLessThanOrEqual(250);
    expect(from(30)).toBeGreaterThan(150);
  });
  test('outlines are cut to the frame', () => {
    const square = [
      [-100, 100],
      [100, 100],
      [100, 300],
      [-100, 300],
    ] as const;
    const cut = clipped(square, frame);
    expect(Math.min(...cut.map((p) => p[0]))).toBe(0);
    expect(Math.max(...cut.map((p) => p[0]))).toBe(100);
    expect(
      clipped(
        square.map(([x, y]) => [x - 500, y] as const),
        frame,
      ),
    ).toEqual([]);
    expect(plateOutline({ ...plates[0]!, shape: 'disc', diameter_m: 0.4 })).toHaveLength(73);
  });
  test('round numbers', () => expect([0.1, 0.11, 3, 5, 51].map(roundUp)).toEqual([0.1, 0.2, 5, 5, 100]));
});

/** A field that falls with the cube, one line for each source. */
const lines: FieldLine[] = document.sources.map((s) => ({
  label: s.label,
  distance_m: [0.1, 0.5, 2, 10, 50, 200],
  field_nV_per_cm: [0.1, 0.5, 2, 10, 50, 200].map((r) => cube(0.5, s.standoff_half_space_m ?? 1, r)),
}));
const figures: Record<string, Figure> = {
  'background-plan': planView(spec, answered, plates, 'log', 720, 1).figure,
  'background-plan-fitted': planView(spec, answered, plates, 'fitted', 720).figure,
  'background-plan-near': planView(spec, answered, plates, 'near', 360).figure,
  'background-fall': fallFigure(answered, lines, 720),
  'background-motion': motionFigure(document.motional!, document.stimulus, 720),
};

describe.each(Object.entries(figures))('%s', (name, figure) => {
  test('looks as stored', async () => {
    await expect(toSvg(figure.picture, (p) => `var(--${p})`)).toMatchFileSnapshot(`../pictures/${name}.svg`);
  });
  test('holds no number that is none, and as many cells as columns', () => {
    expect(JSON.stringify(figure.picture)).not.toMatch(/NaN|Infinity|undefined/);
    expect(figure.rows.length).toBeGreaterThan(0);
    for (const row of figure.rows) expect(row).toHaveLength(figure.columns.length);
  });
});

describe('the pictures', () => {
  test('too near is told by a shape and in words', () => {
    const { figure, sources } = planView(spec, answered, plates, 'log', 720);
    document.sources.forEach((s, i) => expect(sources[i]!.standing).toBe(s.ok ? 'far' : 'near'));
    expect(figure.picture.description).toMatch(/Boat with anodes: too near/);
    expect(figure.picture.description).toMatch(/Pipe: far enough/);
    const diamonds = figure.picture.marks.filter((m) => m.kind === 'path' && m.fill === 'caution' && !m.opacity);
    expect(diamonds.length).toBe(2 * document.sources.filter((s) => s.ok === false).length);
  });
  test('a source without an answer, without pairs, without numbers is drawn all the same', () => {
    const odd = { ...spec, pairs: [], sources: [{ label: '', kind: 'diver', at_m: [] }] };
    for (const scale of planScales) {
      const { figure } = planView(odd, undefined, [], scale, 320);
      expect(JSON.stringify(figure.picture)).not.toMatch(/NaN|Infinity/);
    }
  });
  test('while a source is moved the ground stays', () => {
    const moved = { ...spec, sources: [{ ...spec.sources![0]!, at_m: [400, 0, 0] }] };
    const still = planView(moved, answered, plates, 'fitted', 720, 0, spec);
    expect(still.ground.reachM).toBe(planView(spec, answered, plates, 'fitted', 720).ground.reachM);
    expect(still.sources[0]!.out).toBe(true);
  });
  test('times of day', () => expect(['00:30', '24:00', 'noon'].map(hourOf)).toEqual([0.5, 24, NaN]));
});

class Invented implements BackgroundProgram {
  now = start;
  asked: BackgroundSpec[] = [];
  fails: RequestError | undefined;
  start = () => Promise.resolve(this.now);
  ask = (s: BackgroundSpec) => {
    this.asked.push(s);
    return this.fails ? Promise.reject(this.fails) : Promise.resolve(document);
  };
}

async function opened(answer: (body: Omit<EditRequest, 'author'>) => void = () => undefined) {
  const program = new Invented();
  const edits: Omit<EditRequest, 'author'>[] = [];
  const page = new Background(program, (body) => {
    edits.push(body);
    try {
      answer(body);
    } catch (e) {
      return Promise.reject(e as Error);
    }
    return Promise.resolve({ entries: [] } as never);
  });
  await page.load();
  return { program, page, edits };
}
const rest = () => new Promise((r) => setTimeout(r, 320));

describe('the page', () => {
  test('is unchanged at first, and knows what was turned', async () => {
    const { page } = await opened();
    expect(page.turned).toBe(false);
    page.turn('water_S_per_m', 3);
    expect(page.turned).toBe(true);
    expect(page.returns('water_S_per_m')).toBe(true);
    page.reset('water_S_per_m');
    expect(page.turned).toBe(false);
    page.add('diver');
    expect(page.chosen).toBe(0);
    page.move(0, 2, 3);
    page.move(0, NaN, 3);
    expect(page.at('sources/0/at_m')).toEqual([2, 3, 1]);
    expect(page.returns('sources/0/at_m/0')).toBe(false);
    page.remove(0);
    expect(page.turned).toBe(false);
  });
  test('asks, and sorts a refusal to its knobs', async () => {
    const { page, program } = await opened();
    program.fails = new RequestError(422, 'no', [{ location: 'background/date', message: 'outside the model' }]);
    page.ask();
    await rest();
    expect(page.faults.get('date')).toBe('outside the model');
    program.fails = undefined;
    page.turn('date', '2026-06-02');
    page.ask();
    await rest();
    expect(page.faults.size).toBe(0);
    expect(page.document).toBe(document);
    expect(program.asked.at(-1)).toEqual(tidySpec(page.spec!));
  });
  test('saves what stands there, from what the study kept', async () => {
    const { page, edits } = await opened();
    page.turn('swim_m_per_s', 0.4);
    expect(page.kept).toBe(false);
    await page.save();
    const [change] = edits[0]!.changes!;
    expect(change).toMatchObject({ kind: 'background', id: '', field: 'spec', from: '' });
    expect(JSON.parse(change!.to)).toMatchObject({ swim_m_per_s: 0.4 });
    expect(page.keeping).toBe('saved');
    expect(page.kept).toBe(true);
    page.turn('swim_m_per_s', 0.5);
    await page.save();
    expect(edits[1]!.changes![0]!.from).toBe(change!.to);
  });
  test('says when somebody else saved meanwhile, and takes theirs or writes its own', async () => {
    const theirs = { ...start, saved: true, spec: { ...start.spec, water_S_per_m: 2 }, spec_text: '{"water":2}' };
    const refuse = (body: Omit<EditRequest, 'author'>) => {
      if (body.changes![0]!.from === '') throw new RequestError(409, 'changed meanwhile');
    };
    const { page, program, edits } = await opened(refuse);
    program.now = theirs;
    page.turn('swim_m_per_s', 0.4);
    await page.save();
    expect(page.keeping).toBe('changed');
    page.take();
    expect(page.at('water_S_per_m')).toBe(2);
    const second = await opened(refuse);
    second.program.now = theirs;
    second.page.turn('swim_m_per_s', 0.4);
    await second.page.save();
    await second.page.save(true);
    expect(second.edits.at(-1)!.changes![0]!.from).toBe('{"water":2}');
    expect(second.page.keeping).toBe('saved');
    expect(edits).toHaveLength(1);
  });
  test('a failure is told and nothing is lost', async () => {
    const { page } = await opened(() => {
      throw new RequestError(503, 'disk full');
    });
    page.turn('swim_m_per_s', 0.4);
    await page.save();
    expect(page.keeping).toBe('failed');
    expect(page.keepingProblem?.message).toBe('disk full');
    expect(page.at('swim_m_per_s')).toBe(0.4);
  });
});

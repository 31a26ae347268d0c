import { describe, expect, test, vi } from 'vitest';
import { fieldBand, fieldLevels, fieldPaint } from '$lib/draw/field-scale';
import { isolines } from '$lib/draw/isolines';
import { fieldGrid, offTenth, ratioGrid, sectionFigure, sectionPicture } from '$lib/draw/section';
import { toSvg } from '$lib/export/svg';
import { faultsOf, knobAt, leadingPair, sameKnob, withKnob } from '$lib/state/knobs';
import { Newest } from '$lib/state/newest';
import { Reading } from '$lib/state/reading.svelte';
import { quickForm, Sections, solutionKey } from '$lib/state/sections.svelte';
import { mostThresholds, Stimulus } from '$lib/state/stimulus.svelte';
import { fieldAt, InventedStimulus, knobs } from '../fixtures/stimulus-program';
import { positionOf, shownOf, storedOf, valueAt } from '../../src/routes/stimulus/knob';
import { pairSpecs, specs } from '../../src/routes/stimulus/specs';

async function opened() {
  const program = new InventedStimulus();
  const stimulus = new Stimulus(program);
  await stimulus.load();
  const sections = new Sections(stimulus);
  sections.begin();
  return { program, stimulus, sections };
}

describe('knobs', () => {
  test('are turned by their path, and what is not on it is shared', () => {
    const before = knobs();
    const after = withKnob(before, 'plates/0/size_m/1', 0.5);
    expect(knobAt(after, 'plates/0/size_m/1')).toBe(0.5);
    expect(knobAt(before, 'plates/0/size_m/1')).toBe(0.4);
    expect(after.pairs).toBe(before.pairs);
    expect(Array.isArray(after.plates[0]!.size_m)).toBe(true);
    expect(sameKnob(before, after, 'plates')).toBe(false);
    expect(sameKnob(before, after, 'water')).toBe(true);
    expect(withKnob(before, 'enclosure/size_m/0', 1)).toEqual(before);
    expect(knobAt(before, 'enclosure/size_m')).toBeUndefined();
  });
  test('the leading pair is the driven one of the largest share', () => {
    expect(leadingPair(knobs())).toBe(0);
    expect(leadingPair(withKnob(knobs(), 'pairs/1/share', -2))).toBe(1);
    expect(leadingPair(withKnob(knobs(), 'pairs/0/share', 0))).toBe(-1);
  });
  test('a refusal is sorted to its knobs', () => {
    const { faults, rest } = faultsOf([
      { location: 'knobs/water/salinity', message: 'a' },
      { location: 'body.knobs.pairs.0.share', message: 'b' },
      { location: 'section/rows', message: 'c' },
    ]);
    expect([...faults]).toEqual([
      ['water/salinity', 'a'],
      ['pairs/0/share', 'b'],
    ]);
    expect(rest).toEqual(['c']);
  });
  test('a unit changes there and back without noise', () => {
    const { separation } = pairSpecs(0);
    expect(shownOf(0.07, separation)).toBe(7);
    expect(storedOf(0.3, separation)).toBe(0.003);
  });
  test('a slider by factors is even in its logarithm and keeps within its ends', () => {
    const s = specs.current;
    expect([0, 200, 400].map((p) => valueAt(p, s))).toEqual([0.1, 10, 1000]);
    expect(positionOf(10, s)).toBe(200);
    expect([positionOf(0, s), positionOf(1e9, s)]).toEqual([0, 400]);
  });
});

describe('the state', () => {
  test('begins with the study, and goes back to it by knob or whole', async () => {
    const { stimulus } = await opened();
    expect(stimulus.thresholds).toEqual([5, 20]);
    stimulus.turn('current_uA', 60);
    stimulus.turn('water/conductivity_S_per_m', 3);
    expect([stimulus.turned, stimulus.asInStudy('current_uA'), stimulus.asInStudy('depth_m')]).toEqual([
      true,
      false,
      true,
    ]);
    stimulus.reset('current_uA');
    expect([stimulus.knobs!.current_uA, stimulus.turned]).toEqual([6, true]);
    stimulus.reset();
    expect(stimulus.turned).toBe(false);
  });
  test('thresholds are kept in order, once each, and no more than fit', async () => {
    const { stimulus } = await opened();
    for (const t of [10, 5, -1, NaN, 0, 1, 2, 3, 4, 6, 7, 8]) stimulus.addThreshold(t);
    expect(stimulus.thresholds).toEqual([1, 2, 3, 4, 5, 6, 10, 20]);
    expect(stimulus.thresholds).toHaveLength(mostThresholds);
    stimulus.removeThreshold(5);
    expect(stimulus.thresholds).not.toContain(5);
  });
});

describe('the newest question', () => {
  test('replaces those that wait, and one that takes too long', async () => {
    let now = 0;
    const done: number[] = [];
    const gone: number[] = [];
    const goes: (() => void)[] = [];
    const newest = new Newest<number>(
      async (want, signal) => {
        signal.addEventListener('abort', () => goes.at(-1)?.());
        await new Promise<void>((go) => goes.push(go));
        (signal.aborted ? gone : done).push(want);
      },
      100,
      () => now,
    );
    newest.ask(1);
    newest.ask(2);
    newest.ask(3);
    goes[0]!();
    await vi.waitFor(() => expect(goes).toHaveLength(2));
    now = 1000;
    newest.ask(4);
    await vi.waitFor(() => expect(goes).toHaveLength(3));
    goes[2]!();
    await vi.waitFor(() => expect(newest.busy).toBe(false));
    expect([done, gone]).toEqual([[1, 4], [3]]);
  });
});

describe('the sections', () => {
  test('show an endless plate until the plate is worked out', async () => {
    const { program, sections } = await opened();
    let go: (() => void)[] = [];
    program.held = (f) => go.push(f);
    sections.ask();
    await vi.waitFor(() => expect(sections.vertical?.form).toBe('endless_plate'));
    await vi.waitFor(() => expect(go).toHaveLength(2));
    expect(sections.working).toBeGreaterThanOrEqual(0);
    go.forEach((f) => f());
    await vi.waitFor(() => expect(sections.vertical?.form).toBe('real'));
    expect(sections.working).toBeUndefined();
    // Another height of the same setting needs no stand-in.
    const before = program.asked.length;
    go = [];
    program.held = undefined;
    sections.heightM = 0.1;
    sections.ask();
    await vi.waitFor(() => expect(sections.horizontal?.plane.height_m).toBe(0.1));
    await vi.waitFor(() => expect(program.asked.length).toBe(before + 2));
    // The vertical section stayed where it was: a coarse and a fine picture of the other one.
    expect(program.asked.slice(before).map((a) => [a.plane?.plane, a.plane?.columns])).toEqual([
      ['horizontal', 80],
      ['horizontal', 160],
    ]);
    await vi.waitFor(() => expect(sections.horizontal?.view.columns).toBe(160));
    expect(program.asked.slice(before).every((a) => a.form === 'real')).toBe(true);
    sections.stop();
  });
  test('follow the current without a question, in proportion', async () => {
    const { program, stimulus, sections } = await opened();
    stimulus.turn('plates', []);
    sections.ask();
    await vi.waitFor(() => expect(sections.vertical).toBeDefined());
    const [before, asked] = [sections.vertical!, program.asked.length];
    stimulus.turn('current_uA', 18);
    sections.ask();
    await vi.waitFor(() => expect(sections.vertical?.knobs.current_uA).toBe(18));
    expect(program.asked).toHaveLength(asked);
    const i = before.view.magnitude_nV_per_cm.findIndex((v) => v !== null);
    const [was, is] = [before, sections.vertical!].map((s) => s.view.magnitude_nV_per_cm[i]!) as [number, number];
    // The pictures are written with six digits.
    expect(is / was).toBeCloseTo(3, 4);
  });
  test('a knob turned meanwhile takes the old question back', async () => {
    const { program, stimulus, sections } = await opened();
    const go: (() => void)[] = [];
    program.held = (f) => go.push(f);
    sections.ask();
    await vi.waitFor(() => expect(go).toHaveLength(2));
    stimulus.turn('plates/0/thickness_m', 0.02);
    sections.ask();
    go.forEach((f) => f());
    await vi.waitFor(() => expect(sections.vertical?.knobs.plates[0]?.thickness_m).toBe(0.02));
    expect(sections.vertical?.form).toBe('endless_plate');
    sections.stop();
  });
  test('a refused knob keeps the pictures and says why beside it', async () => {
    const { stimulus, sections } = await opened();
    stimulus.turn('plates', []);
    sections.ask();
    await vi.waitFor(() => expect(sections.vertical).toBeDefined());
    const { vertical } = sections;
    stimulus.turn('current_uA', 0);
    sections.ask();
    await vi.waitFor(() => expect(sections.problem?.status).toBe(422));
    expect(stimulus.faults.get('current_uA')).toBe('found 0; a current that is not 0');
    expect(sections.sentences).toEqual(['and something else']);
    expect(sections.vertical).toBe(vertical);
    stimulus.reset('current_uA');
    sections.ask();
    await vi.waitFor(() => expect(stimulus.faults.size).toBe(0));
    expect(sections.problem).toBeUndefined();
  });
  test('without plates and bodies nothing stands in', () => {
    const bare = withKnob(knobs(), 'plates', []);
    expect(quickForm(bare, 'real')).toBe('real');
    expect(quickForm(knobs(), 'real')).toBe('endless_plate');
    expect(quickForm(knobs(), 'textbook')).toBe('textbook');
    expect(solutionKey(withKnob(knobs(), 'current_uA', 99))).toBe(solutionKey(knobs()));
    expect(solutionKey(withKnob(knobs(), 'depth_m', 9))).not.toBe(solutionKey(knobs()));
  });
  test('close to a pair the picture is centred on it, and its places are the study’s', async () => {
    const { program, stimulus, sections } = await opened();
    stimulus.turn('plates', []);
    sections.azimuthDeg = 90;
    sections.halfWidthM = 0.2;
    sections.ask();
    await vi.waitFor(() => expect(sections.vertical).toBeDefined());
    expect(program.asked[0]!.knobs).toEqual(stimulus.knobs);
    for (const shown of [sections.vertical!, sections.horizontal!]) {
      const { rows } = sectionFigure(shown, [], 400);
      // Each row holds the field of its own place.
      for (const [, , x, y, z, field] of [rows[6077], rows[12_000], rows.at(-3)] as number[][])
        expect(field).toBeCloseTo(fieldAt(knobs(), [x!, y!, z!]) ?? NaN, 5);
      const xs = rows.map((r) => r[2] as number);
      expect((Math.min(...xs) + Math.max(...xs)) / 2).toBeCloseTo(0.5, 9);
    }
  });
});

test('the cross is read in the form that is shown', async () => {
  const { program, stimulus } = await opened();
  const reading = new Reading(stimulus);
  stimulus.place = [0.5, 0.2, 0.1];
  reading.ask('endless_plate');
  await vi.waitFor(() => expect(reading.of?.form).toBe('endless_plate'));
  expect(reading.point?.magnitude_nV_per_cm).toBe(fieldAt(knobs(), [0.5, 0.2, 0.1]));
  expect(program.asked).toHaveLength(1);
});

describe('the picture', () => {
  async function drawn(compare = false) {
    const { stimulus, sections } = await opened();
    stimulus.turn('plates', []);
    sections.compare = compare;
    sections.ask();
    await vi.waitFor(() => expect(sections.vertical).toBeDefined());
    return { vertical: sections.vertical!, horizontal: sections.horizontal! };
  }
  test('has its threshold where the closed form has it', async () => {
    const { horizontal } = await drawn();
    const [line] = isolines(fieldGrid(horizontal), Math.log10(5));
    expect(line!.closed).toBe(true);
    // Cells of 11 mm at 15 cm: the field is known to 3 % on the line.
    line!.u.forEach((u, i) => {
      const field = fieldAt(knobs(), [u, line!.v[i]!, 0.05])!;
      expect(Math.abs(field / 5 - 1)).toBeLessThan(0.03);
    });
  });
  test.each(['vertical', 'horizontal'] as const)('looks as stored: %s', async (which) => {
    const section = (await drawn())[which];
    const picture = sectionPicture(section, [5, 20], 460);
    await expect(toSvg(picture, (p) => `var(--${p})`)).toMatchFileSnapshot(`../pictures/stimulus-${which}.svg`);
    expect(JSON.stringify(picture)).not.toMatch(/NaN|Infinity|undefined|null/);
  });
  test('of the ratio says where the textbook is off', async () => {
    const { vertical } = await drawn(true);
    // This textbook is half the field everywhere.
    expect(offTenth(ratioGrid(vertical))).toBe(1);
    expect(offTenth({ u: [0, 1], v: [0], values: Float64Array.from([0, Math.log10(1.2)]) })).toBe(0.5);
    expect(offTenth({ u: [0], v: [0], values: Float64Array.from([NaN]) })).toBeNull();
    const picture = sectionPicture(vertical, [5], 460);
    expect(picture.description).toContain('off by more than 10 % on 100\u202f%');
    expect(picture.marks.some((m) => m.kind === 'path' && m.fill === 'ratio-4')).toBe(true);
    expect(sectionFigure(vertical, [], 460).columns.at(-1)).toBe('textbook_nV_per_cm');
  });
  test('holds its numbers for a file: u, v, x, y, z and the field', async () => {
    const { vertical } = await drawn();
    const { columns, rows, name } = sectionFigure(vertical, [], 460);
    expect(name).toBe('stimulus vertical section');
    expect(columns).toEqual(['u_m', 'v_m', 'x_m', 'y_m', 'z_m', 'magnitude_nV_per_cm']);
    expect(rows).toHaveLength(160 * 120);
    // Below the bottom there is no field.
    expect(rows[0]!.at(-1)).toBeNull();
  });
});

test('a field keeps its colour: bands begin at their level', () => {
  expect(fieldBand(0.099)).toBe(-1);
  fieldLevels.forEach((l, i) => expect(fieldBand(l)).toBe(i));
  expect(fieldPaint(0)).toBe('surface');
  expect(fieldPaint(5)).toBe('field-6');
  expect(fieldPaint(1e9)).toBe('field-16');
});

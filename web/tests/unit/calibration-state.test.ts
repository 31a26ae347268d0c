// The calibration as it is worked on in a window, with a program that answers as told.
import { describe, expect, test, vi } from 'vitest';
import type { CalibrationDocument, CalibrationProgram, CalibrationSpec, CalibrationStart } from '$lib/api/calibration';
import { RequestError } from '$lib/api/client';
import type { EditDone, EditRequest } from '$lib/api/studies';
import { faultsOfKnown, withDriven } from '$lib/calibration/known';
import { CalibrationState } from '$lib/state/calibration.svelte';
import { knobs } from './calibration-knobs';

describe('the state', () => {
  const spec: CalibrationSpec = {
    knobs,
    readings: [{ label: 'A', plus_m: [0.05, 0, 0.01], minus_m: null, uV: 1, sd_uV: null }],
    offset: 'fit',
    priors: { current_uA_sd: null, water_S_per_m_sd: null, position_sd_m: 0.001 },
  };
  const start: CalibrationStart = { spec, saved: true, spec_text: '{"old":1}', from: [], warnings: [] };
  const program = (more: Partial<CalibrationProgram> = {}): CalibrationProgram => ({
    start: () => Promise.resolve(start),
    work: () => Promise.resolve({ readings: [{ designed_uV: 2 }] } as unknown as CalibrationDocument),
    ...more,
  });
  const loaded = async (more: Partial<CalibrationProgram> = {}) => {
    const state = new CalibrationState('s', program(more));
    await state.load();
    return state;
  };
  test('gives back what it was given', async () => {
    const state = await loaded();
    expect(state.spec).toEqual(spec);
    expect(state.saved).toBe('saved');
    expect(state.known.positionCm).toBe('0.1');
  });
  test('what was measured otherwise goes into the design and its standard deviations', async () => {
    const state = await loaded();
    Object.assign(state.known, { current: '5,5', currentSd: '0.1', water: '4.2', waterSd: '' });
    expect(state.spec?.knobs.current_uA).toBe(5.5);
    expect(state.spec?.knobs.water.conductivity_S_per_m).toBe(4.2);
    expect(state.spec?.priors).toMatchObject({ current_uA_sd: 0.1, water_S_per_m_sd: null });
    expect(state.saved).toBe('changed');
  });
  test.each([
    [{ current: 'x' }, 'current'],
    [{ current: '0' }, 'current'],
    [{ currentSd: '0' }, 'currentSd'],
    [{ waterSd: '-1' }, 'waterSd'],
    [{ positionCm: 'a' }, 'positionCm'],
    [{ water: '' }, 'water'],
    [{ water: '0' }, 'water'],
  ])('%o is a fault', (more, key) => {
    const known = { current: '6', currentSd: '', water: '4', waterSd: '', positionCm: '', ...more };
    expect(Object.keys(faultsOfKnown(known, knobs))).toEqual([key]);
  });
  test('water from temperature and salinity may stay blank', () => {
    const known = { current: '6', currentSd: '', water: '', waterSd: '', positionCm: '' };
    const cast = { ...knobs, water: { temperature_C: 15, salinity: 35, conductivity_S_per_m: null } };
    expect(faultsOfKnown(known, cast)).toEqual({});
  });
  test('is saved as one record, and a faulty cell is not saved', async () => {
    const state = await loaded();
    const edit = vi.fn((_: EditRequest) => Promise.resolve({ entries: [] } as EditDone));
    state.rows[0]!.uV = 'x';
    await state.save(edit);
    expect(edit).not.toHaveBeenCalled();
    state.rows[0]!.uV = '2';
    await state.save(edit);
    const [change] = edit.mock.calls[0]![0].changes!;
    expect(change).toMatchObject({ kind: 'calibration', id: '', field: 'spec', from: '{"old":1}' });
    expect((JSON.parse(change!.to) as CalibrationSpec).readings[0]!.uV).toBe(2);
    expect(state.saved).toBe('saved');
  });
  test('what was changed elsewhere is not written over unasked', async () => {
    const state = await loaded();
    state.rows[0]!.uV = '2';
    const edit = vi.fn((_: EditRequest) => Promise.reject<EditDone>(new RequestError(409, 'changed')));
    await state.save(edit);
    expect(state.changedElsewhere).toBe(true);
    expect(state.saved).toBe('changed');
    await state.theirs();
    expect(state.rows[0]!.uV).toBe('1');
    expect(state.changedElsewhere).toBe(false);
  });
  test('what is typed is not lost when the page is opened again', async () => {
    const state = await loaded();
    state.rows[0]!.uV = '7';
    await state.load();
    expect(state.rows[0]!.uV).toBe('7');
  });
  test('an answer stands with its rows though others come between', async () => {
    vi.useFakeTimers();
    const state = await loaded();
    state.ask();
    await vi.advanceTimersByTimeAsync(1000);
    const { key } = state.rows[0]!;
    state.add(0);
    expect(state.byKey[key]?.designed_uV).toBe(2);
    expect(state.byKey[state.rows[0]!.key]).toBeUndefined();
    vi.useRealTimers();
  });
  test('with no rows left no answer stands, and with a fault beside them the last one is of before', async () => {
    vi.useFakeTimers();
    const state = await loaded();
    state.ask();
    await vi.advanceTimersByTimeAsync(1000);
    expect([state.document !== undefined, state.stale]).toEqual([true, false]);
    state.known.current = 'x';
    state.ask();
    expect([state.document !== undefined, state.stale]).toEqual([true, true]);
    state.known.current = '6';
    state.clear();
    state.ask();
    expect(state.document).toBeUndefined();
    state.bringBack();
    state.ask();
    await vi.advanceTimersByTimeAsync(1000);
    expect([state.document !== undefined, state.stale]).toEqual([true, false]);
    vi.useRealTimers();
  });
  test('a refused reading is named by the row of the table', async () => {
    vi.useFakeTimers();
    const refuse = () =>
      Promise.reject(new RequestError(422, '', [{ location: 'body.readings/0/plus_m/2', message: 'too high' }]));
    const state = await loaded({ work: refuse });
    state.add(0);
    state.ask();
    await vi.advanceTimersByTimeAsync(1000);
    expect(state.refused).toEqual([{ row: 2, message: 'too high' }]);
    vi.useRealTimers();
  });
  test('one pair is driven alone', () => expect(withDriven(knobs, 1).pairs.map((p) => p.share)).toEqual([0, 1]));
  test('rows removed at once can be brought back', async () => {
    const state = await loaded();
    expect(state.clear()).toBe(1);
    expect(state.rows).toHaveLength(0);
    state.bringBack();
    expect(state.rows.map((r) => r.label)).toEqual(['A']);
  });
});

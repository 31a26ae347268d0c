// The part Camera without a browser: numbers as they are typed, marks, poses.
import { describe, expect, test } from 'vitest';
import type { Clip, Pose, PoseRequest, Poses } from '$lib/api/footage';
import { anglesOf, cameraPortFigure } from '$lib/draw/camera-port';
import { cameraPlanFigure, cameraSideFigure } from '$lib/draw/camera-place';
import { toSvg } from '$lib/export/svg';
import { draftOfCamera, emptyCamera, faultsOfCamera, specOfCamera } from '$lib/footage/camera-spec';
import { clickSdOf, holding, placeOf, specOfPose } from '$lib/footage/pose-draft';
import { PoseDesk } from '$lib/state/footage-poses.svelte';

const spec = {
  width_px: 1920,
  height_px: 1080,
  fx_px: 1150.25,
  fy_px: 1151,
  cx_px: 958.4,
  cy_px: 541,
  k1: -0.12,
  k2: 0.03,
  k3: 0,
  p1: 0.0004,
  p2: -0.0003,
  port: { air_gap_m: 0.018, glass_m: 0.006, glass_index: 1.49, water_index: 1.34 },
};

describe('a camera', () => {
  test('comes back as it was typed', () => {
    expect(specOfCamera(draftOfCamera({ id: 'a', note: '', spec }))).toEqual(spec);
    const bare = { ...spec, port: undefined };
    expect(specOfCamera(draftOfCamera({ id: 'a', note: '', spec: bare }))).toEqual({ ...spec, port: undefined });
  });
  test('invents nothing: only the size of the picture is known beforehand', () => {
    const empty = emptyCamera([640, 360]);
    expect([empty.width, empty.height, empty.fx, empty.waterIndex]).toEqual(['640', '360', '', '']);
    expect([...faultsOfCamera(empty).keys()].sort()).toEqual(['cx', 'cy', 'fx', 'fy', 'id']);
  });
  test.each([
    ['fx', '0'],
    ['fx', 'wide'],
    ['width', '640.5'],
    ['waterIndex', '0.9'],
    ['airGap', '-1'],
    ['k1', 'x'],
  ] as const)('%s %s is refused at its field', (field, text) => {
    const draft = { ...draftOfCamera({ id: 'a', note: '', spec }), [field]: text };
    expect([...faultsOfCamera(draft).keys()]).toEqual([field]);
    expect(specOfCamera(draft)).toBeUndefined();
  });
});

// Snell: sin 30° = 0.5; in water of 1.34 asin(0.5/1.34) = 21.909°, in acrylic of 1.49 19.607°. And 90° across in air
// are 63.7° in water (REFERENCES.md section 9).
test('rays bend at the port by Snell’s law', () => {
  const deg = (a: number) => (a * 180) / Math.PI;
  const at30 = anglesOf(Math.PI / 6, 1.49, 1.34);
  expect(deg(at30.glass)).toBeCloseTo(19.607, 2);
  expect(deg(at30.water)).toBeCloseTo(21.909, 2);
  expect(deg(2 * anglesOf(Math.PI / 4, 1.49, 1.34).water)).toBeCloseTo(63.699, 2);
  const { rows } = cameraPortFigure(spec, true, 400);
  expect(rows).toHaveLength(2);
  expect(Number(rows[1]![0])).toBeCloseTo(deg(Math.atan(960 / 1150.25)), 5);
});

const known = [
  { name: 'pair A, positive electrode', at_m: [0.1, 0, 0] },
  { name: 'pair A, negative electrode', at_m: [-0.1, 0, 0] },
  { name: 'corner 1', at_m: [0.4, 0.3, 0] },
  { name: 'corner 2', at_m: [-0.4, 0.3, 0] },
  { name: 'corner 3', at_m: [-0.4, -0.3, 0] },
];
const clip = (poses: Pose[] = []): Clip => ({ clip: 'c', etag: '"1"', poses }) as unknown as Clip;

const answer = (body: PoseRequest): Poses => ({
  clip: 'c',
  etag: '"2"',
  saved: body.save,
  poses: body.poses.map((p) => ({
    ...p,
    why: '',
    camera_centre_m: [0.2, -0.3, 1.5],
    camera_centre_sd_m: [0.01, 0.01, 0.02],
    tilt_deg: 12,
    reprojection_rms_px: 0.5,
    residual_px: p.marks.map((_, i) => (i === 0 ? [6, 0] : [0.3, -0.4])),
    expected: [...p.marks, { name: 'corner 3', at_m: [-0.4, -0.3, 0], pixel: [100, 200] }],
    ground_sd_cm: 0.2,
    notes: [],
    sight: {
      axis: [0.2, 0, -0.98],
      outline_m: [
        [-1, -1],
        [1, -1],
        [1, 1],
        [-1, 1],
      ],
      step_cm: 10,
      lines: [],
    },
  })),
});

const desk = () => {
  const asked: PoseRequest[] = [];
  const d = new PoseDesk({
    poses: (body) => {
      asked.push(body);
      return Promise.resolve(answer(body));
    },
  });
  d.begin(clip(), known, 0, '0.8');
  return { d, asked };
};
const rested = () => new Promise((r) => setTimeout(r, 250));

describe('marks of a pose', () => {
  test('four are clicked one after the other, and the pose is tried', async () => {
    const { d, asked } = desk();
    expect(d.pose).toBeUndefined();
    d.first('cam');
    for (let i = 0; i < 4; i++) {
      expect(d.pose!.marks.find((m) => m.key === d.chosen)!.name).toBe(known[i]!.name);
      d.place([10 * i + 0.126, 20]);
      d.ask();
    }
    await rested();
    expect(asked).toHaveLength(1);
    expect(asked[0]).toMatchObject({ save: false, poses: [{ click_sd_px: 0.8, camera: 'cam', from_frame: 0 }] });
    expect(asked[0]!.poses[0]!.marks.map((m) => m.pixel[0])).toEqual([0.13, 10.13, 20.13, 30.13]);
    expect(d.shown?.camera_centre_m?.[2]).toBe(1.5);
    expect(d.residual(known[0]!.name)).toEqual([6, 0]);
    expect([d.bad(known[0]!.name), d.bad(known[1]!.name)]).toEqual([true, false]);
    // A click near the ghost is for that mark, though another is chosen.
    d.addMark();
    d.place([101, 201], ([x = 0, y = 0]) => Math.hypot(x - 101, y - 201));
    expect(d.pose!.marks.find((m) => m.name === 'corner 3')!.pixel).toEqual([101, 201]);
  });

  test('undo and redo step through the clicks', () => {
    const { d } = desk();
    d.first('cam');
    d.place([1, 2]);
    d.place([3, 4]);
    expect(d.placed).toBe(2);
    d.undo();
    expect(d.placed).toBe(1);
    d.redo();
    expect(d.placed).toBe(2);
    d.undo();
    d.undo();
    d.undo();
    expect(d.poses).toEqual([]);
    d.undo();
    expect(d.turned).toBe(false);
  });

  test('knocked: the same marks from another frame on, with where they were', () => {
    const { d } = desk();
    d.first('cam');
    d.place([1, 2]);
    expect(d.knocked(0)).toBe(false);
    expect(d.knocked(40)).toBe(true);
    expect(d.at).toBe(1);
    expect(d.pose!.marks[0]).toMatchObject({ pixel: undefined, before: [1, 2] });
    d.look(39);
    expect(d.at).toBe(0);
    d.look(40);
    expect(d.at).toBe(1);
  });

  test('saved is what was clicked; a second writer is told', async () => {
    const { d, asked } = desk();
    d.first('cam');
    d.place([1, 2]);
    expect(d.turned).toBe(true);
    expect(await d.save('A. Example')).toBe(true);
    expect(asked.at(-1)).toMatchObject({ author: 'A. Example', etag: '"1"', save: true });
    expect(d.turned).toBe(false);
    d.turn({ clickSd: 'half' });
    expect(d.unread).toEqual([1]);
    expect(await d.save('A. Example')).toBe(false);
  });

  test('places are centimetres, with a comma or a point', () => {
    expect(placeOf({ at: ['12,5', '-3', '0'] })).toEqual([0.125, -0.03, 0]);
    expect(placeOf({ at: ['12', '', '0'] })).toBeUndefined();
    const { d } = desk();
    d.first('cam');
    d.turn({ camera: '' });
    expect(specOfPose(d.pose!)).toBeUndefined();
  });
});

test('the pose that holds at a frame', () => {
  const poses = [{ fromFrame: 10 }, { fromFrame: 50 }, { fromFrame: 30 }];
  expect([0, 10, 29, 30, 49, 50, 900].map((f) => holding(poses, f))).toEqual([0, 0, 0, 2, 2, 1, 1]);
  expect(holding([], 3)).toBe(-1);
});

// n marks give 2n numbers and a pose takes 6: the sum of squares over 2n − 6.
test('residuals speak of the clicks only where there are enough', () => {
  const r = (n: number) => ({ residual_px: Array.from({ length: n }, () => [0.3, 0.4]) });
  expect(clickSdOf(r(4))).toBeUndefined();
  expect(clickSdOf(r(5))).toBeCloseTo(Math.sqrt((5 * 0.25) / 4), 12);
});

describe('figures', () => {
  const pose = answer({
    author: '',
    clip: 'c',
    etag: '',
    save: false,
    poses: [
      {
        from_frame: 0,
        camera: 'cam',
        click_sd_px: 1,
        note: '',
        marks: known.map((k) => ({ ...k, pixel: [1, 2] })),
      },
    ],
  }).poses[0]!;
  test.each([
    ['camera-side', cameraSideFigure(pose, 420)],
    ['camera-plan', cameraPlanFigure(pose, 420)],
    ['camera-port', cameraPortFigure(spec, true, 420)],
    ['camera-no-port', cameraPortFigure({ ...spec, port: undefined }, false, 420)],
    ['camera-none', cameraPortFigure(undefined, true, 420)],
  ])('%s looks as stored', async (name, figure) => {
    await expect(toSvg(figure.picture, (p) => `var(--${p})`)).toMatchFileSnapshot(`../pictures/${name}.svg`);
    expect(JSON.stringify(figure.picture)).not.toMatch(/NaN|Infinity|undefined/);
    expect(figure.rows.length).toBeGreaterThan(0);
    for (const row of figure.rows) expect(row).toHaveLength(figure.columns.length);
  });
});

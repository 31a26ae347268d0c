// An invented plate with two pairs under a camera, and a clip of two animals over
// it whose truth is known: rendered by tools/makeclip, imported, with the camera's
// pose from its marks. Once open, once with its active pairs sealed.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Footage, Poses } from '../../src/lib/api/footage';
import { shelf, type Served } from './serve';

export type Pixel = [number, number];

export interface Truth {
  camera: object;
  marks: { name: string; at_m: number[]; pixels: Pixel[] }[];
  frames: { animals: { name: string; points: Record<string, { at_m: number[]; pixel: Pixel }> }[] }[];
}

export interface MeasureBay {
  served: Served;
  study: string;
  sealed: string;
  truth: Truth;
  ask<T>(path: string, body?: object): Promise<T>;
  close: () => void;
}

const pair = (label: string, x: number) => `
[[pair]]
label = "${label}"
centre_m = [${x}, 0]
azimuth_deg = 0
separation_m = 0.01
electrode_diameter_m = 0.002
`;

const season: Record<string, string> = {
  'study.toml': `format = 1
title = "Plate under a camera (invented)"
[site]
name = "A tank (invented)"
timezone = "UTC"
depth_m = 2.0
[water]
conductivity_S_per_m = 4.2
[bottom]
kind = "insulating"
${pair('A', -0.2)}${pair('B', 0.2)}
[[species]]
name = "Scyliorhinus canicula"
aliases = []
[[species]]
name = "Raja clavata"
aliases = []
[analysis]
pass_radius_cm = 16
reaction_time_s = 0.1
height_range_cm = [2, 20]
`,
  'trials.csv': `trial,start,end,active_pair,current_uA
T1,2025-05-12T09:00:00,2025-05-12T09:30:00,A,9
T2,2025-05-12T10:00:00,2025-05-12T10:30:00,B,9
`,
  'individuals.csv': `individual,species,sex,total_length_cm,head_width_cm
R1,Raja clavata,F,40,5
S1,Scyliorhinus canicula,M,42,5.5
`,
  'passes.csv': `pass,trial,time,individual,species,pair,turned,bit
P1,T1,2025-05-12T09:10:00,R1,Raja clavata,A,yes,no
P2,T1,2025-05-12T09:10:00,S1,Scyliorhinus canicula,B,yes,no
P3,T2,2025-05-12T10:10:00,S1,Scyliorhinus canicula,B,no,no
`,
  'tracks.csv': `pass,t_s,x_cm,y_cm,height_cm
P2,0,30,-19,5
P2,1,10,-10,5
P3,0,-30,0,5
P3,1,30,0,5
`,
};

export async function openMeasureBay(binary: string): Promise<MeasureBay> {
  const folder = mkdtempSync(join(tmpdir(), 'brinefield-clip-'));
  const clip = join(folder, 'two.mp4');
  execFileSync('go', ['run', './tools/makeclip', 'two', clip], { cwd: '..', stdio: ['ignore', 'ignore', 'inherit'] });
  const truth = JSON.parse(readFileSync(join(folder, 'two.truth.json'), 'utf8')) as Truth;
  const { served, close } = await shelf(binary);
  const ask = async <T>(path: string, body?: object): Promise<T> => {
    const answer = await fetch(`${served.base}/api/${path}`, {
      method: body ? 'POST' : 'GET',
      headers: { cookie: served.cookie, 'Content-Type': 'application/json' },
      body: body && JSON.stringify(body),
    });
    if (!answer.ok) throw new Error(`${path}: ${answer.status} ${await answer.text()}`);
    return (await answer.json()) as T;
  };
  const author = 'N. Example';
  const files = Object.entries(season).map(([name, text]) => ({ name, data: Buffer.from(text).toString('base64') }));
  const bring = async (study: string, blind: boolean) => {
    const { plan } = await ask<{ plan: string }>('imports/plan', { study: '', files });
    await ask('imports', { plan, study, blind, author });
    const at = `studies/${study}/footage`;
    const start = '2025-05-12T09:10:00Z';
    await ask(`${at}/import`, { author, clip: 'two', files: [clip], copy: true, start });
    await ask(`${at}/camera`, { author, id: 'C1', etag: '', spec: truth.camera, note: 'invented', remove: false });
    for (let i = 0; ; i++) {
      const { clips, jobs } = await ask<Footage>(at);
      const made = clips.find((c) => c.frames > 0);
      if (made && jobs.length === 0) {
        const marks = truth.marks.map((m) => ({ name: m.name, at_m: m.at_m, pixel: m.pixels[0] }));
        const pose = { from_frame: 0, camera: 'C1', click_sd_px: 0.3, note: '', marks };
        await ask<Poses>(`${at}/poses`, { author, clip: 'two', etag: made.etag, poses: [pose], save: true });
        return;
      }
      if (i > 300) throw new Error(`the clip was not taken in: ${JSON.stringify(jobs)}`);
      await new Promise((r) => setTimeout(r, 50));
    }
  };
  const [study, sealed] = ['plate', 'plate-sealed'];
  await bring(study, false);
  await bring(sealed, true);
  return {
    ...{ served, study, sealed, truth, ask },
    close: () => {
      close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

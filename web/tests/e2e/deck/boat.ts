// A laptop for the tests of the tablet's pages: it serves what was built, with
// the headers of the program, and answers as docs/formats/deck.md says. The
// whole program does the same in boat.test.ts; here it can be cut, be full, forget.
import { createHash } from 'node:crypto';
import { cpSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type IncomingMessage, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { extname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { identity, view } from './study';

const types: Record<string, string> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript',
  '.css': 'text/css',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.webmanifest': 'application/manifest+json',
};

/** The policy of the program, so that what it forbids is forbidden here. */
const policy = /"Content-Security-Policy", "([^"]+)"/.exec(
  readFileSync(new URL('../../../../internal/httpapi/guard.go', import.meta.url), 'utf8'),
)![1]!;
const built = fileURLToPath(new URL('../../../dist', import.meta.url));

export interface Taken {
  kind: string;
  subject: string;
  act: string;
  device: string;
  seq: number;
  author?: string;
  undoes?: string;
  wall: string;
  body: { fields?: Record<string, string>; was?: Record<string, string> };
}

interface Blob {
  ref: string;
  kind: string;
  salt: string;
  data: string;
}

export class Boat {
  base = '';
  /** Texts of entries on the laptop's disc, and of which each came how often. */
  texts = new Map<string, number>();
  blobs = new Map<string, Blob>();
  asked: string[] = [];
  down = false;
  paired = false;
  /** The token ran out, or the tablet was revoked. */
  refuses = false;
  was: string[] = [];
  view = view();
  pairings = 0;
  readonly dist = mkdtempSync(join(tmpdir(), 'brinefield-boat-'));
  #server: Server;

  private constructor() {
    cpSync(built, this.dist, { recursive: true });
    this.#server = createServer((q, a) => {
      const path = new URL(q.url ?? '/', 'http://x').pathname;
      this.asked.push(`${q.method} ${path}`);
      if (this.down) return q.socket.destroy();
      a.setHeader('Content-Security-Policy', policy);
      if (path === '/') return a.writeHead(302, { Location: '/deck' }).end();
      if (path.startsWith('/api/') || path.startsWith('/download/')) {
        a.setHeader('Cache-Control', 'no-store');
        void bodyOf(q).then((body) => {
          const [status, answer] = this.#answer(path, body);
          a.writeHead(status, { 'Content-Type': status < 300 ? 'application/json' : 'application/problem+json' });
          a.end(JSON.stringify(answer));
        });
        return;
      }
      if (path === '/index.html') return a.writeHead(301, { Location: './' }).end();
      // As the program does: below /deck are pages only, whatever a study is called.
      const file = /^\/deck(\/|$)/.test(path) ? 'index.html' : path.slice(1);
      try {
        const bytes = readFileSync(join(this.dist, file));
        a.setHeader('Content-Type', types[extname(file)] ?? 'application/octet-stream');
        a.setHeader('Cache-Control', path.startsWith('/assets/') ? 'public, max-age=31536000, immutable' : 'no-cache');
        a.end(bytes);
      } catch {
        a.writeHead(404).end();
      }
    });
  }

  static async start(): Promise<Boat> {
    const b = new Boat();
    await new Promise<void>((done) => b.#server.listen(0, '127.0.0.1', done));
    b.base = `http://127.0.0.1:${(b.#server.address() as AddressInfo).port}`;
    return b;
  }

  /** update puts another version of the app there: a page that says so, and a service worker that keeps it. */
  update(): void {
    const page = join(this.dist, 'index.html');
    writeFileSync(page, readFileSync(page, 'utf8').replace('<body>', '<body data-version="2">'));
    const worker = join(this.dist, 'service-worker.js');
    writeFileSync(
      worker,
      readFileSync(worker, 'utf8').replace(/brinefield-shell-[0-9a-f]{16}/, 'brinefield-shell-0000000000000002'),
    );
    if (!readdirSync(this.dist).includes('service-worker.js')) throw new Error('no service worker was built');
  }

  get entries(): Taken[] {
    return [...this.texts.keys()].map((t) => JSON.parse(t) as Taken);
  }

  get self() {
    const studies = [{ study: 'bay', identity, title: this.view.title, role: this.view.role }];
    return {
      paired: this.paired && !this.refuses,
      laptop: 'brinefield-k3f7.local',
      words: 'amber kelp lantern otter pebble quiet rudder sable tern willow'.split(' '),
      device: this.paired ? this.view.device : '',
      name: this.paired ? 'Blue tablet' : '',
      ends: '2031-09-12T10:00:00Z',
      studies: this.paired && !this.refuses ? studies : [],
      now_ms: Date.now(),
    };
  }

  #answer(path: string, body: string): [number, unknown] {
    if (path === '/api/deck/me') return [200, this.self];
    if (path === '/api/deck/pair') {
      const { code, was } = JSON.parse(body) as { code: string; was: string[] };
      this.pairings++;
      if (code !== 'K7QM2XHD') return [403, { detail: 'This code is not the one on the laptop’s screen.' }];
      this.paired = true;
      this.refuses = false;
      this.was = was;
      return [200, this.self];
    }
    if (this.refuses || !this.paired) return [401, { detail: 'This tablet is not let in: pair it again.' }];
    if (path === '/api/studies/bay/deck') return [200, this.#view()];
    if (path === '/api/studies/bay/deck/sync') return [200, this.#sync(body)];
    return [404, { detail: 'There is nothing here.' }];
  }

  #sync(body: string) {
    const { entries, blobs } = JSON.parse(body) as { entries: string[]; blobs: Blob[] };
    for (const t of entries) this.texts.set(t, (this.texts.get(t) ?? 0) + 1);
    for (const b of blobs) {
      const salted = Buffer.concat([Buffer.from(b.salt, 'base64'), Buffer.from(b.data, 'base64')]);
      if (createHash('sha256').update(salted).digest('hex') !== b.ref)
        throw new Error(`blob ${b.ref} is not what it says`);
      this.blobs.set(b.ref, b);
    }
    const heads: Record<string, { seq: number; hash: string }> = {};
    for (const text of this.texts.keys()) {
      const { device, seq } = JSON.parse(text) as Taken;
      if (seq > (heads[device]?.seq ?? 0))
        heads[device] = { seq, hash: createHash('sha256').update(text).digest('hex') };
    }
    return { heads, blobs: blobs.map((b) => b.ref), missing: [], now_ms: Date.now(), position: this.texts.size };
  }

  /** The study as the laptop knows it: with what came in. */
  #view() {
    const v = structuredClone(this.view);
    for (const e of this.entries) {
      if (e.kind !== 'trial') continue;
      const t = v.trials.find((x) => x.trial === e.subject);
      for (const [name, value] of Object.entries(e.body.fields ?? {}))
        if (t && value === '') delete t.fields[name];
        else if (t) t.fields[name] = value;
    }
    return v;
  }

  stop(): void {
    this.#server.closeAllConnections();
    this.#server.close();
    rmSync(this.dist, { recursive: true, force: true });
  }
}

async function bodyOf(q: IncomingMessage): Promise<string> {
  const parts: Buffer[] = [];
  for await (const part of q) parts.push(part as Buffer);
  return Buffer.concat(parts).toString();
}

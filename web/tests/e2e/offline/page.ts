// What the tests reach in the browser. All that it writes down is invented.
import { checkLog } from '$lib/offline/chain';
import { realClock } from '$lib/offline/clock';
import { LogError } from '$lib/offline/errors';
import { makeBlob, makeGuarded, makeText } from '$lib/offline/hash';
import { readLog, saveLog } from '$lib/offline/log-file';
import { Outbox, type Answer } from '$lib/offline/outbox';
import { register } from '$lib/offline/shell';
import { DeckLog, type Options, type Writing } from '$lib/offline/store';

const clock = realClock();

/** pass is an entry about an invented pass. */
export const pass = (i: number): Writing => ({
  draft: {
    author: 'd173899ec7eadb95f74be90879b76216a630776448ef8cfe516577dae44c9cfc',
    kind: 'pass',
    subject: `P${String(i).padStart(5, '0')}`,
    act: 'record',
    body: {
      fields: {
        trial: 'T001',
        individual: 'I1',
        species: 'Raja clavata',
        pair: 'B',
        turned: 'no',
        bit: 'no',
        time: '2031-06-14T11:30:02+01:00',
      },
    },
  },
});

export const deck = {
  clock,
  pass,
  checkLog,
  readLog,
  saveLog,
  register,
  LogError,
  log: undefined as unknown as DeckLog,
  async open(name: string, more: Partial<Options> = {}) {
    deck.log = await DeckLog.open({ name, device: 'deck-1', clock, ...more });
    const { role, report, count, device, persistence, copyState } = deck.log;
    return { role, report, count, device, persistence, copyState };
  },
  /** kindOf is the kind of the error that something ends with. */
  kindOf: (p: Promise<unknown>) =>
    p.then(
      () => 'no error',
      (e: unknown) => (e instanceof LogError ? e.kind : String(e)),
    ),
  async photo(bytes: number) {
    const data = new Uint8Array(bytes);
    for (let i = 0; i < bytes; i += 65536) crypto.getRandomValues(data.subarray(i, i + 65536));
    return makeBlob('photo', data, clock.random(32));
  },
  /** write appends passes, and tells how many entries the second copy then lacks. */
  async write(from: number, to: number) {
    for (let i = from; i <= to; i++) await deck.log.append([pass(i)]);
    return (await deck.log.copied()).behind;
  },
  /** blobs keeps a photo, a name and an assignment with an entry each, and gives their references. */
  async blobs() {
    const all = [
      await deck.photo(100_000),
      await makeText('person', 'Ana, who is invented', clock.random(32)),
      await makeGuarded({ pairs: ['A'], current_uA: '6' }, clock.random(32)),
    ];
    await deck.log.append(all.map((b, i) => ({ ...pass(900 + i), blobs: [b] })));
    await deck.log.copied();
    return all.map((b) => b.ref);
  },
  /** whole tells what is kept and whether it hangs together. */
  async whole() {
    const entries = await deck.log.entries();
    const { faults, heads } = await checkLog(entries);
    return {
      faults,
      seqs: [...heads].map(([d, h]) => `${d} ${h.seq}`),
      hashes: entries.map((e) => e.hash),
      ids: entries.map((e) => e.id),
    };
  },
  /** outbox sends to the test's server as the program would to the laptop. */
  outbox: () =>
    new Outbox(
      deck.log,
      async (batch, signal) => {
        const blobs = batch.blobs.map((b) => b.ref);
        const body = JSON.stringify({ entries: batch.entries, blobs });
        return (await (await fetch('/api/take', { method: 'POST', body, signal })).json()) as Answer;
      },
      () => undefined,
      { firstMs: 20, mostMs: 100, chance: Math.random, sleep: (ms) => new Promise((r) => setTimeout(r, ms)) },
    ),
};

declare global {
  interface Window {
    deck: typeof deck;
  }
}
window.deck = deck;
document.getElementById('app')!.textContent = `version ${import.meta.env.VITE_TEST_VERSION}`;

import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { canonical, type Json } from '$lib/offline/canonical';
import { nextID, validID } from '$lib/offline/id';
import { intact, makeGuarded, makeText } from '$lib/offline/hash';
import { writingLock } from '$lib/offline/locks';
import { random } from './offline-random';

describe('JSON in the form of RFC 8785', () => {
  test('the example of section 3.2.2, with the bytes of section 3.2.4', () => {
    const example = JSON.parse(`{
      "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
      "string": "\\u20ac$\\u000F\\u000aA'\\u0042\\u0022\\u005c\\\\\\"\\/",
      "literals": [null, true, false]
    }`) as Json;
    expect(Buffer.from(canonical(example)).toString('hex')).toBe(
      '7b226c69746572616c73223a5b6e756c6c2c747275652c66616c73655d2c226e756d62657273223a5b3333333333333333332e333333333333332c' +
        '31652b33302c342e352c302e3030322c31652d32375d2c22737472696e67223a22e282ac245c75303030665c6e4127425c225c5c5c5c5c222f227d',
    );
  });

  test('keys are sorted by UTF-16 code units, as in section 3.2.3', () => {
    const keys = ['\u20ac', '\r', '\ufb33', '1', '\u{1f600}', '\u0080', '\u00f6'];
    const sorted = ['\r', '1', '\u0080', '\u00f6', '\u20ac', '\u{1f600}', '\ufb33'];
    const text = canonical(Object.fromEntries(keys.map((k) => [k, 0])));
    expect(text).toBe(`{${sorted.map((k) => `${JSON.stringify(k)}:0`).join(',')}}`);
  });

  // Appendix B of the RFC, as in core/journal/canonical_test.go.
  test.each([
    [0x0000000000000000n, '0'],
    [0x8000000000000000n, '0'],
    [0x0000000000000001n, '5e-324'],
    [0x8000000000000001n, '-5e-324'],
    [0x7fefffffffffffffn, '1.7976931348623157e+308'],
    [0x4340000000000000n, '9007199254740992'],
    [0x4430000000000000n, '295147905179352830000'],
    [0x44b52d02c7e14af5n, '9.999999999999997e+22'],
    [0x44b52d02c7e14af6n, '1e+23'],
    [0x44b52d02c7e14af7n, '1.0000000000000001e+23'],
    [0x444b1ae4d6e2ef4fn, '999999999999999900000'],
    [0x444b1ae4d6e2ef50n, '1e+21'],
    [0x3eb0c6f7a0b5ed8cn, '9.999999999999997e-7'],
    [0x3eb0c6f7a0b5ed8dn, '0.000001'],
    [0x41b3de4355555553n, '333333333.3333332'],
    [0x41b3de4355555557n, '333333333.33333343'],
    [0xbecbf647612f3696n, '-0.0000033333333333333333'],
    [0x43143ff3c1cb0959n, '1424953923781206.2'],
  ])('number %s', (bits, want) => {
    const view = new DataView(new ArrayBuffer(8));
    view.setBigUint64(0, bits);
    expect(canonical(view.getFloat64(0))).toBe(want);
  });

  test('what has no form is refused', () => {
    const deep = JSON.parse('['.repeat(1000) + ']'.repeat(1000)) as Json;
    for (const bad of [NaN, Infinity, '\ud800', 'a\udc00b', { '\ud800': 1 }, [undefined], undefined, deep])
      expect(() => canonical(bad as Json)).toThrow();
    expect(canonical('\u{1f600}\u2028\u007f<&')).toBe('"\u{1f600}\u2028\u007f<&"');
  });
});

describe('IDs', () => {
  const chance = Uint8Array.from({ length: 10 }, () => 0xff);
  // The UUID of RFC 9562, appendix A.6: its time is 2022-02-22 14:22:22 at UTC-5.
  test('the time of the example of RFC 9562', () => {
    const id = nextID('', Date.parse('2022-02-22T14:22:22-05:00'), chance);
    expect(id.slice(0, 13)).toBe('017f22e2-79b0');
    expect(id).toBe('017f22e2-79b0-7000-bfff-ffffffffffff');
  });

  test('rise whatever the clock does', () => {
    const { integer, bytes } = random(3);
    let last = '';
    let wrong = 0;
    for (let i = 0; i < 20_000; i++) {
      const id = nextID(last, 1.9e12 + integer(5), bytes(10));
      if (!validID(id) || id <= last) wrong++;
      last = id;
    }
    expect(wrong).toBe(0);
    // 4 096 fit into a millisecond; the count then spills.
    expect(nextID('0000018b-cfe5-7fff-8000-000000000000', 0, chance).slice(0, 18)).toBe('0000018b-cfe6-7000');
  });

  test('what cannot be is refused', () => {
    for (const ms of [-1, 2 ** 48, NaN, 0.5]) expect(() => nextID('', ms, chance)).toThrow(/clock/);
    expect(() => nextID('no ID', 0, chance)).toThrow(/version 7/);
    expect(() => nextID('ffffffff-ffff-7fff-8000-000000000000', 0, chance)).toThrow(/end of time/);
    expect(() => nextID('', 0, chance.subarray(7))).toThrow(/8 bytes/);
  });
});

test('a reference is the SHA-256 of salt and data', async () => {
  const salt = new Uint8Array(32);
  // NIST's SHA-256 of 32 zero bytes followed by nothing, a published value.
  expect((await makeText('person', '', salt)).ref).toBe(
    '66687aadf862bd776c8fc18b8e9f8e20089714856ee233b3902a591d0d5f2925',
  );
  const guarded = await makeGuarded({ pairs: ['A'], current_uA: '6' }, random(1).bytes(32));
  expect(new TextDecoder().decode(guarded.data)).toBe('{"current_uA":"6","pairs":["A"]}');
  expect(await intact(guarded)).toBe(true);
  expect(await intact({ ...guarded, data: guarded.data.map((b, i) => (i === 3 ? b ^ 1 : b)) })).toBe(false);
  await expect(makeText('person', 'Ana', new Uint8Array(31))).rejects.toThrow(/32 bytes/);
});

test('page and service worker mean the same lock', () => {
  const worker = readFileSync(new URL('../../src/service-worker.ts', import.meta.url), 'utf8');
  expect(worker).toContain(`const writingLock = '${writingLock}';`);
});

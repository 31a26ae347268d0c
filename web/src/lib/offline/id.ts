// IDs of entries: UUIDs of version 7 (RFC 9562): 48 bits of Unix milliseconds,
// 12 bits that count within a millisecond, 62 bits of chance. The same as
// core/journal/id.go makes.
import { LogError } from './errors';
import { hex } from './hash';

const form = /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/;

export const validID = (id: string): boolean => form.test(id);

const mostMs = 2 ** 48 - 1;
const mostCount = 2 ** 12 - 1;

/**
 * nextID is greater than the device's last one ("" for none), whatever the
 * clock (Unix milliseconds) does: where it stands still or was set back, the
 * count goes on from the last ID and spills into the milliseconds when it is full.
 */
export function nextID(last: string, wallMs: number, random: Uint8Array): string {
  if (!Number.isInteger(wallMs) || wallMs < 0 || wallMs > mostMs)
    throw new LogError('draft', `The clock of this tablet says ${wallMs} ms since 1970: set it.`);
  if (random.length < 8) throw new LogError('draft', 'An ID needs 8 bytes of chance.');
  let ms = wallMs;
  let count = 0;
  if (last !== '') {
    if (!validID(last)) throw new LogError('broken', `${JSON.stringify(last)} is no UUID of version 7.`);
    const lastMs = parseInt(last.slice(0, 8) + last.slice(9, 13), 16);
    const lastCount = parseInt(last.slice(15, 18), 16);
    if (ms < lastMs || (ms === lastMs && count <= lastCount)) {
      ms = lastMs;
      count = lastCount + 1;
      if (count > mostCount) {
        ms++;
        count = 0;
      }
      if (ms > mostMs)
        throw new LogError(
          'draft',
          `No ID comes after ${last}: the clock of this tablet once stood at the end of time.`,
        );
    }
  }
  const time = ms.toString(16).padStart(12, '0');
  const tail = Uint8Array.from(random.subarray(0, 8));
  tail[0] = (tail[0]! & 0x3f) | 0x80;
  const chance = hex(tail);
  return `${time.slice(0, 8)}-${time.slice(8)}-7${count.toString(16).padStart(3, '0')}-${chance.slice(0, 4)}-${chance.slice(4)}`;
}

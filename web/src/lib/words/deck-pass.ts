// What a pass that was logged on the deck says, in the study's own words.
import type { DeckPass, DeckResponse } from '$lib/api/types';
import { words } from './index';

const w = words.deckPage.log.passes;

/** responseOf is the button that gives what the fields say; undefined where none does. */
export const responseOf = (
  fields: Record<string, string>,
  responses: readonly DeckResponse[],
): DeckResponse | undefined =>
  responses.find((r) =>
    r.word
      ? r.word === fields.response
      : !fields.response && r.turned === (fields.turned ?? '') && r.bit === (fields.bit ?? ''),
  );

/** passSays names the response, and the electrode that was bitten. */
export function passSays(pass: DeckPass, responses: readonly DeckResponse[]): string {
  const f = pass.fields;
  const known = responseOf(f, responses);
  const said = known?.label ?? f.response ?? '';
  const plain = [f.turned === 'yes' ? w.turned : '', f.bit === 'yes' ? w.bit : ''].filter(Boolean).join(', ');
  const without = !f.turned && !f.bit ? w.unscored : w.plain;
  return [said || plain || without, f.bite_electrode].filter(Boolean).join(', ');
}

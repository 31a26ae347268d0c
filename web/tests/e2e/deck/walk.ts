// Every state of the tablet's pages, one after the other, for whoever looks at them.
import type { Page } from 'playwright-core';
import type { Boat } from './boat';
import { pairUp } from './hands';

export async function walk(page: Page, boat: Boat, look: (name: string) => Promise<void>): Promise<void> {
  const button = (name: string | RegExp) =>
    page.getByRole('button', typeof name === 'string' ? { name, exact: true } : { name });
  const close = () => page.getByRole('button', { name: 'Close' }).click();
  await page.goto(`${boat.base}/deck`);
  await page.getByRole('heading', { name: 'Pair this tablet' }).waitFor();
  await look('01-pairing');
  await pairUp(page, boat);
  await look('02-studies');
  await page.getByRole('link', { name: /Bay trials/ }).click();
  await page.getByRole('dialog', { name: 'Who logs today?' }).waitFor();
  await look('03-who');
  await button('Maeve Kinsella').click();
  await page.getByText('No trial runs: passes').waitFor();
  await look('04-no-trial');
  await button('Trial').click();
  const list = page.getByRole('list', { name: 'Before the trial' });
  await list.getByRole('button', { name: 'OK', exact: true }).first().click();
  await list.getByRole('button', { name: 'Not OK', exact: true }).nth(1).click();
  await page.getByText('1 not OK').waitFor();
  await look('05-list');
  await button('Another trial').click();
  await look('06-another-trial');
  await close();
  await button('Current before').click();
  for (const k of ['9', 'Decimal point', '1']) await button(k).click();
  await look('07-current');
  await button('Save').click();
  await button('Current before: noted').waitFor();
  await list.getByRole('button', { name: 'OK', exact: true }).nth(2).click();
  await button('Begin T002').click();
  await button(/Tap to choose the species/).click();
  await button('Thornback ray').click();
  await look('08-animals');
  await button('New animal Give it a name and a mark').click();
  await look('09-new-animal');
  await close();
  await button(/Tap to choose the species|Thornback ray/)
    .first()
    .click();
  await button(/^Blotch/).click();
  await button('B').click();
  await look('10-pair-chosen');
  await button('Bite').click();
  await page.getByText('Which electrode was bitten?').waitFor();
  await look('11-bite');
  await button('Negative').click();
  await button(/^low/).click();
  await page.getByRole('button', { name: /^low/, pressed: true }).waitFor();
  await button('C').click();
  await button('Turn').click();
  await button('C').waitFor();
  await look('12-logged');
  await button('Note').click();
  await look('13-note');
  await close();
  await button('Water').click();
  await look('14-water');
  await button(/^Temperature/).click();
  for (const k of ['1', '4', 'Decimal point', '5']) await button(k).click();
  await button('Save').click();
  await button('More').click();
  await button('One animal more').click();
  await page.getByText('39 of 40 animals').waitFor();
  await look('15-more');
  await button('Animal hurt').click();
  await look('16-adverse');
  await close();
  boat.down = true;
  await button('Passes').click();
  await button('A').click();
  await button('No turn').click();
  await page.locator('button.status').getByText('The laptop does not answer').waitFor();
  await look('17-waiting');
  await page.locator('button.status').click();
  await look('18-status');
  await close();
  boat.down = false;
  await button('Trial').click();
  await look('19-trial-runs');
  await button('End T002').click();
  await page.getByText('Next: trial T003').waitFor();
  await look('20-washout');
  boat.refuses = true;
  await button(/OK/).first().click();
  await page.getByText('The laptop does not let this tablet in any more').waitFor();
  await look('21-unpaired');
  const other = await page.context().newPage();
  await other.goto(page.url());
  await other.getByText('Another window of this tablet').waitFor();
  await other.close();
}

export const sizes = {
  landscape: { width: 1024, height: 768 },
  portrait: { width: 834, height: 1194 },
  phone: { width: 390, height: 844 },
};
export const looks = ['sunlight', 'dark', 'night'] as const;

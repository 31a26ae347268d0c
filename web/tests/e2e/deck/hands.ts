// What the tests do again and again, as a person would.
import type { Page } from 'playwright-core';
import type { Boat } from './boat';

export async function pairUp(
  page: Page,
  boat: Pick<Boat, 'base'>,
  code = 'K7QM2XHD',
  study = /Bay trials/,
  name = 'Blue tablet',
): Promise<void> {
  await page.goto(`${boat.base}/deck`);
  await page.getByRole('textbox', { name: 'Code' }).fill(code);
  await page.getByRole('textbox', { name: 'Name of this tablet' }).fill(name);
  await page.getByRole('button', { name: 'Pair', exact: true }).click();
  await page.getByRole('link', { name: study }).waitFor();
  await page.evaluate(async () => void (await navigator.serviceWorker.ready));
}

/** begin opens the study, says who logs, answers the list and begins the next trial; the species is chosen. */
export async function begin(page: Page, study = /Bay trials/, person = 'Maeve Kinsella'): Promise<void> {
  await page.getByRole('link', { name: study }).click();
  await page.getByRole('button', { name: person }).click();
  await page.getByRole('button', { name: 'Trial', exact: true }).click();
  const list = page.getByRole('list', { name: 'Before the trial' });
  for (const ok of await list.getByRole('button', { name: 'OK', exact: true }).all()) await ok.click();
  await page.getByRole('button', { name: /^Begin T/ }).click();
  await page.getByRole('button', { name: /Tap to choose the species/ }).click();
  await page.getByRole('button', { name: 'Thornback ray', exact: true }).click();
  await page.getByRole('button', { name: 'Unknown No mark' }).click();
}

export const status = async (page: Page): Promise<string> =>
  (await page.locator('button.status .line').innerText()).replace(/\s+/g, ' ');

/** log logs a pass in two taps, and waits until it is saved. */
export async function log(page: Page, pair: string, response: string): Promise<void> {
  await page.getByRole('button', { name: 'Passes', exact: true }).click();
  const before = Number.parseInt(await status(page));
  await page.getByRole('group', { name: 'Pair' }).getByRole('button', { name: pair, exact: true }).click();
  await page
    .getByRole('group', { name: 'What the animal did' })
    .getByRole('button', { name: response, exact: true })
    .click();
  await page.waitForFunction(
    (n) => Number.parseInt(document.querySelector('button.status .line')!.textContent!) > n,
    before,
  );
}

/** openAs opens the study without a schedule, under a name that the laptop does not know. */
export async function openAs(page: Page, person: string): Promise<void> {
  await page.getByRole('link', { name: /Tank trials/ }).click();
  await page.getByRole('textbox', { name: 'Another name' }).fill(person);
  await page.getByRole('button', { name: 'Log under this name' }).click();
}

export async function chooseRay(page: Page): Promise<void> {
  await page.getByRole('button', { name: /Tap to choose the species/ }).click();
  await page.getByRole('button', { name: 'Thornback ray', exact: true }).click();
  await page.getByRole('button', { name: /^Unknown No mark/ }).click();
}

/** beginBeside begins a trial beside the schedule; the species is chosen. */
export async function beginBeside(page: Page, person = 'Ines Duarte'): Promise<void> {
  await openAs(page, person);
  await page.getByRole('button', { name: 'Trial', exact: true }).click();
  await page
    .getByRole('button', { name: /^Begin without the list|^Begin T/ })
    .last()
    .click();
  const why = page.getByRole('button', { name: 'Looked at by the divers' });
  if (await why.isVisible()) {
    await why.click();
    await page
      .getByRole('dialog')
      .getByRole('button', { name: /^Begin / })
      .click();
  }
  await chooseRay(page);
}

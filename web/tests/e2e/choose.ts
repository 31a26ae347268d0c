// A season folder as a person hands it over.
import type { Page } from 'playwright-core';

/** choose picks a folder in the file dialog that a button opens. */
export async function choose(page: Page, button: string, folder: string): Promise<void> {
  const [dialog] = await Promise.all([
    page.waitForEvent('filechooser'),
    page.getByRole('button', { name: button, exact: true }).click(),
  ]);
  await dialog.setFiles(folder);
}

/** importNew makes a study of a season folder from Home and stays on its Findings. */
export async function importNew(page: Page, folder: string, name: string, sealed = false): Promise<void> {
  await choose(page, 'Import a season folder', folder);
  await page.getByRole('textbox', { name: 'Name of its folder' }).fill(name);
  if (sealed) await page.getByRole('checkbox', { name: /^Keep sealed which pair was active/ }).check();
  await page.getByRole('button', { name: 'Import', exact: true }).click();
  await page.getByRole('heading', { name: `Imported into ${name}` }).waitFor();
  await page.getByRole('link', { name: 'See the findings' }).click();
  await page.getByRole('heading', { level: 1, name: 'Findings' }).waitFor();
}

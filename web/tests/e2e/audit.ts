// Accessibility as axe-core sees it, and the page's width.
import { createRequire } from 'node:module';
import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { expect } from 'vitest';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** audit gives the serious and critical findings of axe-core, one line each. */
export async function audit(page: Page): Promise<string[]> {
  await page.evaluate(axe); // the content policy forbids script elements, not the debugger
  return page.evaluate(async () => {
    const run = (
      window as unknown as {
        axe: {
          run(
            where: Document,
            how: object,
          ): Promise<{ violations: { id: string; impact: string; nodes: { html: string }[] }[] }>;
        };
      }
    ).axe;
    const { violations } = await run.run(document, { resultTypes: ['violations'], preload: false });
    return violations
      .filter((v) => v.impact === 'serious' || v.impact === 'critical')
      .map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 140)).join(' | ')}`);
  });
}

/** legible fails on what axe-core finds and on a page that scrolls sideways. */
export async function legible(page: Page, what: string): Promise<void> {
  expect(await audit(page), what).toEqual([]);
  const sideways = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  expect(sideways, `${what} scrolls sideways`).toBeLessThanOrEqual(0);
}

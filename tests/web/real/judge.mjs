// What every view of a real page is looked at with: sizes of screens, pictures, and who judges what WCAG forbids.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { site } from "./site.mjs";

export const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
export const sizes = { desk: { width: 1366, height: 850 }, phone: { width: 360, height: 740 } };

/** The whole view on one screen: only its content scrolls, and what is fixed to the lower edge is to stand there. */
export async function picture(page, name, viewport) {
  const hidden = await page.evaluate(() => {
    const main = document.querySelector("main");
    return main.scrollHeight - main.clientHeight;
  });
  await page.setViewportSize({ ...viewport, height: viewport.height + hidden });
  await page.screenshot({ path: join(site.pictures, name) });
}

/** What WCAG 2.2 AA forbids in what is shown now, by the judge that was put into the page. */
export async function violationsOf(page) {
  const { violations, passes } = await page.evaluate(() =>
    axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }),
  );
  assert.ok(passes.length > 10, "the judge has looked at something");
  return violations.map((one) => `${one.id}: ${one.nodes[0].target.join(" ")}: ${one.nodes[0].failureSummary}`);
}

// Pictures of every view, to be looked at: screenshots.mjs [FOLDER]
import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { openBrowser, settled, viewAddresses } from "./browser.mjs";
import { showTroubles, startStandIn } from "./stand_in.mjs";

const folder = process.argv[2] ?? fileURLToPath(new URL("../../build/screenshots", import.meta.url));
const only = process.argv.slice(3);
const sizes = {
  phone: { width: 360, height: 740 },
  desk: { width: 1440, height: 900 },
  wall: { width: 1920, height: 1080 },
  "large-wall": { width: 3840, height: 2160 },
};
await mkdir(folder, { recursive: true });
const standIn = await startStandIn();
const browser = await openBrowser();
const page = await browser.page(standIn.url);
showTroubles(standIn);

/** As high as the view needs: only its content scrolls, so a picture of the whole page would end at the screen. */
async function makeWhole({ width, height }) {
  const hidden = await page.evaluate(() => {
    const main = document.querySelector("main");
    return main.scrollHeight - main.clientHeight;
  });
  await page.setViewportSize({ width, height: height + hidden });
}

for (const scheme of ["light", "dark"]) {
  await page.emulateMedia({ colorScheme: scheme });
  for (const [view, address] of Object.entries(viewAddresses)) {
    if (only.length && !only.includes(view)) continue;
    await page.goto(`${standIn.url}/${address}`);
    await settled(page);
    for (const [size, viewport] of Object.entries(sizes)) {
      if (size === "large-wall" && view !== "rooms") continue;
      if (scheme === "dark" && size === "phone" && view !== "rooms") continue;
      await page.setViewportSize(viewport);
      if (size === "phone" || size === "desk") await makeWhole(viewport);
      await page.waitForFunction(() => new Promise((resolve) => setTimeout(() => resolve(true), 350)));
      await page.screenshot({ path: join(folder, `${view}-${size}-${scheme}.png`) });
    }
  }
}
async function take(name, only = Object.keys(sizes).slice(0, 2)) {
  for (const size of only) {
    await page.setViewportSize(sizes[size]);
    if (!(await page.locator("dialog[open]").count())) await makeWhole(sizes[size]);
    await page.screenshot({ path: join(folder, `${name}-${size}.png`) });
  }
}
if (!only.length || only.includes("walk")) {
  await page.goto(`${standIn.url}/#/calibration/cryo-annexe/cell-a`);
  await page.getByRole("button", { name: "Begin" }).click();
  await page.locator("#sign-in-name").fill("mira");
  await take("sign-in");
  await page.locator("#sign-in-password").fill("larkfield-1");
  await page.keyboard.press("Enter");
  await page.getByRole("button", { name: "Take the point" }).and(page.locator(":enabled")).waitFor();
  await take("walk-level");
  await page.getByRole("button", { name: "Take the point" }).click();
  await page.getByRole("button", { name: "Judge what was taken" }).click();
  await page.getByRole("button", { name: "Record", exact: true }).waitFor();
  await take("walk-judged");
  await page.goto(`${standIn.url}/#/alarms`);
  await page.setViewportSize(sizes.desk);
  await page.getByRole("button", { name: "Out of service low oxygen of cryo-annexe" }).click();
  await take("out-of-service");
  await page.keyboard.press("Escape");
  await page.goto(`${standIn.url}/#/report`);
  await settled(page);
  await page.emulateMedia({ media: "print" });
  await page.setViewportSize({ width: 794, height: 1123 }); // A4
  await page.screenshot({ path: join(folder, "report-paper.png"), fullPage: true });
  await page.emulateMedia({ media: "screen" });
}
if (!only.length || only.includes("lost")) {
  await page.goto(`${standIn.url}/#/rooms`);
  await settled(page);
  standIn.goAway();
  await page.waitForSelector(".banner-old");
  for (const [size, viewport] of Object.entries(sizes)) {
    await page.setViewportSize(viewport);
    await page.screenshot({ path: join(folder, `lost-${size}.png`) });
  }
}
console.log(`${folder}; complaints: ${JSON.stringify(browser.complaints)}`);
await browser.close();
await standIn.stop();

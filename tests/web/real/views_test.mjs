// Each view with the data of a real daemon: complete, without a complaint of the browser, open to everybody.
import assert from "node:assert/strict";
import { mkdir } from "node:fs/promises";
import { after, before, test } from "node:test";
import { settled, viewAddresses } from "../browser.mjs";
import { axeSource, picture, sizes, violationsOf } from "./judge.mjs";
import { goTo, mainSays, openPage, oxherd, site } from "./site.mjs";

let browser, page;
before(async () => {
  await mkdir(site.pictures, { recursive: true });
  await oxherd("regime", "bay-3", "--set", "occupied", "--comment", "the crop is picked", "--by", "A. Lindqvist");
  // Whether a calibration is under way is asked of the daemon, which does not tell whoever has not signed in.
  const allowed = (response) => response?.status() === 401 && response.url().endsWith("/api/calibrate");
  browser = await openPage("#/rooms", { viewport: sizes.desk, allowed });
  page = browser.page;
  await page.emulateMedia({ reducedMotion: "reduce" });
  await settled(page);
  await page.evaluate(`${axeSource};undefined`); // by the debugger, which the policy does not bind
});
after(() => browser?.close());

/** What only a daemon that watches Larkfield can have put there. */
const says = {
  rooms: /4 rooms, none asks for a person/,
  room: /Sensors[\s\S]*cell-b[\s\S]*oxygen 20\.\d+\s*%/i,
  "sealed-room": /WITHHELD/,
  alarms: /Normal: \d+ alarms/,
  history: /Oxygen, dry basis, cryo-annexe\/cell-a/,
  journal: /bay-3[\s\S]*the crop is picked/,
  explain: /every digit agrees/,
  calibration: /LK-0007[\s\S]*LK-0034/,
  "calibration-walk": /Begin/,
  certificate: /There is no record 3 of cryo-annexe\/cell-a/,
  worksheet: /Type values with their units/,
  health: /plant[\s\S]*stores[\s\S]*NEVER PROVED/,
  report: /Shift report, larkfield/,
};

test("every view that the navigation offers is looked at here", async () => {
  const offered = await page.locator("#nav a").evaluateAll((links) => links.map((link) => link.hash));
  const known = Object.values(viewAddresses).map((address) => address.split("?")[0]);
  assert.ok(offered.length > 5);
  assert.deepEqual(
    offered.filter((address) => !known.includes(address)),
    [],
  );
});

for (const [view, address] of Object.entries(viewAddresses))
  test(`${view}: shows the site, at desk and phone, and has nothing that WCAG 2.2 AA forbids`, async () => {
    await goTo(page, address);
    await settled(page);
    await mainSays(page, says[view]);
    const text = await page.innerText("main");
    assert.doesNotMatch(text, /undefined|NaN|\[object|\bsafe\b/i);
    assert.match(await page.innerText("#caution"), /Supplementary monitor/);
    for (const [size, viewport] of Object.entries(sizes)) {
      await page.setViewportSize(viewport);
      await page.waitForFunction(() => document.documentElement.scrollWidth <= document.documentElement.clientWidth);
      assert.deepEqual(await violationsOf(page), [], size);
      await picture(page, `real-${view}-${size}.png`, viewport);
    }
    await page.setViewportSize(sizes.desk);
    browser.noComplaints();
  });

test("a page that begins with a view shows the same as one that came to it", async () => {
  for (const view of ["room", "history", "health"]) {
    await page.goto(`${site.url}/${viewAddresses[view]}`);
    await page.reload();
    await settled(page);
    await mainSays(page, says[view]);
  }
  browser.noComplaints();
});

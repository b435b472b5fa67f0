// An old number never looks current.
import assert from "node:assert/strict";
import { after, afterEach, before, test } from "node:test";
import { clock, openBrowser } from "./browser.mjs";
import { startStandIn } from "./stand_in.mjs";

let standIn, browser, page;
before(async () => {
  standIn = await startStandIn();
  browser = await openBrowser();
  page = await browser.page(`${standIn.url}/#/rooms`);
  await current();
});
after(async () => {
  await browser?.close();
  await standIn?.stop();
});
afterEach(async () => {
  Object.assign(standIn, { beating: true, evaluating: true, answering: true });
  await current();
});

const current = () =>
  page.waitForFunction(
    () => document.querySelectorAll(".card").length === 4 && !document.querySelector(".old, .banner-old"),
    null,
    { timeout: 20000 },
  );
const numbersOld = (timeout) =>
  page.waitForFunction(
    () => {
      const numbers = document.querySelectorAll(".card .number");
      return numbers.length > 0 && [...numbers].every((one) => one.matches("s.old"));
    },
    null,
    { timeout },
  );
async function oldWithin(ms, what) {
  const from = Date.now();
  await numbersOld(ms);
  assert.ok(Date.now() - from <= ms, `${what}: ${Date.now() - from} ms`);
  assert.match(await page.innerText(".banner-old"), new RegExp(`NOT CURRENT since ${clock} \\(${clock} UTC\\)`));
  for (const card of await page.locator(".card").all())
    assert.match(await card.innerText(), new RegExp(`not current since ${clock}`));
  assert.match(await page.title(), /^NOT CURRENT/);
}

test("a value that changes is shown without loading the page again", async () => {
  standIn.setRoom("cryo-annexe", { dry_fraction: 0.2037, u_expanded: 0.0013 });
  await page.waitForFunction(() => document.querySelector("main").innerText.includes("20.37"));
});
test("what only goes on is drawn, but not read out: a live region speaks of transitions alone", async () => {
  const spoken = () =>
    page.evaluate(() => ["news", "news-critical"].map((id) => document.getElementById(id).textContent));
  const before = await spoken();
  const readings = await page.evaluate(() => document.querySelector("#clock").textContent);
  for (const [i, dry_fraction] of [0.2041, 0.2042, 0.2043].entries()) {
    standIn.setRoom("cryo-annexe", { dry_fraction });
    await page.waitForFunction((words) => document.querySelector("main").innerText.includes(words), `20.4${i + 1}`);
  }
  await page.waitForFunction((was) => document.querySelector("#clock").textContent !== was, readings);
  assert.deepEqual(await spoken(), before);
  const regions = await page
    .locator("[aria-live], [role=alert], [role=status]")
    .evaluateAll((all) => all.map((one) => one.id));
  assert.deepEqual(regions, ["news-critical", "news"], "nothing that is drawn anew is a live region");
});
test("the number of a room follows its level, which is told each second", async () => {
  const at = new Date().toISOString();
  standIn.send("level", { room: "cryo-annexe", at, dry_fraction: 0.2012, u_expanded: 0.0013 });
  await page.waitForFunction(() => document.querySelector("main").innerText.includes("20.12"));
});
test("when the beat stops, every number is old within four seconds, and current again with the beat", async () => {
  standIn.beating = false;
  await oldWithin(4000, "no beat");
  standIn.beating = true;
  await current();
});
test("a daemon that answers but evaluates nothing is not trusted", async () => {
  standIn.evaluating = false;
  await oldWithin(5000, "evaluations stand still"); // one beat with the last count may still be on its way
});
test("a lost connection makes every number old within four seconds, and recovers by itself", async () => {
  standIn.goAway();
  await oldWithin(4000, "cut");
  standIn.comeBack();
  await current();
  assert.doesNotMatch(await page.title(), /NOT CURRENT/);
});
test("a connection that stays open and mute is given up and opened anew", async () => {
  const mute = [...standIn.streams];
  standIn.streams.clear(); // nothing is written to them any more, but they stay open
  await oldWithin(4000, "mute");
  await current();
  for (const stream of mute) stream.destroy();
});
test("after a restart, a room that the new run has not told yet shows its number as old, the others are current", async () => {
  const { rooms, openStream } = standIn;
  standIn.openStream = function (request, response) {
    // a run that has not come to one room yet
    this.rooms = rooms.filter((one) => one.room !== "cryo-annexe");
    openStream.call(this, request, response);
    this.rooms = rooms;
  };
  standIn.restart();
  await page.waitForFunction(
    () => /NOT CURRENT: cryo-annexe/.test(document.querySelector(".banner-old")?.innerText ?? ""),
    null,
    { timeout: 8000 },
  );
  assert.match(await page.innerText("#banner"), /Oxherd was started again/);
  const old = (name) => page.locator(".card", { hasText: name }).locator("s.old").count();
  assert.ok((await old("cryo-annexe")) > 0);
  assert.equal(await old("growth-chamber-1"), 0);
  standIn.openStream = openStream;
  standIn.tellRoom("cryo-annexe");
});
test("a new critical alarm interrupts, is counted in the title and takes the first place", async () => {
  standIn.raiseLowOxygen();
  await page.waitForFunction(() => /^\(1\) /.test(document.title));
  assert.match(
    await page.innerText("[aria-live=assertive]"),
    /cryo-annexe, low oxygen: CRITICAL, NOT ACKNOWLEDGED\. LOW OXYGEN/,
  );
  assert.match(await page.locator(".card").first().innerText(), /LOW OXYGEN/);
});
test("whoever looks at another view is told of the alarm there, also on a phone", async () => {
  await page.setViewportSize({ width: 360, height: 740 });
  for (const view of ["history", "journal", "health", "calibration", "room/bay-3"]) {
    await page.evaluate((to) => {
      location.hash = `#/${to}`;
    }, view);
    await page.waitForFunction(() =>
      /cryo-annexe CRITICAL: low oxygen, NOT ACKNOWLEDGED/.test(
        document.querySelector(".banner-alarm")?.innerText ?? "",
      ),
    );
  }
  await page.evaluate(() => {
    location.hash = "#/rooms";
  });
  await page.waitForFunction(() => !document.querySelector(".banner-alarm"));
  await page.setViewportSize({ width: 1280, height: 800 });
});
test("an alarm that came while the connection was cut interrupts as soon as it is back", async () => {
  standIn.goAway();
  await numbersOld(4000);
  Object.assign(standIn.alarm("bay-3", "high-co2"), { state: "unacknowledged", present: true, text: "HIGH CO2 bay-3" });
  standIn.comeBack();
  await page.waitForFunction(
    () =>
      /bay-3, high co2: CRITICAL, NOT ACKNOWLEDGED/.test(document.querySelector("[aria-live=assertive]").textContent),
    null,
    { timeout: 10000 },
  );
});
test("an alarm of less priority is told politely", async () => {
  standIn.setAlarm("pear-store-2", "high-oxygen", { state: "unacknowledged", present: true, text: "oxygen is high" });
  await page.waitForFunction(() =>
    /pear-store-2, high oxygen: MEDIUM/.test(document.querySelector("#news").textContent),
  );
});
test("flashing stops for whoever asked the system for less motion, and by the page's own switch", async () => {
  standIn.raiseLowOxygen();
  await page.waitForSelector(".unseen");
  const animated = () => page.evaluate(() => getComputedStyle(document.querySelector(".unseen")).animationName);
  assert.equal(await animated(), "call");
  await page.emulateMedia({ reducedMotion: "reduce" });
  assert.equal(await animated(), "none");
  await page.emulateMedia({ reducedMotion: "no-preference" });
  await page.getByRole("button", { name: "No flashing" }).click();
  assert.equal(await animated(), "none");
  assert.match(await page.locator(".unseen").first().innerText(), /NOT ACKNOWLEDGED/);
});
test("nothing of all this made the browser complain", () => browser.noComplaints());

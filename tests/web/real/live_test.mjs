// Numbers follow the simulated air; when the daemon is gone or hangs, none of them looks current.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { viewAddresses } from "../browser.mjs";
import { endDaemon, goTo, openPage, order, room, signal, site, startDaemon, until } from "./site.mjs";

const card = "growth-chamber-1";
let browser, page;
before(async () => {
  browser = await openPage("#/rooms", { allowed: () => true }); // requests fail here while the daemon is away
  page = browser.page;
  await current();
});
after(async () => {
  await browser?.close();
  await endDaemon();
});

const current = () =>
  page.waitForFunction(
    () => document.querySelectorAll(".card .number").length > 2 && !document.querySelector(".old, .banner-old"),
    null,
    { timeout: 30000 },
  );
/** Within 5 s of `from` the banner says so and no number is without its stroke. */
async function oldSince(from, what) {
  await page.waitForFunction(
    () =>
      document.querySelector(".banner-old") &&
      document.querySelectorAll("s.number.old").length > 2 &&
      !document.querySelector("span.number"),
    null,
    { timeout: 5000 },
  );
  const took = Date.now() - from;
  assert.ok(took <= 5000, `${what}: ${took} ms`);
  console.log(`${what}: ${took} ms until no number looked current`);
  assert.match(await page.title(), /^NOT CURRENT/);
}
/** Every view says it, those too that the person comes to only now. */
async function saidInEveryView() {
  for (const address of Object.values(viewAddresses)) {
    await goTo(page, address);
    await page.waitForFunction(() => /^\s*NOT CURRENT since/.test(document.querySelector(".banner-old")?.innerText));
    assert.equal(await page.locator("span.number").count(), 0, address);
  }
  await goTo(page, "#/rooms");
}

test("a gas that changes in the simulator is followed by the number of its room, without loading the page again", async () => {
  await page.evaluate(() => (window.notLoadedAgain = true));
  const shown = async () =>
    parseFloat(await page.locator(".card", { hasText: card }).locator(".number").first().innerText());
  const told = async () => (await room(card)).dry_fraction * 100;
  assert.ok(Math.abs((await shown()) - 20.95) < 0.3, `${await shown()}`);
  await order(`gas ${card}/cell 20.0`); // dry, where the daemon takes it for the room's moist air: it reads 20.3 %
  await until("the daemon to read it", async () => (await told()) < 20.5, 60000); // a few polls, and the cell's delay
  const from = Date.now();
  await until("the number to follow", async () => (await shown()) < 20.5, 5000);
  console.log(`${Date.now() - from} ms from the daemon's value to the number that shows it`);
  await until("the daemon's own number", async () => Math.abs((await shown()) - (await told())) < 0.02);
  assert.equal(await page.evaluate(() => window.notLoadedAgain), true);
  browser.noComplaints();
});

test("a daemon that hangs: old within five seconds, in every view, and current again by itself", async () => {
  signal("SIGSTOP");
  try {
    await oldSince(Date.now(), "frozen");
    await saidInEveryView();
  } finally {
    signal("SIGCONT");
  }
  await current();
  assert.equal(await page.locator(".banner-note", { hasText: "started again" }).count(), 0);
});

test("a daemon that is killed: old within five seconds, and current again when another runs", async () => {
  signal("SIGKILL");
  await oldSince(Date.now(), "killed");
  await saidInEveryView();
  await until("the port to be closed", async () => !(await fetch(`${site.url}/healthz`).catch(() => null)));
  await startDaemon();
  await current();
  await page.waitForFunction(() => /Oxherd was started again/.test(document.querySelector("#banner").innerText));
  assert.equal(await page.evaluate(() => window.notLoadedAgain), true);
});

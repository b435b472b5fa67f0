// What people do with a real alarm: by mouse, by keyboard alone, or not at all because they may only look.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { settled, viewAddresses } from "../browser.mjs";
import { alarm, bannerSays, goTo, journal, mainSays, openPage, order, oxherd, signIn, site, until } from "./site.mjs";

const room = "cryo-annexe";
const refusals = [];
let browser, page;
before(async () => {
  browser = await openPage("#/rooms", { allowed: (response) => refusals.push(response?.status()) });
  page = browser.page;
  await settled(page);
});
after(() => browser?.close());

const inState = (name, which, state) =>
  until(`${name}/${which} to be ${state}`, async () => (await alarm(name, which)).state === state);
const signedOut = () => page.locator("#tools").getByRole("button", { name: "Sign in" }).waitFor();

test("a leak in the simulator is seen in every view", async () => {
  assert.match(await page.innerText("main"), /none asks for a person/);
  await order(`ventilation ${room} 0`);
  await order(`leak ${room} 600`);
  await inState(room, "low-oxygen", "unacknowledged");
  for (const [view, address] of Object.entries(viewAddresses)) {
    await goTo(page, address);
    const words = ["rooms", "alarms"].includes(view) ? "main" : "#banner";
    await page.waitForFunction(
      (where) =>
        /cryo-annexe[\s\S]*NOT ACKNOWLEDGED|LOW OXYGEN[\s\S]*cryo-annexe/.test(document.querySelector(where).innerText),
      words,
    );
    assert.match(await page.title(), /^\(\d+\) /, view);
  }
});

test("acknowledging by mouse asks who it is, refuses a wrong password, and the journal has the name", async () => {
  await goTo(page, "#/alarms");
  await page.getByRole("button", { name: "Acknowledge low oxygen of cryo-annexe", exact: true }).click();
  await page.locator("#sign-in-name").fill("R. Okafor");
  await page.locator("#sign-in-password").fill("not the password");
  await page.locator("#sign-in-password").press("Enter");
  await page.waitForFunction(() => /password/.test(document.querySelector("dialog .trouble:not([hidden])")?.innerText));
  assert.notEqual((await alarm(room, "low-oxygen")).state, "acknowledged");
  await page.locator("#sign-in-password").fill(site.password);
  await page.locator("#sign-in-password").press("Enter");
  await bannerSays(page, /Acknowledge: low oxygen, cryo-annexe\. Done and recorded/);
  await inState(room, "low-oxygen", "acknowledged");
  const line = (await journal()).filter((one) => one.event === "acknowledge" && one.alarm === "low-oxygen").at(-1);
  assert.equal(line.author, "R. Okafor");
});

test("whoever signs out is asked again, and the daemon has forgotten them", async () => {
  await page.getByRole("button", { name: "Sign out R. Okafor (operator)" }).click();
  await signedOut();
  assert.equal((await page.evaluate(() => fetch("/api/session").then((one) => one.json()))).user, null);
  await order(`leak ${room} 0`);
  await order(`ventilation ${room} 60`);
});

/** Presses Tab until the element that has the focus is called so. */
async function tabTo(words) {
  for (let i = 0; i < 80; ++i) {
    await page.keyboard.press("Tab");
    const name = await page.evaluate(
      () => document.activeElement.getAttribute("aria-label") ?? document.activeElement.textContent,
    );
    if (words.test(name)) return;
  }
  assert.fail(`Tab does not come to ${words}`);
}

test("by keyboard alone: from signing in to a test alarm that is acknowledged", async () => {
  await page.goto(`${site.url}/#/alarms`);
  await page.reload();
  await settled(page);
  await tabTo(/^Sign in$/);
  await page.keyboard.press("Enter");
  await page.waitForSelector("dialog[open]");
  await page.keyboard.type("mira");
  await page.keyboard.press("Tab");
  await page.keyboard.type(site.password);
  await page.keyboard.press("Enter");
  await page.getByRole("button", { name: "Sign out mira (engineer)" }).waitFor();
  await oxherd("test-alarm", "growth-chamber-1/low-oxygen", "--by", "A. Lindqvist", "--for", "5 min");
  await inState("growth-chamber-1", "low-oxygen", "unacknowledged");
  await page.getByRole("button", { name: "Acknowledge low oxygen of growth-chamber-1" }).waitFor();
  await tabTo(/^Acknowledge low oxygen of growth-chamber-1/);
  await page.keyboard.press("Enter");
  await bannerSays(page, /Acknowledge: low oxygen, growth-chamber-1\. Done and recorded/);
  const line = (await journal()).filter((one) => one.event === "acknowledge").at(-1);
  assert.deepEqual([line.room, line.author], ["growth-chamber-1", "mira"]);
  await tabTo(/^Sign out mira/);
  await page.keyboard.press("Enter");
  await signedOut();
});

test("a viewer may look, is offered no act, and is told why when one is tried", async () => {
  refusals.length = 0;
  await signIn(page, "otis");
  await page.getByRole("button", { name: "Sign out otis (viewer)" }).waitFor();
  await goTo(page, "#/alarms");
  assert.equal(await page.locator("main [data-do=act]").count(), 0);
  await goTo(page, `#/room/${room}`);
  await mainSays(page, /A viewer may look only/);
  assert.deepEqual(refusals, []);
  await goTo(page, `#/calibration/${room}/cell-a`);
  await page.getByRole("button", { name: "Begin" }).click();
  await bannerSays(page, /otis is viewer: this needs the role operator/);
  assert.ok(refusals.includes(403));
});

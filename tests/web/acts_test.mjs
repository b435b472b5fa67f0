// What a person does, by keyboard alone where that is said.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, settled } from "./browser.mjs";
import { startStandIn } from "./stand_in.mjs";

let standIn, browser, page;
before(async () => {
  standIn = await startStandIn();
  browser = await openBrowser();
  page = await browser.page(`${standIn.url}/#/alarms`);
  await settled(page);
  standIn.raiseLowOxygen();
});
after(async () => {
  await browser?.close();
  await standIn?.stop();
});
const open = async (address) => {
  await page.goto(`${standIn.url}/${address}`);
  await settled(page);
};
const posts = (path) => standIn.asked.filter((one) => one.method === "POST" && one.path.includes(path));

/** Presses Tab until the element that has the focus matches. */
async function tabTo(matches, what) {
  for (let i = 0; i < 80; ++i) {
    await page.keyboard.press("Tab");
    const text = await page.evaluate(
      () => `${document.activeElement.getAttribute("aria-label") ?? ""} ${document.activeElement.textContent}`,
    );
    if (matches.test(text)) return;
  }
  assert.fail(`Tab does not come to ${what}`);
}

test("the skip link is the first stop of the keyboard and leads to the content", async () => {
  await page.evaluate(() => document.activeElement.blur());
  await page.keyboard.press("Tab");
  assert.match(await page.evaluate(() => document.activeElement.textContent), /Skip to the content/);
  await page.keyboard.press("Enter");
  assert.equal(await page.evaluate(() => document.activeElement.id), "main");
  assert.match(page.url(), /#\/alarms$/);
});
test("acknowledging by keyboard alone asks who it is, and then does it", async () => {
  await tabTo(/^Acknowledge low oxygen of cryo-annexe/, "Acknowledge");
  await page.keyboard.press("Enter");
  await page.waitForSelector("dialog[open]");
  await page.keyboard.type("mira");
  await page.keyboard.press("Tab");
  await page.keyboard.type("wrong");
  await page.keyboard.press("Enter");
  await page.waitForSelector("dialog .trouble:not([hidden])");
  assert.match(await page.innerText("dialog .trouble"), /The name or the password is wrong/);
  await page.locator("#sign-in-password").press("Control+a");
  await page.keyboard.type("larkfield-1");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() =>
    /Acknowledge: low oxygen, cryo-annexe\. Done and recorded/.test(document.querySelector("#banner").innerText),
  );
  assert.equal(standIn.alarm("cryo-annexe", "low-oxygen").state, "acknowledged");
  assert.match(await page.innerText("#tools"), /Sign out mira \(engineer\)/);
});
test("the page counts what asks for a person in its title, and no longer what is acknowledged", async () => {
  await page.waitForFunction(() => document.title.startsWith("Alarms"));
  standIn.setAlarm("cryo-annexe", "low-oxygen", { state: "latched_acknowledged", present: false, text: "over" });
  await page.waitForFunction(() => document.title.startsWith("(1) "));
});
test("focus stays where it is while live data come in", async () => {
  await tabTo(/^Reset low oxygen of cryo-annexe/, "Reset");
  standIn.setRoom("cryo-annexe", { dry_fraction: 0.2081 });
  standIn.setAlarm("pear-store-2", "high-oxygen", { state: "unacknowledged", present: true, text: "oxygen is high" });
  await page.waitForFunction(() => document.querySelectorAll(".alarm-list li.tone-medium").length === 1);
  assert.match(await page.evaluate(() => document.activeElement.getAttribute("aria-label")), /^Reset low oxygen/);
  await page.keyboard.press("Enter");
  await page.waitForFunction(
    () => !/Reset low oxygen/.test([...document.querySelectorAll("[aria-label]")].map((one) => one.ariaLabel).join()),
  );
  assert.equal(standIn.alarm("cryo-annexe", "low-oxygen").state, "normal");
});
test("a safety alarm is not offered for shelving, a process alarm is", async () => {
  standIn.raiseLowOxygen();
  await page.waitForSelector(".alarm-list li.tone-critical");
  const buttons = (name) =>
    page.locator(".alarm-list li", { hasText: name }).first().getByRole("button").allInnerTexts();
  assert.deepEqual(
    (await buttons("low oxygen")).filter((one) => /Shelve/.test(one)),
    [],
  );
  assert.ok((await buttons("high oxygen")).includes("Shelve"));
  const item = (name) => page.locator(".alarm-list li", { hasText: name }).first();
  assert.match(await item("low oxygen").innerText(), /A safety alarm cannot be shelved\./);
  assert.doesNotMatch(await item("high oxygen").innerText(), /cannot be shelved/);
});
test("shelving asks for a reason and a time, and refuses without the reason", async () => {
  await page.getByRole("button", { name: "Shelve high oxygen of pear-store-2" }).click();
  await page.waitForSelector("dialog[open]");
  await page.locator("dialog").getByRole("button", { name: "Shelve", exact: true }).click();
  assert.match(await page.innerText("dialog .trouble"), /Reason: say why/);
  assert.equal(posts("/shelve").length, 0);
  assert.deepEqual(
    await page.locator("#act-duration option").allInnerTexts(),
    ["15 min", "60 min", "2 h"],
    "the settings of this alarm permit two hours",
  );
  assert.match(await page.innerText("dialog"), /permit 2 h at most/);
  await page.locator("#act-comment").fill("flushing with fresh air");
  await page.locator("#act-duration").selectOption("900");
  await page.keyboard.press("Tab");
  await page.locator("dialog").getByRole("button", { name: "Shelve", exact: true }).click();
  await page.waitForFunction(() =>
    /1 alarm shelved or out of service/.test(document.querySelector("#banner").innerText),
  );
  assert.deepEqual(posts("/shelve").at(-1).body, { comment: "flushing with fresh air", duration_s: 900 });
  assert.match(await page.innerText("main"), /by mira: flushing with fresh air/);
});
test("Escape leaves a question without doing anything", async () => {
  await page.getByRole("button", { name: "Out of service low oxygen of cryo-annexe" }).click();
  await page.waitForSelector("dialog[open]");
  await page.keyboard.press("Escape");
  await page.waitForSelector("dialog:not([open])", { state: "attached" });
  assert.equal(posts("/remove_from_service").length, 0);
});
test("what the daemon refuses is told in its own words", async () => {
  const act = standIn.act;
  standIn.act = () => ({
    status: 409,
    type: "application/problem+json",
    body: { status: 409, title: "Refused", detail: "the condition is still present" },
  });
  await page.getByRole("button", { name: "Silence low oxygen of cryo-annexe" }).click();
  await page.waitForFunction(() => /the condition is still present/.test(document.querySelector("#banner").innerText));
  standIn.act = act;
});
test("an act that could not be recorded says so", async () => {
  const act = standIn.act;
  standIn.act = function (...given) {
    const answer = act.apply(this, given);
    answer.body.recorded = false;
    return answer;
  };
  await page.getByRole("button", { name: "Silence low oxygen of cryo-annexe" }).click();
  await page.waitForFunction(() => /could not be recorded/.test(document.querySelector("#banner").innerText));
  standIn.act = act;
});
test("the use of a room is changed with a reason, and sealing with a word that it was seen empty", async () => {
  await open("#/room/pear-store-2");
  await page.getByRole("button", { name: "Change the use of the room" }).click();
  await page.locator("#regime").selectOption("sealed-low-oxygen");
  await page.locator("#regime-comment").fill("harvest is in");
  await page.getByLabel(/I have seen that the room is empty/).check();
  await page.getByRole("button", { name: "Record", exact: true }).click();
  await page.waitForFunction(() =>
    /The regime of pear-store-2 was recorded/.test(document.querySelector("#banner").innerText),
  );
  assert.deepEqual(posts("/regime").at(-1).body, {
    regime: "sealed-low-oxygen",
    comment: "harvest is in",
    seen_empty: true,
  });
});
test("a calibration is walked through: the signal settles, the point is taken, judged and recorded", async () => {
  await open("#/calibration/cryo-annexe/cell-a");
  await page.getByRole("button", { name: "Begin" }).click();
  await page.waitForFunction(() => /NOT LEVEL YET/.test(document.querySelector("main").innerText));
  assert.equal(await page.getByRole("button", { name: "Take the point" }).isDisabled(), true);
  assert.match(await page.innerText("main"), /still falls 0\.42 %\/min/);
  await page.waitForSelector("#stability canvas");
  await page.waitForFunction(() => /LEVEL: the point may be taken/.test(document.querySelector("main").innerText));
  await page.getByRole("button", { name: "Take the point" }).click();
  await page.getByRole("button", { name: "Judge what was taken" }).click();
  await page.waitForFunction(() => /reads 0\.4 % higher/.test(document.querySelector("main").innerText));
  await page.getByRole("button", { name: "Record", exact: true }).click();
  await page.waitForFunction(() => /or give a reason/.test(document.querySelector("#banner").innerText));
  await page.locator("#reason").fill("the neighbours are due themselves");
  await page.getByRole("button", { name: "Record", exact: true }).click();
  await page.waitForFunction(() => /Record 4 was made/.test(document.querySelector("main").innerText));
  assert.deepEqual(
    posts("/calibrate")
      .map((one) => one.body.step)
      .filter((step) => step !== "look"),
    ["begin", "take", "finish", "finish", "finish"],
  );
});
test("a calibration may be cancelled, and says that nothing was recorded", async () => {
  await open("#/calibration/cryo-annexe/cell-b");
  await page.getByRole("button", { name: "Begin" }).click();
  await page.getByRole("button", { name: "Cancel the calibration" }).click();
  await page.waitForFunction(() => /nothing was recorded/.test(document.querySelector("#banner").innerText));
});
test("a record is withdrawn with a reason, and stays on record", async () => {
  await page.getByRole("button", { name: "Withdraw record 3" }).click();
  await page.locator("#reason-asked").fill("the dewar stood open");
  await page.locator("dialog").getByRole("button", { name: "Withdraw" }).click();
  await page.waitForFunction(() => /withdrawn by 9/.test(document.querySelector("main").innerText));
  assert.deepEqual(posts("/calibrate").at(-1).body, { step: "withdraw", number: 3, reason: "the dewar stood open" });
});
test("an acknowledgement takes a comment by one key more, and Enter ends it", async () => {
  await open("#/alarms");
  standIn.raiseLowOxygen();
  const button = page.getByRole("button", { name: "Acknowledge low oxygen of cryo-annexe" });
  await button.focus();
  await page.keyboard.press("c");
  await page.waitForSelector("dialog[open]");
  assert.equal(await page.evaluate(() => document.activeElement.id), "act-comment");
  await page.keyboard.type("seen at the door, nobody inside");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => /Acknowledge: low oxygen.*Done/.test(document.querySelector("#banner").innerText));
  assert.deepEqual(posts("/acknowledge").at(-1).body, { comment: "seen at the door, nobody inside" });
});
test("after an act that takes its button away, the keyboard goes on at the same alarm", async () => {
  const at = await page.evaluate(() => document.activeElement.getAttribute("aria-label"));
  assert.match(at, /low oxygen of cryo-annexe$/);
});
test("a reset takes a comment by its own button, which may stay empty; Escape leaves both undone", async () => {
  standIn.setAlarm("cryo-annexe", "low-oxygen", { state: "latched_acknowledged", present: false, text: "over" });
  const commented = page.getByRole("button", { name: "with a comment: resetting low oxygen of cryo-annexe" });
  await commented.press("Enter");
  await page.waitForSelector("dialog[open]");
  await page.keyboard.press("Escape");
  await page.waitForSelector("dialog:not([open])", { state: "attached" });
  assert.match(
    await page.evaluate(() => document.activeElement.getAttribute("aria-label")),
    /resetting low oxygen/,
    "focus returns to what opened it",
  );
  const before = posts("/reset").length;
  await page.keyboard.press("Enter");
  await page.locator("#act-comment").press("Enter");
  await page.waitForFunction(() => /Reset: low oxygen.*Done/.test(document.querySelector("#banner").innerText));
  assert.equal(posts("/reset").length, before + 1);
  assert.deepEqual(posts("/reset").at(-1).body, { comment: "" });
});
test("a test is given a time, longer than the delay of the alarm", async () => {
  await page.getByText("Normal: ").first().click();
  await page.getByRole("button", { name: "Test low oxygen of cryo-annexe", exact: true }).click();
  await page.locator("#act-duration").selectOption("60");
  await page.locator("dialog").getByRole("button", { name: "Test", exact: true }).click();
  await page.waitForFunction(() => /Test: low oxygen.*Done/.test(document.querySelector("#banner").innerText));
  assert.deepEqual(posts("/test").at(-1).body, { comment: "", duration_s: 60 });
});
test("a dialog keeps the keyboard inside", async () => {
  await page.getByRole("button", { name: "Out of service low oxygen of cryo-annexe" }).click();
  await page.waitForSelector("dialog[open]");
  for (let i = 0; i < 12; ++i) {
    await page.keyboard.press("Tab");
    const outside = await page.evaluate(
      () => document.activeElement !== document.body && !document.activeElement.closest("dialog"),
    );
    assert.equal(outside, false, `after ${i + 1} times Tab`);
  }
  await page.keyboard.press("Escape");
});
test("an output is proved: begun, watched, answered with a comment, and its record names who said it", async () => {
  await open("#/health");
  const row = page.locator("table.rows tr", { hasText: "site-horn" });
  assert.match(await row.innerText(), /NEVER PROVED/);
  await page.getByRole("button", { name: "Prove it: site-horn" }).press("Enter");
  await page.locator("#proof-time").selectOption("20");
  await page.getByRole("button", { name: "Begin the test" }).press("Enter");
  await page.waitForFunction(() => /it sounds for 20 s/.test(document.querySelector("#banner").innerText));
  assert.deepEqual(posts("/proof").at(-1).body, { step: "begin", duration_s: 20 });
  assert.match(await row.innerText(), /PROOF TEST by mira: it sounds\. Go and look/);
  assert.equal(await row.getByRole("button").count(), 0, "nobody can have seen it to its end");
  standIn.endDriving("site-horn");
  await page.waitForFunction(() => /site-horn: did it warn\?/.test(document.querySelector("#banner").innerText));
  await page.getByRole("button", { name: "Yes, it did: site-horn" }).click();
  await page.locator("#proof-comment").fill("heard at both doors");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => /worked by the word of mira/.test(document.querySelector("#banner").innerText));
  assert.deepEqual(posts("/proof").at(-1).body, { step: "worked", comment: "heard at both doors" });
  assert.match(await row.innerText(), /it worked .*by the word of mira[\s\S]*due \d{4}-/);
  assert.doesNotMatch(await page.innerText("#banner"), /did it warn/);
});
test("an output that was not seen to warn is recorded as failed, and the room's own view says so", async () => {
  await open("#/room/growth-chamber-1");
  const item = page.locator(".outputs li", { hasText: "chamber-beacon" });
  assert.match(await item.innerText(), /proof overdue[\s\S]*due since/);
  await item.getByRole("button", { name: "Prove it" }).click();
  await page.getByRole("button", { name: "Begin the test" }).click();
  await page.waitForFunction(() => /its relay drops/.test(document.querySelector(".outputs").innerText));
  standIn.endDriving("chamber-beacon");
  await item.getByRole("button", { name: "No, it did not" }).click();
  await page.getByRole("button", { name: "It failed" }).click();
  await page.waitForFunction(() => /FAILED ITS PROOF/.test(document.querySelector(".outputs").innerText));
  assert.match(await item.innerText(), /IT FAILED .*by the word of mira[\s\S]*it last worked/);
});
test("signing out ends it: the next act asks again", async () => {
  await page.getByRole("button", { name: /Sign out/ }).click();
  await page.waitForFunction(() => /Sign in/.test(document.querySelector("#tools").innerText));
  await open("#/alarms");
  standIn.raiseLowOxygen();
  await page.getByRole("button", { name: "Acknowledge low oxygen of cryo-annexe" }).click();
  await page.waitForSelector("dialog[open] #sign-in-name");
  await page.keyboard.press("Escape");
});
test("where no user was made yet, the page says how to make one", async () => {
  standIn.users = false;
  await open("#/journal");
  await page.reload();
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.waitForFunction(() =>
    /sudo oxherd user NAME --role engineer/.test(document.querySelector("dialog").innerText),
  );
  await page.keyboard.press("Escape");
  standIn.users = true;
});
test("where only people who are signed in may look, no room is shown before", async () => {
  standIn.mayView = false;
  await page.goto(`${standIn.url}/#/rooms`);
  await page.reload();
  await page.waitForSelector("dialog[open] #sign-in-name");
  assert.equal(await page.locator(".card").count(), 0);
  await page.locator("#sign-in-name").fill("otis");
  await page.locator("#sign-in-password").fill("larkfield-2");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => document.querySelectorAll(".card").length === 4);
  browser.noComplaints();
});

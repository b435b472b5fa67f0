// What acts on the air of a room, and what a person orders it to do.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { after, before, test } from "node:test";
import { clock, openBrowser, settled } from "./browser.mjs";
import { nitrogenTripped, ventsByHand } from "./larkfield_control.mjs";
import { startStandIn } from "./stand_in.mjs";

const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
let standIn, browser, page;
before(async () => {
  standIn = await startStandIn();
  browser = await openBrowser();
  page = await browser.page(standIn.url);
});
after(async () => {
  await browser?.close();
  await standIn?.stop();
});

const open = async (address) => {
  await page.goto(`${standIn.url}/${address}`);
  await settled(page);
};
const item = (name) => page.locator(".actuators > li", { has: page.getByRole("heading", { name, exact: true }) });
const textOf = async (locator) => (await locator.innerText()).replaceAll(/\s+/g, " ");
const says = (name, words) =>
  page.waitForFunction(
    ([name, words]) => {
      const one = [...document.querySelectorAll(".actuators > li")].find((it) => it.innerText.startsWith(name));
      return new RegExp(words).test(one?.innerText.replaceAll(/\s+/g, " "));
    },
    [name, words.source],
  );
const bannerSays = (words) =>
  page.waitForFunction((words) => new RegExp(words).test(document.querySelector("#banner").innerText), words.source);
const press = (name) => page.getByRole("button", { name, exact: true }).click();
const posts = () => standIn.asked.filter((one) => one.method === "POST" && one.path.endsWith("/order"));
async function signIn(name, password) {
  await page.waitForSelector("dialog[open] #sign-in-name");
  await page.locator("#sign-in-name").fill(name);
  await page.locator("#sign-in-password").fill(password);
  await page.keyboard.press("Enter");
}
const dialogButton = (name) => page.locator("dialog").getByRole("button", { name, exact: true });

test("a room in which nothing is controlled has no such part", async () => {
  await open("#/room/cryo-annexe");
  assert.equal(await page.getByRole("heading", { name: "Control", exact: true }).count(), 0);
});
test("a loop tells its value, set-point and demand, and where its program stands and what comes next", async () => {
  await open("#/room/growth-chamber-1");
  const text = await textOf(item("chamber-heater"));
  assert.match(text, /^chamber-heater heating 42 % its loop decides: temperature is 22\.9 °C/);
  assert.match(text, /temperature 22\.9 °C set-point 23\.4 °C demand 42 %/);
  assert.match(text, /program is followed; on the way to 24\.0 °C; next 18\.0 °C from /);
  const bar = await item("chamber-heater").locator(".demand-part").boundingBox();
  const all = await item("chamber-heater").locator(".demand-all").boundingBox();
  assert.ok(Math.abs(bar.width / all.width - 0.42) < 0.02, `${bar.width} of ${all.width}`);
});
test("what works as it should is grey: no mark stands beside it", async () => {
  for (const [room, name] of [
    ["growth-chamber-1", "chamber-heater"],
    ["pear-store-2", "pear-nitrogen"],
    ["pear-store-2", "pear-scrubber"],
    ["bay-3", "bay-vents"],
  ]) {
    await open(`#/room/${room}`);
    assert.equal(await item(name).locator(".mark").count(), 0, name);
  }
});
test("a purge tells who started it and why, and its forecast", async () => {
  await open("#/room/pear-store-2");
  assert.match(
    await textOf(item("pear-nitrogen")),
    /nitrogen purge on .*started by R\. Okafor .* ago\): pull-down after loading oxygen falls as forecast/,
  );
});
test("what is blocked lists every condition in words, without colour", async () => {
  await open("#/room/bay-3");
  assert.match(
    await textOf(item("bay-dosing")),
    /off BLOCKED by an interlock an interlock decides What stands in its way: bay-vents airs the room the lights are off/,
  );
  const classes = await item("bay-dosing")
    .locator(".mark")
    .evaluateAll((all) => all.map((one) => one.className));
  assert.deepEqual(classes, ["mark tone-said"]);
});
test("a loop without a value says why, and that its actuator has fallen back", async () => {
  standIn.setActuator("bay-vents", { decided_by: "safe-state", because: "temperature is not known", fraction: 1 });
  const { loop } = standIn.room("bay-3").control[0];
  Object.assign(loop, { value: null, trouble: "bay-3/air: no reply for 6 s" });
  standIn.tellRoom("bay-3");
  await says("bay-vents", /on FALLEN BACK to on its loop cannot measure: temperature is not known/);
  await says("bay-vents", /temperature no value bay-3\/air: no reply for 6 s set-point 26\.0 °C/);
  Object.assign(loop, { value: 24.3, trouble: "" });
  standIn.setActuator("bay-vents", { decided_by: "loop", because: "", fraction: 0 });
});
test("the part says that it replaces no hard-wired interlock, and never that a room may be entered", async () => {
  const text = await textOf(page.locator("section.panel", { hasText: "hard-wired" }));
  assert.match(text, /It replaces no hard-wired interlock, no relief valve and no certified shut-off/);
  assert.match(text, /does not mean that its air may be breathed/);
  assert.doesNotMatch(await page.innerText("main"), /\bsafe\b/i);
  assert.ok(await page.locator("#caution").isVisible());
});

test("holding by hand asks who it is, why and for how long, and tells until when", async () => {
  await press("Work by hand: bay-vents");
  await signIn("mira", "larkfield-1");
  await page.waitForSelector("dialog[open] #order-comment");
  assert.match(await page.innerText("dialog"), /No interlock is passed/);
  assert.match(await page.innerText("dialog"), /Supplementary monitor\. Do not use it/);
  await dialogButton("Work by hand").click();
  assert.match(await page.innerText("dialog .trouble"), /Reason: say why/);
  assert.equal(posts().length, 0);
  assert.deepEqual(await page.locator("#order-fraction option").allInnerTexts(), ["off", "on"]);
  assert.equal((await page.locator("#order-time option").allInnerTexts()).at(-1), "8 h");
  await page.locator("#order-time").selectOption("600");
  await page.locator("#order-comment").fill("heat after cleaning");
  await dialogButton("Work by hand").click();
  await bannerSays(/Work by hand: bay-vents\. Done and recorded/);
  assert.equal(posts().at(-1).path, "/api/outputs/bay-vents/order");
  assert.deepEqual(posts().at(-1).body, {
    act: "hold",
    comment: "heat after cleaning",
    duration_s: 600,
    fraction: 1,
  });
  await says("bay-vents", new RegExp(`on BY HAND by hand until ${clock} .* by the word of mira: heat after cleaning`));
  assert.doesNotMatch(await textOf(item("bay-vents")), /a person decides/, "it was said by whom");
  const focused = await page.evaluate(() => document.activeElement.getAttribute("data-output"));
  assert.equal(focused, "bay-vents", "the keyboard goes on where it was");
});
test("the list of all rooms says what is worked by hand, until when", async () => {
  await open("#/rooms");
  const card = page.locator(".card", { hasText: "bay-3" });
  assert.match(await textOf(card), new RegExp(`bay-vents BY HAND until ${clock}`));
  assert.match(await card.getAttribute("class"), /tone-watch/);
});
test("giving it back needs no reason, and Enter is enough", async () => {
  await open("#/room/bay-3");
  await page.getByRole("button", { name: "Give back: bay-vents" }).press("Enter");
  await page.waitForSelector("dialog[open] #order-comment");
  await page.locator("#order-comment").press("Enter");
  await bannerSays(/Give back: bay-vents\. Done/);
  assert.deepEqual(posts().at(-1).body, { act: "automatic", comment: "" });
  assert.equal(await item("bay-vents").locator(".mark").count(), 0);
});
test("a device of many positions is held at percents, and what is none is not sent", async () => {
  await open("#/room/growth-chamber-1");
  await press("Work by hand: chamber-heater");
  await page.locator("#order-comment").fill("drying the floor");
  await page.locator("#order-fraction").fill("120");
  await dialogButton("Work by hand").click();
  await page.waitForFunction(() => /"120" is no percent/.test(document.querySelector("dialog .trouble").textContent));
  const before = posts().length;
  await page.locator("#order-fraction").fill("35 %");
  await dialogButton("Work by hand").click();
  await bannerSays(/Work by hand: chamber-heater\. Done/);
  assert.equal(posts().length, before + 1);
  assert.equal(posts().at(-1).body.fraction, 0.35);
});
test("a program is held and goes on by the name of its loop", async () => {
  await press("Hold the set-point: loop heat of growth-chamber-1");
  await page.waitForSelector("dialog[open] #order-time");
  await dialogButton("Hold the set-point").click();
  await says("chamber-heater", /program held by a person/);
  assert.equal(posts().at(-1).path, "/api/rooms/growth-chamber-1/loops/heat/order");
  assert.deepEqual(posts().at(-1).body, { act: "program-hold", comment: "" });
  await press("Go on with the program: loop heat of growth-chamber-1");
  await dialogButton("Go on with the program").click();
  await says("chamber-heater", /program is followed/);
});

test("what tripped says so in word and shape, since when, what did it, and that a person must release it", async () => {
  standIn.setActuator("pear-nitrogen", nitrogenTripped());
  await open("#/room/pear-store-2");
  const text = await textOf(item("pear-nitrogen"));
  assert.match(text, /off STOPPED: waits for a person stopped .* ago\): the door is open\. It stays so until a person/);
  assert.match(text, /What stands in its way: the door is open nobody has started it/);
  assert.equal(await item("pear-nitrogen").locator(".mark.tone-high svg").count(), 1);
  assert.equal(
    await item("pear-nitrogen")
      .getByRole("button", { name: /^Start/ })
      .count(),
    0,
  );
  await open("#/rooms");
  assert.match(
    await textOf(page.locator(".card", { hasText: "pear-store-2" })),
    /pear-nitrogen STOPPED: waits for a person/,
  );
});
test("a release that the daemon refuses is told in its own words, and the question stays", async () => {
  await open("#/room/pear-store-2");
  await press("Release: pear-nitrogen");
  await page.waitForSelector("dialog[open] #order-comment");
  assert.match(
    await textOf(page.locator("dialog")),
    /nothing starts by that\. .* It will be refused while this stands in its way: the door is open What was found/,
  );
  await page.locator("#order-comment").fill("the seal was mended");
  await dialogButton("Release").click();
  await page.waitForFunction(() =>
    /what tripped it, or something else, still stands: the door is open/.test(
      document.querySelector("dialog .trouble").innerText,
    ),
  );
  assert.equal(await page.locator("#order-comment").inputValue(), "the seal was mended");
  await page.keyboard.press("Escape");
  assert.ok(standIn.room("pear-store-2").control[0].tripped);
});
test("once its cause is gone it is released, and only then it may be started anew", async () => {
  const { blocked_by } = standIn.room("pear-store-2").control[0];
  standIn.setActuator("pear-nitrogen", { blocked_by: blocked_by.filter((one) => one.condition !== "door-closed") });
  await page.waitForFunction(() => !/the door is open nobody/.test(document.querySelector(".actuators").innerText));
  await press("Release: pear-nitrogen");
  await page.locator("#order-comment").fill("the seal was mended");
  await dialogButton("Release").click();
  await bannerSays(/Release: pear-nitrogen\. Done/);
  await press("Start: pear-nitrogen");
  assert.match(await page.innerText("dialog"), /Nobody may be in the room/);
  await page.locator("#order-comment").fill("pull-down again");
  await dialogButton("Start").click();
  await says("pear-nitrogen", /started by mira/);
});
test("an order that could not be recorded says so", async () => {
  const api = standIn.api;
  standIn.api = function (request, url, body) {
    const answer = api.call(this, request, url, body);
    if (url.pathname.endsWith("/order")) answer.body.recorded = false;
    return answer;
  };
  await press("End: pear-nitrogen");
  await dialogButton("End").click();
  await bannerSays(/could not be recorded/);
  standIn.api = api;
});

test("an operator is told what an engineer does, and has no button for it", async () => {
  await page.getByRole("button", { name: /Sign out/ }).click();
  await page.getByRole("button", { name: "Sign in", exact: true }).click();
  await signIn("otis", "larkfield-2");
  await says("pear-scrubber", /For an engineer: start/);
  assert.equal(await page.getByRole("button", { name: /^Start:/ }).count(), 0);
  assert.ok(await page.getByRole("button", { name: "Work by hand: pear-scrubber" }).isVisible());
});
test("a viewer sees what is done and has no button", async () => {
  await page.getByRole("button", { name: /Sign out/ }).click();
  await page.getByRole("button", { name: "Sign in", exact: true }).click();
  await signIn("historian", "larkfield-3");
  await page.waitForFunction(() => !document.querySelector(".actuators button"));
  for (const room of ["pear-store-2", "bay-3", "growth-chamber-1"]) {
    await open(`#/room/${room}`);
    assert.ok((await page.locator(".actuators > li").count()) > 0);
    assert.equal(await page.locator(".actuators button").count(), 0, room);
  }
});

for (const colorScheme of ["light", "dark"])
  test(`everything out of normal at once has nothing that WCAG 2.2 AA forbids, ${colorScheme}`, async () => {
    await page.getByRole("button", { name: /Sign/ }).click();
    standIn.setActuator("bay-dosing", { ...nitrogenTripped(), loop: null });
    standIn.setActuator("bay-vents", { ...ventsByHand(), decided_by: "interlock", because: "a safety alarm stands" });
    await page.emulateMedia({ colorScheme, reducedMotion: "reduce" });
    await open("#/room/bay-3");
    await page.waitForSelector(".actuators .tripped");
    await page.keyboard.press("Escape");
    await page.evaluate(`${axeSource};undefined`); // by the debugger, which the policy does not bind
    const { violations } = await page.evaluate(() =>
      axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }),
    );
    assert.deepEqual(
      violations.map((one) => `${one.id}: ${one.nodes.map((node) => node.target.join(" "))}`),
      [],
    );
  });
test("nothing of it scrolls sideways on a small screen", async () => {
  await page.setViewportSize({ width: 320, height: 740 });
  for (const room of ["pear-store-2", "bay-3", "growth-chamber-1"]) {
    await open(`#/room/${room}`);
    const cut = await page.evaluate(() =>
      [...document.querySelectorAll(".actuators *")]
        .filter((one) => one.getBoundingClientRect().right > innerWidth + 1)
        .map((one) => `${one.tagName}.${one.className}`),
    );
    assert.deepEqual(cut, [], room);
  }
  await page.setViewportSize({ width: 1280, height: 800 });
});
test("once the connection is lost its numbers are struck through, and nothing can be ordered", async () => {
  await page.emulateMedia({ colorScheme: "light", reducedMotion: null });
  await open("#/room/growth-chamber-1");
  assert.ok((await page.locator(".actuators button:enabled").count()) > 0);
  standIn.goAway();
  await page.waitForSelector(".banner-old");
  await page.waitForFunction(() => {
    const numbers = [...document.querySelectorAll(".actuators .number")];
    return numbers.length > 4 && numbers.every((one) => one.matches("s.old"));
  });
  assert.equal(await page.locator(".actuators .demand-part").count(), 0, "no bar is drawn of an old demand");
  assert.equal(await page.locator(".actuators button:enabled").count(), 0);
  browser.noComplaints();
});

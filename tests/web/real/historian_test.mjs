// The page of the historian with the records of two sites: complete, without a complaint of the browser, and without
// anything that only the daemon of a site can answer. tests/system/test_historian_page.py starts it.
import assert from "node:assert/strict";
import { mkdir } from "node:fs/promises";
import { after, before, test } from "node:test";
import { axeSource, sizes, picture, violationsOf } from "./judge.mjs";
import { settled, viewAddresses } from "../browser.mjs";
import { bannerSays, endDaemon, goTo, mainSays, openPage, signal, signIn, site, startDaemon, until } from "./site.mjs";

const larkfield = encodeURIComponent("larkfield/cryo-annexe");
const otherfield = encodeURIComponent("otherfield/annexe");
const views = {
  rooms: ["#/rooms", /larkfield\/cryo-annexe[\s\S]*otherfield|otherfield\/annexe[\s\S]*larkfield\/cryo-annexe/],
  "room-larkfield": [
    `#/room/${larkfield}`,
    /cell-a[\s\S]*oxygen 20\.\d+\s*%[\s\S]*Its outputs are shown at the site's own daemon/i,
  ],
  "room-otherfield": [
    `#/room/${otherfield}`,
    /acknowledge and reset at the page of the site's own daemon[\s\S]*low oxygen/i,
  ],
  "room-sealed": [`#/room/${encodeURIComponent("larkfield/pear-store-2")}`, /WITHHELD/],
  alarms: ["#/alarms", /1 alarm asks[\s\S]*at the page of the site's own daemon[\s\S]*otherfield\/annexe/],
  "history-larkfield": [
    `#/history?room=${larkfield}&sensor=cell-a`,
    /Oxygen, dry basis, larkfield\/cryo-annexe\/cell-a[\s\S]*20\.\d+[\s\S]*CSV/,
  ],
  "history-otherfield": [
    `#/history?room=${otherfield}&sensor=cell`,
    /Oxygen, dry basis, otherfield\/annexe\/cell[\s\S]*15\.\d+/,
  ],
  journal: ["#/journal", /otherfield\/annexe[\s\S]*low oxygen/i],
  health: ["#/health", /larkfield[\s\S]*otherfield[\s\S]*samples stored/],
  report: [
    "#/report",
    /Shift report, all sites[\s\S]*What is due of cells and outputs is told by the site's own daemon/,
  ],
};
const ofDaemons = ["explain", "calibration", "calibration-walk", "certificate", "worksheet"];
let browser, page;
before(async () => {
  await mkdir(site.pictures, { recursive: true });
  browser = await openPage("#/rooms", { viewport: sizes.desk });
  page = browser.page;
  await page.emulateMedia({ reducedMotion: "reduce" });
  await current();
  await page.evaluate(`${axeSource};undefined`); // by the debugger, which the policy does not bind
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

test("every view that the navigation offers is looked at here, and none that asks a daemon is offered", async () => {
  const offered = await page.locator("#nav a").evaluateAll((links) => links.map((link) => link.hash));
  const known = Object.values(views).map(([address]) => address.split("?")[0]);
  assert.ok(offered.length >= 6, offered.join());
  assert.deepEqual(
    offered.filter((address) => !known.includes(address)),
    [],
  );
});

async function looksRight(name, address, words) {
  await goTo(page, address);
  await settled(page);
  await mainSays(page, words);
  const text = await page.innerText("main");
  assert.doesNotMatch(text, /undefined|NaN|\[object|\bsafe\b|NOBODY IS TOLD|None is set up/i);
  assert.match(await page.innerText("#caution"), /Supplementary monitor/);
  assert.equal(await page.locator("main").locator("[data-act], [data-order], [data-do=regime]").count(), 0);
  for (const [size, viewport] of Object.entries(sizes)) {
    await page.setViewportSize(viewport);
    await page.waitForFunction(() => document.documentElement.scrollWidth <= document.documentElement.clientWidth);
    assert.ok(await page.locator("#caution").isVisible(), size);
    assert.deepEqual(await violationsOf(page), [], size);
    await picture(page, `historian-${name}-${size}.png`, viewport);
  }
  await page.setViewportSize(sizes.desk);
  browser.noComplaints();
}

for (const [name, [address, words]] of Object.entries(views))
  test(`${name}: shows both sites' records, orders nothing, and has nothing that WCAG 2.2 AA forbids`, () =>
    looksRight(name, address, words));

for (const view of ofDaemons)
  test(`${view}: says where to ask, and asks nothing itself`, async () => {
    const asked = [];
    const listen = (request) => asked.push(new URL(request.url()).pathname);
    page.on("request", listen);
    await looksRight(view, viewAddresses[view], /Ask for this at the page of the site's own daemon/);
    page.off("request", listen);
    assert.deepEqual(
      asked.filter((path) => !/^\/api\/(site|session|stream)$/.test(path)),
      [],
    );
    await page.reload(); // a page that begins with it
    await mainSays(page, /Ask for this at the page of the site's own daemon/);
    await page.evaluate(`${axeSource};undefined`);
    browser.noComplaints();
  });

test("the curve of a day holds what was recorded of each site", async () => {
  for (const [room, sensor, from, to] of [
    [larkfield, "cell-a", 20.5, 21.2],
    [otherfield, "cell", 14.9, 20.4],
  ]) {
    const waits = page.waitForResponse((response) => new URL(response.url()).pathname === "/api/trend");
    await goTo(page, "#/rooms");
    await goTo(page, `#/history?room=${room}&sensor=${sensor}`);
    const trend = await (await waits).json();
    const percent = trend.mean.filter((one) => one !== null).map((one) => one * 100);
    assert.ok(percent.length > 100, `${percent.length} points of ${room}`);
    assert.ok(
      percent.every((one) => one > from && one < to),
      `${room}: ${Math.min(...percent)} to ${Math.max(...percent)}`,
    );
    await page.waitForFunction(() => document.querySelector("#history-trend canvas")?.width > 200);
  }
  browser.noComplaints();
});

test("what was recorded can be taken away as files", async () => {
  await goTo(page, `#/history?room=${otherfield}&sensor=cell`);
  await page.waitForSelector("main a[download]");
  const links = await page.locator("main a[download]").evaluateAll((all) => all.map((one) => one.href));
  assert.equal(links.length, 4);
  for (const link of links) {
    const answer = await fetch(link);
    assert.equal(answer.status, 200, link);
    assert.match(await answer.text(), /otherfield\/annexe/, link);
  }
});

test("whoever has signed in is offered no more", async () => {
  await goTo(page, "#/alarms");
  await signIn(page, "mira");
  await page.locator("#tools", { hasText: "Sign out mira (engineer)" }).waitFor();
  await goTo(page, "#/alarms");
  await mainSays(page, /1 alarm asks/);
  assert.equal(await page.locator("main [data-act]").count(), 0);
  browser.noComplaints();
});

test("a historian that is killed: nothing looks current in any view, and it is current again when another runs", async () => {
  await goTo(page, "#/rooms");
  await current();
  signal("SIGKILL");
  await page.waitForFunction(
    () => document.querySelector(".banner-old") && !document.querySelector("span.number"),
    null,
    { timeout: 5000 },
  );
  assert.match(await page.title(), /^NOT CURRENT/);
  await bannerSays(page, /NOT CURRENT since[\s\S]*Treat the air of every room as unknown/);
  await picture(page, "historian-lost-desk.png", sizes.desk);
  for (const [address] of Object.values(views)) {
    await goTo(page, address);
    await bannerSays(page, /NOT CURRENT since/);
    assert.equal(await page.locator("span.number").count(), 0, address);
    assert.ok(await page.locator("#caution").isVisible());
  }
  browser.complaints.splice(0); // requests fail while it is away
  await until("the port to be closed", async () => !(await fetch(`${site.url}/healthz`).catch(() => null)));
  await startDaemon();
  await goTo(page, "#/rooms");
  await current();
  await bannerSays(page, /Oxherd was started again/);
  assert.doesNotMatch(await page.innerText("#banner"), /their states were kept/);
});

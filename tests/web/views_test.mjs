// Each view, drawn from the stand-in in a real browser under the daemon's content security policy.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { after, before, test } from "node:test";
import { openBrowser, settled, viewAddresses } from "./browser.mjs";
import { showTroubles, startStandIn } from "./stand_in.mjs";

const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
let standIn, browser, page;
before(async () => {
  standIn = await startStandIn();
  browser = await openBrowser();
  page = await browser.page(standIn.url);
  showTroubles(standIn);
});
after(async () => {
  await browser?.close();
  await standIn?.stop();
});

async function open(view) {
  await page.goto(`${standIn.url}/${viewAddresses[view]}`);
  await settled(page);
}

const says = {
  rooms: /1 room asks for a person: cryo-annexe/,
  room: /Do not go in to help someone/,
  "sealed-room": /deadly by intent/,
  alarms: /1 alarm asks for a person/,
  history: /Oxygen, dry basis, cryo-annexe\/cell-a/,
  journal: /inspected, dewar valve closed/,
  explain: /every digit agrees/,
  calibration: /check is due/,
  "calibration-walk": /Begin/,
  certificate: /Calibration certificate 000003/,
  worksheet: /Type values with their units/,
  health: /NEVER PROVED/,
  report: /Shift report, larkfield/,
};
for (const view of Object.keys(viewAddresses))
  test(`${view}: is drawn with the caution and without a complaint of the browser`, async () => {
    await open(view);
    await page.reload(); // so that the page begins with this view
    await settled(page);
    await page.waitForFunction(
      (words) => new RegExp(words).test(document.querySelector("main").innerText),
      says[view].source,
    );
    await page.waitForFunction(() =>
      /^\s*Supplementary monitor\. Do not use it to decide that a room is safe\. Test the air/.test(
        document.querySelector("#caution").innerText,
      ),
    );
    const text = await page.innerText("main");
    assert.doesNotMatch(text, /\bsafe\b/i, "the page never calls anything so");
    assert.doesNotMatch(text, /undefined|NaN|\[object/);
    browser.noComplaints();
  });

for (const colorScheme of ["light", "dark"])
  for (const view of Object.keys(viewAddresses))
    test(`${view}: has nothing that WCAG 2.2 AA forbids, ${colorScheme}`, async () => {
      await page.emulateMedia({ colorScheme, reducedMotion: "reduce" });
      await open(view);
      await page.evaluate(`${axeSource};undefined`); // by the debugger, which the policy does not bind
      const { violations } = await page.evaluate(() =>
        axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }),
      );
      assert.deepEqual(
        violations.map(
          (one) =>
            `${one.id}: ${one.nodes.map((node) => node.target.join(" ")).slice(0, 3)}: ${one.nodes[0].failureSummary}`,
        ),
        [],
      );
    });

for (const width of [320, 360])
  test(`nothing scrolls sideways or is cut off at ${width} px`, async () => {
    await page.setViewportSize({ width, height: 740 });
    for (const view of Object.keys(viewAddresses)) {
      await open(view);
      const over = await page.evaluate(
        () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
      );
      assert.equal(over, 0, view);
      const cut = await page.evaluate(() =>
        [...document.querySelectorAll("body *")]
          .filter(
            (one) =>
              !one.closest(".unseen-text, .skip, thead, select, svg, .plot, #stability") &&
              one.getBoundingClientRect().right > innerWidth + 1,
          )
          .map((one) => `${one.tagName}.${one.className}: ${one.textContent.slice(0, 40)}`),
      );
      assert.deepEqual(cut, [], view);
    }
    await page.setViewportSize({ width: 1280, height: 800 });
  });

test("the value of a room that is not monitored is its reason, and no number", async () => {
  await open("rooms");
  const card = page.locator(".card", { hasText: "growth-chamber-1" });
  assert.match(await card.innerText(), /NOT MONITORED\s+cell: no reply for 6 s/);
  assert.doesNotMatch(await card.innerText(), /20\.95/);
});
test("a sensor with bad data shows no number of it", async () => {
  await page.goto(`${standIn.url}/#/room/growth-chamber-1`);
  await settled(page);
  const row = page.locator("table.rows tr", { hasText: "no reply for 6 s" });
  assert.match(await row.innerText(), /no valid value of oxygen/);
  assert.doesNotMatch(await row.innerText(), /20\.95/);
});
test("who stands at the door reads why the room is used so, by whom, since when, and what withholds its lock", async () => {
  await open("sealed-room");
  const text = (await page.innerText("main")).replaceAll(/\s+/g, " ");
  assert.match(text, /since .* ago\) by the word of R\. Okafor: harvest is in, seen empty/);
  assert.match(text, /WITHHELD, because oxygen 2\.01 % is less than 20\.50 % the room is sealed at low oxygen/);
  assert.match(text, /fresh air has not been shown; it must be for 15 min/);
  assert.match(text, /not in force now: low oxygen/);
  assert.match(text, /door closed/);
});
test("a regime that no person has stated is told as the settings file's", async () => {
  await open("room");
  assert.match(await page.innerText("main"), /occupied\s+since [^\n]* as the settings file says/);
});
test("a lock that does not withhold is no leave to enter, and a room whose seal is broken says that somebody may be in", async () => {
  const { entry_lock } = standIn.room("pear-store-2");
  standIn.setRoom("pear-store-2", {
    seal_broken: true,
    entry_lock: { withheld: false, reasons: [], fresh_for_s: 1000, hold_s: 900 },
  });
  await open("sealed-room");
  await page.waitForFunction(() => /no leave to enter/.test(document.querySelector("main").innerText));
  const text = await page.innerText("main");
  assert.match(text, /somebody may be in/);
  assert.doesNotMatch(text, /WITHHELD/);
  standIn.setRoom("pear-store-2", { seal_broken: false, entry_lock });
});
test("a room that is not monitored says why, since when, and that its air is unknown", async () => {
  await page.goto(`${standIn.url}/#/room/growth-chamber-1`);
  await settled(page);
  const text = (await page.innerText("main")).replaceAll(/\s+/g, " ");
  assert.match(text, /NOT MONITORED cell: no reply for 6 s Not monitored since .* ago\)\. Treat its air as unknown/);
});
test("the quality of a sensor is told by what its number is good for", async () => {
  await page.goto(`${standIn.url}/#/room/growth-chamber-1`);
  await settled(page);
  assert.match(
    await page.locator("tr", { hasText: "no reply" }).innerText(),
    /bad: it counts for nothing[\s\S]*failure/,
  );
  assert.match(await page.locator("tr", { hasText: "co2" }).first().innerText(), /\bgood\b/);
});
test("uncertain data say why, in words", async () => {
  await page.goto(`${standIn.url}/#/room/pear-store-2`);
  await settled(page);
  assert.match(await page.innerText("main"), /maintenance required[\s\S]*check is due since/);
});
test("a link to the tests of an output goes back far enough, and tells what the device confirmed", async () => {
  standIn.journal.push({
    ...standIn.journal[0],
    sequence: 99,
    alarm: "output/site-horn",
    event: "proof-test-worked",
    from: "normal",
    to: "normal",
    author: "mira",
    value: null,
    text: "PROOF TEST of site-horn: worked by the word of mira; the device confirmed the warning and confirmed its end.",
  });
  await open("health");
  await page.getByRole("link", { name: "tests of site-horn" }).click();
  await page.waitForFunction(() => /confirmed its end/.test(document.querySelector("main").innerText));
  const { query } = standIn.asked.findLast((one) => one.path === "/api/history/alarms");
  assert.equal(query.alarm, "output/site-horn");
  assert.ok(Date.parse(query.to) - Date.parse(query.from) > 700 * 86400e3, `${query.from} to ${query.to}`);
});
test("a disk that is short of room is told with what happens to the records", async () => {
  const { ofTheSite } = standIn;
  const short = {
    writing: true,
    trouble: "",
    waiting: 0,
    dropped: 0,
    bytes: 3.21e9,
    free_share: 0.031,
    shortened: true,
  };
  standIn.ofTheSite = { ...ofTheSite, store: short };
  await open("health");
  await page.waitForFunction(() => /3 % of the disk free/.test(document.querySelector("main").innerText));
  assert.match(await page.innerText("main"), /DISK SHORT OF ROOM: the oldest measurements are deleted/);
  standIn.ofTheSite = ofTheSite;
});
test("a Sparkplug edge node is shown where there is one, with what it was asked in vain", async () => {
  const { ofTheSite } = standIn;
  await open("health");
  await settled(page);
  assert.doesNotMatch(await page.innerText("main"), /Sparkplug/i);
  const lost = { configured: true, connected: false, trouble: "no route", births: 4, commands_ignored: 2 };
  standIn.ofTheSite = { ...ofTheSite, sparkplug: lost };
  await page.reload();
  await page.waitForFunction(() => /NOT CONNECTED: no route/.test(document.querySelector("main").innerText));
  assert.match(
    await page.innerText("main"),
    /Sparkplug[\s\S]*told anew 4 times[\s\S]*2 commands came that are not obeyed/i,
  );
  standIn.ofTheSite = ofTheSite;
});
test("before the rooms are told, no view says that no alarm asks for a person", async () => {
  const { rooms } = standIn;
  standIn.rooms = [];
  for (const view of ["rooms", "alarms", "report"]) {
    await page.goto(`${standIn.url}/${viewAddresses[view]}`);
    await page.reload();
    await page.waitForFunction(() => /Waiting for the rooms/.test(document.querySelector("main").innerText));
    assert.doesNotMatch(await page.innerText("main"), /asks? for a person/);
  }
  standIn.rooms = rooms;
});
test("older lines of the journal come behind those that are shown, until there are none", async () => {
  const newest = Math.max(...standIn.journal.map((one) => one.sequence));
  for (let i = 1; i <= 700; ++i)
    standIn.journal.push({ ...standIn.journal[0], sequence: newest + i, comment: `line ${newest + i}` });
  await open("journal");
  await page.reload(); // it stood there already
  const linesAre = (wanted) =>
    page.waitForFunction((n) => document.querySelectorAll("main tbody tr").length === n, wanted);
  await linesAre(500);
  await page.getByRole("button", { name: "Older lines" }).click();
  await linesAre(standIn.journal.length);
  const shown = await page.locator("main tbody tr").first().innerText();
  assert.match(shown, new RegExp(`line ${newest + 700}`), "the newest stays first");
  assert.equal(await page.getByRole("button", { name: "Older lines" }).count(), 0);
});
test("the journal tells who was made a user and who signed in", async () => {
  standIn.journal.push({
    ...standIn.journal[0],
    sequence: 9001,
    room: "",
    alarm: "user/mira",
    event: "user-made",
    from: "normal",
    to: "normal",
    author: "R. Okafor",
    value: null,
    comment: "",
    text: "mira is made, operator",
  });
  await open("journal");
  await page.reload(); // it stood there already
  await settled(page);
  assert.match(
    await page.locator("main tbody tr").first().innerText(),
    /user\/mira[\s\S]*mira is made, operator[\s\S]*R\. Okafor/,
  );
});
test("a certificate that ends soon is told, with what to do", async () => {
  const soon = new Date(Date.now() + 5 * 86400e3).toISOString();
  const address = "https://annexe.larkfield.example:8120";
  standIn.ofTheSite = { http: { address, certificate_until: soon, connections: 1, streams: 1 } };
  await open("health");
  await page.waitForFunction(() => /annexe.larkfield.example/.test(document.querySelector("main").innerText));
  assert.match(await page.innerText("main"), /CERTIFICATE ENDS SOON[\s\S]*renew its files/);
});
test("zooming asks the daemon for the curve anew", async () => {
  await open("history");
  await page.waitForSelector("#history-trend canvas");
  const trends = () => standIn.asked.filter((one) => one.path === "/api/trend");
  const first = trends().at(-1).query;
  const answered = page.waitForResponse((response) => response.url().includes("/api/trend"));
  const canvas = await page.locator(".u-over").boundingBox();
  await page.mouse.move(canvas.x + canvas.width * 0.25, canvas.y + 40);
  await page.mouse.down();
  await page.mouse.move(canvas.x + canvas.width * 0.5, canvas.y + 60, { steps: 5 });
  await page.mouse.up();
  await answered;
  const second = trends().at(-1).query;
  const width = (query) => Date.parse(query.to) - Date.parse(query.from);
  assert.ok(Math.abs(width(second) / width(first) - 0.25) < 0.02, `${width(second)} of ${width(first)}`);
  assert.equal(second.points, first.points);
});
test("the range may be chosen without a mouse, and the files are those of the range", async () => {
  await open("history");
  const answered = page.waitForResponse(
    (response) =>
      response.url().includes("/api/trend") &&
      Date.parse(new URL(response.url()).searchParams.get("to")) -
        Date.parse(new URL(response.url()).searchParams.get("from")) >
        300 * 86400e3,
  );
  await page.getByRole("button", { name: "1 year", exact: true }).press("Enter");
  await answered;
  const link = await page.getByRole("link", { name: /readings of cell-a, CSV/ }).getAttribute("href");
  const query = new URL(link, standIn.url).searchParams;
  assert.equal(query.get("format"), "csv");
  assert.ok(Date.parse(query.get("to")) - Date.parse(query.get("from")) > 300 * 86400e3);
});
test("the shift report prints without what is only for the screen", async () => {
  await open("report");
  await page.emulateMedia({ media: "print" });
  assert.equal(await page.locator("nav").isVisible(), false);
  assert.equal(await page.getByRole("button", { name: "Print" }).isVisible(), false);
  assert.equal(await page.locator("#caution").isVisible(), true);
  assert.equal(await page.locator(".signatures").isVisible(), true);
  for (const title of ["Standing", "Not monitored", "Shelved", "Out of service", "Due"])
    assert.equal(await page.getByRole("heading", { name: title, exact: true }).isVisible(), true, title);
  await page.emulateMedia({ media: "screen" });
});

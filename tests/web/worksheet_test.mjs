// Values typed in by hand: which are asked for, by what name they are sent, what is said when one is missing.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import * as data from "../../daemon/web/page/worksheet_data.js";
import { openBrowser, settled, viewAddresses } from "./browser.mjs";
import { startStandIn } from "./stand_in.mjs";
import { explainNames } from "./stand_in_contract.mjs";

let standIn, browser, page;
before(async () => {
  standIn = await startStandIn();
  browser = await openBrowser();
  page = await browser.page(`${standIn.url}/${viewAddresses.worksheet}`);
  await settled(page);
});
after(async () => {
  await browser?.close();
  await standIn?.stop();
});
const workOut = () => page.getByRole("button", { name: "Work it out" }).click();
const fill = async (values) => {
  for (const [name, text] of Object.entries(values)) await page.locator(`[id="${name}"]`).fill(text);
};

test("every name of the worksheet is one that `oxherd explain` knows", async () => {
  const known = await explainNames();
  assert.ok(known.has("cal-low-oxygen") && known.has("u-zero") && known.has("cal-age"), [...known].join(" "));
  assert.deepEqual(
    data.everyName().filter((name) => !known.has(name)),
    [],
  );
});
test("every value that `oxherd explain` knows can be typed into the worksheet", async () => {
  const mine = new Set(data.everyName());
  const ofRecords = ["room", "sensor", "at"];
  assert.deepEqual(
    [...(await explainNames())].filter((name) => !mine.has(name) && !ofRecords.includes(name)),
    [],
  );
});
test("a missing value is told by the label of its field", () => {
  assert.deepEqual(data.problemLines("--cal-signal is missing: such as --cal-signal 12.6mV; --u-zero: not a number"), [
    "\u201cSignal at calibration\u201d is missing: such as \u201cSignal at calibration\u201d 12.6mV",
    "\u201cu of Zero signal\u201d: not a number",
  ]);
});
test("what is not asked for any more is not sent, though it was typed", () => {
  const given = { cell: "concentration", pressure: "99 kPa", elevation: "640 m", "how-pressure": "elevation" };
  assert.deepEqual(data.valuesOf(given, { ...data.firstChoice, pressure: "elevation" }), {
    cell: "concentration",
    elevation: "640 m",
  });
});
test("a worksheet that lacks a value says which, and one that has all is worked out", async () => {
  await workOut();
  await page.waitForSelector("main .trouble");
  assert.match(await page.innerText("main .trouble"), /\u201cSignal\u201d is missing: signal of the cell now/);
  await fill({ signal: "11.36 mV" });
  await workOut();
  await page.waitForFunction(() => document.querySelectorAll("main .trouble").length === 3);
  await fill({ temperature: "54 °F", humidity: "88 %", "u-humidity": "4 %", "cal-signal": "12.6 mV" });
  await workOut();
  await page.waitForSelector("svg.bar");
  assert.equal(await page.locator("#signal").inputValue(), "11.36 mV");
  assert.deepEqual(standIn.asked.at(-1).body, {
    cell: "concentration",
    signal: "11.36 mV",
    temperature: "54 °F",
    humidity: "88 %",
    "u-humidity": "4 %",
    "cal-signal": "12.6 mV",
  });
});
test("a pressure reduced to sea level is asked for together with the height", async () => {
  await fill({ pressure: "99.8 kPa" });
  await page.locator("#how-pressure").selectOption("sea-level");
  assert.equal(await page.locator("#pressure").count(), 0);
  await fill({ "sea-level-pressure": "1013 hPa", elevation: "640 m" });
  await workOut();
  await page.waitForFunction(() => document.querySelectorAll("main .trouble").length === 0);
  const { body } = standIn.asked.at(-1);
  assert.deepEqual([body["sea-level-pressure"], body.elevation, body.pressure], ["1013 hPa", "640 m", undefined]);
});
test("a calibration at two points asks for the low gas in place of the zero signal", async () => {
  await fill({ zero: "0.4 mV" });
  await page.locator("#how-low").selectOption("low-point");
  assert.equal(await page.locator("#zero").count(), 0);
  await fill({ "cal-low-signal": "0.6 mV", "cal-low-oxygen": "1 %" });
  await workOut();
  await page.waitForFunction(() => document.querySelectorAll("main .trouble").length === 0);
  const { body } = standIn.asked.at(-1);
  assert.deepEqual([body["cal-low-signal"], body["cal-low-oxygen"], body.zero], ["0.6 mV", "1 %", undefined]);
});
test("a zirconia cell asks for its own temperature and its reference air, other cells do not", async () => {
  assert.equal(await page.locator("#furnace").count(), 0);
  await page.locator("#cell").selectOption("nernst");
  assert.equal(await page.locator("#furnace, #reference-oxygen").count(), 2);
  browser.noComplaints();
});

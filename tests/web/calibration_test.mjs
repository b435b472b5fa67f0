// A calibration with what a person types in, and the records that come of it.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, settled } from "./browser.mjs";
import { startStandIn } from "./stand_in.mjs";

let standIn, browser, page;
before(async () => {
  standIn = await startStandIn();
  browser = await openBrowser();
  page = await browser.page(`${standIn.url}/#/rooms`);
  await settled(page);
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.locator("#sign-in-name").fill("mira");
  await page.locator("#sign-in-password").fill("larkfield-1");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => /Sign out mira/.test(document.querySelector("#tools").innerText));
});
after(async () => {
  await browser?.close();
  await standIn?.stop();
});
const open = async (address) => {
  await page.goto(`${standIn.url}/${address}`);
  await settled(page);
};
const says = (words) =>
  page.waitForFunction((source) => new RegExp(source).test(document.body.innerText), words.source);
const steps = (name) =>
  standIn.asked.filter((one) => one.path === "/api/calibrate" && one.body.step === name).map((one) => one.body);
const begin = async (cell) => {
  await open(`#/calibration/${cell}`);
  await page.getByRole("button", { name: "Begin" }).click();
  await page.waitForSelector("#gas");
};

test("what is asked of a gas depends on the gas, and what was typed stays with its label", async () => {
  await begin("cryo-annexe/cell-a");
  assert.equal(await page.locator("#oxygen, #cylinder, #certificate").count(), 0, "fresh air has no papers");
  await page.locator("#gas").selectOption("span-gas");
  await page.locator("#oxygen").fill("2.01 %");
  await page.locator("#cylinder").fill("CY-4471");
  await page.locator("#gas").selectOption("nitrogen");
  assert.equal(await page.locator("#oxygen").count(), 0);
  assert.equal(await page.locator("#cylinder").inputValue(), "CY-4471");
});
test("a condition is typed by hand where a probe is missing, and goes along with its uncertainty", async () => {
  await says(/LEVEL: the point may be taken/);
  await page.locator("#gas").selectOption("fresh-air");
  await page.getByText("Conditions typed by hand").click();
  assert.match(await page.innerText("main"), /temperature from air, humidity from air, pressure from air/);
  await page.locator("#pressure").fill("99.8");
  await page.getByRole("button", { name: "Take the point" }).click();
  await says(/Station pressure: "99\.8" has no unit/);
  assert.equal(steps("take").length, 0);
  await page.locator("#pressure").fill("99.8 kPa");
  await page.locator("#u_pressure").fill("0.05 kPa");
  await page.getByRole("button", { name: "Take the point" }).click();
  await says(/Taken so far: fresh air\./);
  const { gas, pressure, temperature } = steps("take").at(-1);
  assert.deepEqual({ gas, pressure, temperature }, { gas: "fresh-air", pressure: [99800, 50], temperature: undefined });
});
test("a point that was written down elsewhere is entered by hand, needs all of it, and is marked so", async () => {
  await page.locator("#how").selectOption("by-hand");
  await page.locator("#gas").selectOption("nitrogen");
  assert.equal(await page.locator("#humidity").count(), 0, "gas from a cylinder counts as dry");
  await page.locator("#signal").fill("0.41 mV");
  await page.locator("#temperature").fill("70 °F");
  await page.getByRole("button", { name: "Enter the point" }).click();
  await says(/Station pressure: missing/);
  await page.locator("#pressure").fill("998 hPa");
  await page.locator("#performed").fill("2026-03-01T08:00");
  await page.getByRole("button", { name: "Enter the point" }).click();
  await says(/Taken so far: fresh air; nitrogen, by hand\./);
  const entered = steps("enter").at(-1);
  assert.deepEqual(entered.signal, [0.41 / 1000, 0.02e-3]);
  assert.equal(entered.performed, "2026-03-01T07:00:00.000Z");
  await page.getByRole("button", { name: "Judge what was taken" }).click();
  await says(/Judged, not yet recorded/);
  const rows = page.locator("main table").first().locator("tbody tr");
  assert.match(await rows.nth(0).innerText(), /99\.80\skPa ± 0\.10\skPa.*typed by hand/);
  assert.doesNotMatch(await rows.nth(0).innerText(), /entered by hand/);
  assert.match(await rows.nth(1).innerText(), /entered by hand/);
});
test("a record may replace one that was wrong, with a reason, and both say so", async () => {
  await page.locator("#replaces").selectOption("3");
  await page.locator("#reason").fill("the barometer of record 3 stood off");
  await page.getByRole("button", { name: "Record", exact: true }).click();
  await says(/Record 4 was made/);
  assert.deepEqual(
    [steps("finish").at(-1).number, steps("finish").at(-1).reason],
    [3, "the barometer of record 3 stood off"],
  );
  await says(/superseded by 4/);
  await says(/replaces record 3/);
});
test("the certificate of the record says all that was measured, typed and entered", async () => {
  await page.getByRole("link", { name: "Its certificate" }).click();
  await says(/Calibration certificate 000004/);
  const text = (await page.innerText("main")).replaceAll(/\s+/g, " ");
  for (const words of [
    /serial number LK-0007/,
    /installed as cryo-annexe\/cell-a/,
    /site larkfield/,
    /performed by mira/,
    /no certified gas was used/,
    /no certificate was recorded: traceability is not shown/,
    /99\.80 kPa ± 0\.10 kPa typed by hand/,
    /entered by hand: not measured by Oxherd/,
    /before adjustment, as found/,
    /after adjustment, as left/,
    /20\.95 % ± 0\.10 %/,
    /sensitivity 1\.444 mV\/\(mol\/m³\)/,
    /coverage factor k = 2/,
    /It replaces record 3\./,
    /the barometer of record 3 stood off/,
  ])
    assert.match(text, words);
  assert.doesNotMatch(text, /Do not use\./);
});
test("the certificate of a record that was replaced says that it must not be used", async () => {
  await open("#/certificate/cryo-annexe/cell-a/3");
  await says(/SUPERSEDED by record 4\. Do not use\./);
});
test("a record that is not there is no blank certificate", async () => {
  await open("#/certificate/cryo-annexe/cell-a/77");
  await says(/There is no record 77 of cryo-annexe\/cell-a/);
  assert.equal(await page.getByRole("button", { name: "Print" }).count(), 0);
});
test("a record is withdrawn by an engineer alone: nobody else is offered it", async () => {
  await open("#/calibration/cryo-annexe/cell-b");
  await page.getByRole("button", { name: "Withdraw record 3" }).waitFor();
  await page.getByRole("button", { name: /Sign out/ }).click();
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.locator("#sign-in-name").fill("otis");
  await page.locator("#sign-in-password").fill("larkfield-2");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => /Sign out otis/.test(document.querySelector("#tools").innerText));
  assert.equal(await page.getByRole("button", { name: /Withdraw/ }).count(), 0);
  assert.equal(await page.getByRole("link", { name: "Certificate of record 3" }).count(), 1);
  browser.noComplaints();
});

// A cell is calibrated from the page, in gas that the simulator puts on it, up to the reading that rests on the record.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { settled } from "../browser.mjs";
import { bannerSays, goTo, mainSays, openPage, order, oxherd, room, signIn, until } from "./site.mjs";

let browser, page;
before(async () => {
  browser = await openPage("#/rooms", { allowed: (response) => response?.url().endsWith("/api/calibrate") });
  page = browser.page;
  await settled(page);
});
after(() => browser?.close());

const reading = async () =>
  (await room("cryo-annexe")).sensors.find((one) => one.sensor === "cell-a").last.dry_fraction * 100;
const drawn = () =>
  page.evaluate(() => {
    const canvas = document.querySelector("#stability canvas");
    if (!canvas) return 0;
    const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
    return data.filter((value, i) => i % 4 === 3 && value > 200).length;
  });
const records = async () => (await oxherd("calibrations", "cryo-annexe/cell-a")).records;
const samples = async () => Number(/(\d+) samples/.exec(await page.innerText("main"))?.[1] ?? 0);

test("from signing in to a reading that rests on the record", async () => {
  await until("a cell that reads wrong", async () => Math.abs((await reading()) - 20.95) > 0.4);
  await signIn(page, "R. Okafor");
  await page.getByRole("button", { name: "Sign out R. Okafor (operator)" }).waitFor();
  await goTo(page, "#/calibration/cryo-annexe/cell-a");
  await order("gas cryo-annexe/cell-a 20.946");
  await page.getByRole("button", { name: "Begin" }).click();
  await mainSays(page, /NOT LEVEL YET/);
  assert.equal(await page.getByRole("button", { name: "Take the point" }).isDisabled(), true);
  const inHand = async () => (await room("cryo-annexe")).sensors.find((one) => one.sensor === "cell-a");
  await until("the cell to count as in hand", async () => (await inHand()).status === "function_check");

  await until("the first samples in the plot", async () => (await samples()) > 3 && (await drawn()) > 100);
  const before = await samples();
  await until("more samples, live", async () => (await samples()) > before + 4);

  // The signal may cease to be level between the look and the click, and is refused then: as a person, again.
  const taken = page.getByRole("button", { name: "Judge what was taken" });
  await until(
    "the point to be taken",
    async () => {
      await mainSays(page, /LEVEL: the point may be taken/, 90000);
      await page
        .getByRole("button", { name: "Take the point" })
        .click({ timeout: 2000 })
        .catch(() => {});
      return taken.waitFor({ timeout: 3000 }).then(
        () => true,
        () => false,
      );
    },
    90000,
  );
  await taken.click();
  await mainSays(page, /Judged, not yet recorded/);
  assert.deepEqual(await records(), [], "nothing is on record before it is recorded");
  await page.locator("#reason").fill("the cell was set by hand");
  await page.getByRole("button", { name: "Record", exact: true }).click();
  await mainSays(page, /Record 1 was made/);
  await bannerSays(page, /The record is on the disk and in force/);

  const [{ record }] = await records();
  assert.deepEqual([record.number, record.serial, record.author], [1, "LK-0007", "R. Okafor"]);
  await order("no-gas cryo-annexe/cell-a");
  await until("the room to read right again", async () => Math.abs((await reading()) - 20.95) < 0.15);
  await goTo(page, "#/room/cryo-annexe");
  await mainSays(page, /cell-a[\s\S]*20\.9/);
  await until("a recorded reading that rests on it", async () => {
    await goTo(page, "#/rooms"); // so that the view asks anew: readings reach the disk a moment after they are live
    await goTo(page, "#/explain?room=cryo-annexe&sensor=cell-a");
    await settled(page);
    return /record 1/.test(await page.innerText("main"));
  });
  browser.noComplaints();
});

test("the certificate of that record is a sheet of its own, with who issues it", async () => {
  await goTo(page, "#/certificate/cryo-annexe/cell-a/1");
  await mainSays(page, /LK-0007[\s\S]*R\. Okafor/);
  const link = page.getByRole("link", { name: /with organisation/ });
  await page.goto(new URL(await link.getAttribute("href"), page.url()).href);
  assert.match(await page.innerText("body"), /Larkfield Plant Station[\s\S]*LK-0007/);
  assert.equal(await page.locator("script, link, img[src^=http]").count(), 0, "it loads nothing");
  const styled = await page.evaluate(() => getComputedStyle(document.querySelector("table")).borderCollapse);
  assert.equal(styled, "collapse", "its own policy lets its own styles in");
  browser.noComplaints();
});

// What comes out on paper: the sheets of a shift and of a calibration.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, settled, viewAddresses } from "./browser.mjs";
import { showTroubles, startStandIn } from "./stand_in.mjs";

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
async function open(view, medium = "print") {
  await page.emulateMedia({ media: "screen" });
  await page.goto(`${standIn.url}/${viewAddresses[view]}`);
  await settled(page);
  await page.emulateMedia({ media: medium });
}
const pagesOf = (pdf) => pdf.toString("latin1").match(/\/Type\s*\/Page[^s]/g)?.length ?? 0;
const seen = (selector) => page.locator(selector).filter({ visible: true }).count();

for (const view of ["report", "certificate"]) {
  test(`the ${view} is one sheet of A4`, async () => {
    await open(view, null);
    assert.equal(pagesOf(await page.pdf({ format: "A4", preferCSSPageSize: true })), 1);
  });
  test(`the ${view} prints without what is only for the screen, and with the caution`, async () => {
    await open(view);
    for (const selector of ["nav", "button", ".tools", "#menu-button", ".back", ".on-screen", ".banner", ".skip"])
      assert.equal(await seen(selector), 0, selector);
    for (const selector of ["h1", "#caution", ".signatures", "main table"]) assert.ok(await seen(selector), selector);
    const caution = await page.locator("#caution").boundingBox();
    const main = await page.locator("main").boundingBox();
    assert.ok(caution.y >= main.y + main.height - 1, "the caution covers nothing");
  });
}
test("a report that is not current says so on paper too", async () => {
  await open("report");
  standIn.goAway();
  await page.waitForSelector(".banner-old");
  assert.ok(await seen(".banner-old"));
  standIn.comeBack();
  await page.waitForSelector(".banner-old", { state: "detached" });
});
test("paper is white and its words are dark, whatever the colours of the screen are", async () => {
  await open("report", "screen");
  await page.evaluate(() => (document.documentElement.dataset.theme = "dark"));
  await page.emulateMedia({ media: "print", colorScheme: "dark" });
  const dark = ([r, g, b]) => r + g + b < 3 * 90;
  const colours = await page.evaluate(() => {
    const numbers = (colour) => colour.match(/[\d.]+/g).map(Number);
    const visible = [...document.querySelectorAll("main *, #caution *, #head *")].filter(
      (one) => one.checkVisibility() && one.textContent.trim() && !one.closest(".unseen-text"),
    );
    return {
      paper: numbers(getComputedStyle(document.body).backgroundColor),
      words: visible.map((one) => ({
        words: one.textContent.slice(0, 30),
        colour: numbers(getComputedStyle(one).color),
      })),
    };
  });
  assert.deepEqual(colours.paper, [255, 255, 255]);
  assert.deepEqual(
    colours.words.filter((one) => !dark(one.colour)),
    [],
  );
  await page.emulateMedia({ media: "screen", colorScheme: "light" });
});
test("a certificate is complete on paper: item, gas, conditions, results before and after, author, times", async () => {
  await open("certificate");
  const text = (await page.innerText("body")).replaceAll(/\s+/g, " ");
  for (const words of [
    "Calibration certificate 000003",
    "serial number LK-0007",
    "performed by R. Okafor",
    "recorded 20",
    "printed 20",
    "UTC",
    "oxygen of the dry gas",
    "20.946 % ± 0.012 %",
    "before adjustment, as found",
    "after adjustment, as left",
    "station pressure",
    "Authorised by",
    "Do not use it to decide",
  ])
    assert.ok(text.includes(words), words);
});
test("a long report goes on over its sheets without a row torn in two", async () => {
  const [room] = standIn.rooms;
  for (let i = 0; i < 60; ++i) {
    const name = `bay-${i + 10}`;
    standIn.rooms.push({ ...room, room: name, alarms: room.alarms.map((alarm) => ({ ...alarm, room: name })) });
    standIn.tellRoom(name);
  }
  await open("report", null);
  await page.waitForFunction(() => /bay-69/.test(document.querySelector("main").innerText));
  const pages = pagesOf(await page.pdf({ format: "A4", preferCSSPageSize: true }));
  assert.ok(pages >= 3 && pages <= 6, `${pages} pages`);
  await page.emulateMedia({ media: "print" });
  assert.equal(await page.evaluate(() => getComputedStyle(document.querySelector("tbody tr")).breakInside), "avoid");
  const cut = await page.evaluate(() => getComputedStyle(document.querySelector("main")).overflowY);
  assert.equal(cut, "visible", "nothing is left behind in a box that scrolls");
  browser.noComplaints();
});

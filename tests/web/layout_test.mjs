// Nothing covers anything, nothing is cut off: measured in every view and at every size of screen.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, settled, viewAddresses } from "./browser.mjs";
import { showTroubles, startStandIn } from "./stand_in.mjs";

const sizes = [
  [360, 740],
  [768, 1024],
  [1440, 900],
  [1920, 1080],
  [3840, 2160],
];
let standIn, browser, page;
before(async () => {
  standIn = await startStandIn();
  browser = await openBrowser({ reducedMotion: "reduce" });
  page = await browser.page(standIn.url);
  showTroubles(standIn);
});
after(async () => {
  await browser?.close();
  await standIn?.stop();
});

/** What is wrong with where things stand, in words; empty when nothing is. Runs in the page. */
function faults() {
  const out = [];
  const rect = (element) => element.getBoundingClientRect();
  const rows = ["head", "banner", "main", "caution"].map((id) => document.getElementById(id));
  rows.forEach((row, i) => {
    const { top, bottom, left, right } = rect(row);
    if (i > 0 && top < rect(rows[i - 1]).bottom - 0.5) out.push(`#${row.id} covers #${rows[i - 1].id}`);
    if (left < -0.5 || right > innerWidth + 0.5 || bottom > innerHeight + 0.5) out.push(`#${row.id} leaves the screen`);
    if (row.scrollWidth > row.clientWidth) out.push(`#${row.id} scrolls sideways`);
  });
  for (const row of [rows[0], rows[3]]) if (row.scrollHeight > row.clientHeight) out.push(`#${row.id} is cut off`);
  if (rect(rows[2]).height < 150) out.push(`#main has ${rect(rows[2]).height} px left`);

  const shown = (node) =>
    node.parentElement.checkVisibility() && !node.parentElement.closest(".unseen-text, .skip, svg");
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const lines = [];
  while (walker.nextNode()) {
    const node = walker.currentNode;
    if (!node.data.trim() || !shown(node) || node.parentElement.closest("option, script, noscript, thead")) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const { left, right, top, bottom } of range.getClientRects()) {
      const bearing = (bottom - top) * 0.25; // above and below the letters of a line there is air that lines may share
      if (right - left > 1) lines.push({ node, left, right, top: top + bearing, bottom: bottom - bearing });
    }
  }
  const named = ({ node }) => `"${node.data.trim().slice(0, 40)}"`;
  for (const line of lines) {
    const row = rows.find((one) => one.contains(line.node));
    if (row && (line.left < rect(row).left - 0.5 || line.right > rect(row).right + 0.5))
      out.push(`${named(line)} is cut off`);
    const box = line.node.parentElement.closest("button, .mark, .card, .panel, td, .banner, fieldset");
    if (box && line.right > rect(box).right + 0.5)
      out.push(`${named(line)} leaves its ${box.className || box.tagName}`);
  }
  lines.sort((a, b) => a.top - b.top);
  lines.forEach((a, i) => {
    for (const b of lines.slice(i + 1)) {
      if (b.top >= a.bottom - 1) break;
      const outside = (line) => rows.find((one) => one.contains(line.node)) !== rows[2];
      if (outside(a) !== outside(b)) continue; // what is scrolled away lies under nothing: the rows were measured above
      if (a.node !== b.node && a.left < b.right - 1 && b.left < a.right - 1)
        out.push(`${named(a)} and ${named(b)} overlap`);
    }
  });
  return out;
}
/** How far the end of the content can be brought above the caution. */
const hiddenAtTheEnd = () => {
  const main = document.querySelector("main");
  main.scrollTop = main.scrollHeight;
  const last = main.querySelector(":scope > :last-child").getBoundingClientRect().bottom;
  const under = last - document.querySelector("#caution").getBoundingClientRect().top;
  main.scrollTop = 0;
  return Math.max(0, under);
};

for (const view of Object.keys(viewAddresses))
  test(`${view}: nothing overlaps and nothing is cut off, from a phone to a wall`, async () => {
    await page.goto(`${standIn.url}/${viewAddresses[view]}`);
    await settled(page);
    for (const [width, height] of sizes) {
      await page.setViewportSize({ width, height });
      await page.evaluate(() => new Promise((resolve) => requestAnimationFrame(() => requestAnimationFrame(resolve))));
      assert.deepEqual(await page.evaluate(faults), [], `${width} x ${height}`);
      assert.equal(await page.evaluate(hiddenAtTheEnd), 0, `${width} x ${height}`);
    }
  });
test("many rooms with long names and long reasons overlap nowhere either", async () => {
  const [first] = standIn.rooms;
  for (let i = 0; i < 9; ++i) {
    const name = `controlled-atmosphere-store-of-the-northern-orchard-${i}`;
    const alarms = first.alarms.map((alarm) => ({ ...alarm, room: name, state: i % 2 ? "normal" : alarm.state }));
    const reason = "cell-of-the-upper-gangway: no reply for 6 s; air-of-the-upper-gangway: its sample is too old";
    standIn.rooms.push({ ...structuredClone(first), room: name, alarms, monitored: i % 3 !== 0, reason });
    standIn.tellRoom(name);
  }
  for (const address of ["#/rooms", "#/alarms", "#/report", `#/room/${standIn.rooms.at(-1).room}`]) {
    await page.goto(`${standIn.url}/${address}`);
    await settled(page);
    await page.waitForFunction(() => /northern-orchard-8/.test(document.querySelector("main").innerText));
    for (const [width, height] of sizes) {
      await page.setViewportSize({ width, height });
      await page.evaluate(() => new Promise((resolve) => requestAnimationFrame(() => requestAnimationFrame(resolve))));
      assert.deepEqual(await page.evaluate(faults), [], `${address}, ${width} x ${height}`);
    }
  }
});
test("a question fits on every screen, with its caution and its buttons", async () => {
  await page.goto(`${standIn.url}/#/alarms`);
  await settled(page);
  await page.getByRole("button", { name: "Sign in" }).click();
  for (const [width, height] of sizes) {
    await page.setViewportSize({ width, height });
    const box = await page.locator("dialog[open]").boundingBox();
    const inside = box.x >= 0 && box.y >= 0 && box.x + box.width <= width && box.y + box.height <= height;
    assert.ok(inside, `${width} x ${height}: ${JSON.stringify(box)}`);
    for (const part of ["dialog .hint", "dialog [type=submit]"]) assert.ok(await page.locator(part).isVisible(), part);
  }
  await page.keyboard.press("Escape");
});
test("far magnified, the page scrolls as a whole and the caution comes before the numbers", async () => {
  await page.setViewportSize({ width: 320, height: 256 });
  await page.goto(`${standIn.url}/#/rooms`);
  await settled(page);
  const [caution, main] = await page.evaluate(() =>
    ["caution", "main"].map((id) => document.getElementById(id).getBoundingClientRect().toJSON()),
  );
  assert.ok(caution.bottom <= main.top, `${caution.bottom} and ${main.top}`);
  assert.ok(main.height > 1000, "all of the content is there, and the page scrolls");
});
test("keys scroll the content while nothing has the focus", async () => {
  await page.setViewportSize({ width: 360, height: 740 });
  await page.goto(`${standIn.url}/#/alarms`);
  await page.reload();
  await settled(page);
  await page.keyboard.press("PageDown");
  await page.waitForFunction(() => document.querySelector("main").scrollTop > 100);
  await page.keyboard.press("Home");
  await page.waitForFunction(() => document.querySelector("main").scrollTop === 0);
});
test("whatever has the focus is outlined, and in sight", async () => {
  for (const [width, height] of sizes.slice(0, 3)) {
    await page.setViewportSize({ width, height });
    await page.goto(`${standIn.url}/#/alarms`);
    await page.reload();
    await settled(page);
    let stops = 0;
    for (; stops < 60; ++stops) {
      await page.keyboard.press("Tab");
      const seen = await page.evaluate(() => {
        const one = document.activeElement;
        if (one === document.body) return null;
        const box = one.getBoundingClientRect();
        const row = (one.closest("main, #head, #banner") ?? document.body).getBoundingClientRect();
        const style = getComputedStyle(one);
        return {
          what: one.ariaLabel ?? one.textContent,
          outlined: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
          inSight:
            box.top >= row.top - 1 && box.bottom <= row.bottom + 1 && box.left >= 0 && box.right <= innerWidth + 1,
        };
      });
      if (!seen) break;
      assert.ok(seen.outlined && seen.inSight, `${width} x ${height}, stop ${stops}: ${JSON.stringify(seen)}`);
    }
    assert.ok(stops > 10, `${stops} stops`);
  }
});
test("the notices of a lost connection leave room for what was last known", async () => {
  standIn.goAway();
  await page.waitForSelector(".banner-old");
  for (const [width, height] of sizes) {
    await page.setViewportSize({ width, height });
    assert.deepEqual(await page.evaluate(faults), [], `${width} x ${height}`);
  }
});

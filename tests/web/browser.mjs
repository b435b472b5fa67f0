// A browser of its own for each test file, with an empty profile, and pages that fail on any complaint of theirs.
import assert from "node:assert/strict";
import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";

const args = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];

// A time as the page writes it: with its date where that is not today's, which near midnight it need not be. UTC has a
// midnight of its own.
export const clock = String.raw`(?:\d{4}-\d\d-\d\d )?\d\d:\d\d:\d\d`;

export async function openBrowser(options = {}) {
  const profile = await mkdtemp(join(tmpdir(), "oxherd-page-"));
  const context = await chromium.launchPersistentContext(profile, {
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    headless: true,
    args,
    timezoneId: "Europe/Amsterdam",
    locale: "en-GB",
    ...options,
  });
  context.setDefaultTimeout(10000);
  const complaints = [];
  context.on("weberror", (error) => complaints.push(`page error: ${error.error()?.stack ?? error.error()}`));
  context.on("console", (message) => {
    if (message.type() === "error" && !expected(message)) complaints.push(`console: ${message.text()}`);
  });
  // The browser itself reports any answer that is not 2xx; what the page does about those is tested.
  const expected = (message) => /Failed to load resource|net::ERR|status of (401|404|409)/.test(message.text());
  return {
    context,
    complaints,
    async page(url, viewport = { width: 1280, height: 800 }) {
      const page = await context.newPage();
      await page.setViewportSize(viewport);
      await page.goto(url);
      return page;
    },
    noComplaints() {
      assert.deepEqual(complaints.splice(0), []);
    },
    async close() {
      await context.close();
      await rm(profile, { recursive: true, force: true });
    },
  };
}

export const viewAddresses = {
  rooms: "#/rooms",
  room: "#/room/cryo-annexe",
  "sealed-room": "#/room/pear-store-2",
  alarms: "#/alarms",
  history: "#/history?room=cryo-annexe&sensor=cell-a",
  journal: "#/journal",
  explain: "#/explain?room=cryo-annexe&sensor=cell-a",
  calibration: "#/calibration",
  "calibration-walk": "#/calibration/cryo-annexe/cell-a",
  certificate: "#/certificate/cryo-annexe/cell-a/3",
  worksheet: "#/worksheet",
  health: "#/health",
  report: "#/report",
};

/** Waits until the view shows what it has fetched. */
export async function settled(page) {
  await page.waitForFunction(() => {
    const main = document.querySelector("main");
    return main.querySelector("h1") && !/Fetching…|Waiting for/.test(main.innerText);
  });
}

// The real daemon and the simulated site, or the historian, that tests/system/test_*page.py has started, for the tests of one file.
import assert from "node:assert/strict";
import { execFile, spawn } from "node:child_process";
import { once } from "node:events";
import { readFile, writeFile } from "node:fs/promises";
import { promisify } from "node:util";
import { openBrowser } from "../browser.mjs";

/** url, orders, site_log, config, state, oxherd, daemon (its process id), start (how it is started), pictures, password. */
export const site = JSON.parse(process.env.OXHERD_SITE ?? "null");
if (!site) throw new Error("these tests are started by tests/system/test_page.py and test_historian_page.py");

/** Asks again and again until `condition` gives something true, and returns that. */
export async function until(what, condition, ms = 20000) {
  const end = Date.now() + ms;
  for (;;) {
    const value = await condition();
    if (value) return value;
    if (Date.now() > end) assert.fail(`waited ${ms} ms in vain for ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}

/** Has the simulated site do something, and waits until it is done. */
export async function order(line) {
  const done = async () => (await readFile(site.site_log, "utf8")).split(`[order] ${line}\n`).length;
  const before = await done();
  await writeFile(site.orders, `${line}\n`);
  await until(`the site to do "${line}"`, async () => (await done()) > before);
}

/** What a command of the daemon's program prints, as JSON. */
export async function oxherd(...words) {
  const { stdout } = await promisify(execFile)(site.oxherd, [...words, "--json", "--state-dir", site.state]);
  return JSON.parse(stdout);
}
export const room = async (name) => (await oxherd("status")).rooms.find((one) => one.room === name);
export const alarm = async (name, which) => (await room(name)).alarms.find((one) => one.alarm === which);
export const journal = async () => (await oxherd("history", "alarms", "--last", "1h")).alarms;

let child = null; // a daemon that a test has started
export const signal = (name) => process.kill(child?.pid ?? site.daemon, name);
export async function startDaemon() {
  const words = site.start ?? ["run", "--config", site.config, "--state-dir", site.state];
  child = spawn(site.oxherd, words, { stdio: "ignore" });
  await until("the daemon to answer", async () => (await fetch(`${site.url}/healthz`).catch(() => null))?.ok);
}
export async function endDaemon() {
  if (!child) return;
  const ended = once(child, "exit");
  child.kill("SIGKILL");
  await ended;
  child = null;
}

/** A browser that complains of what its own policy forbids, and of every request that fails or is refused. `allowed`:
 * refusals that the test is about. */
export async function openPage(address, { viewport, allowed = () => false } = {}) {
  const browser = await openBrowser();
  const { context, complaints } = browser;
  await context.addInitScript(() =>
    document.addEventListener("securitypolicyviolation", (event) =>
      console.error(`policy: ${event.violatedDirective} ${event.blockedURI}`),
    ),
  );
  context.on("response", (response) => {
    if (response.status() >= 400 && !allowed(response))
      complaints.push(`${response.status()} ${response.request().method()} ${response.url()}`);
  });
  context.on("requestfailed", (request) => {
    const left = request.url().endsWith("/api/stream") || request.failure()?.errorText === "net::ERR_ABORTED";
    if (!left && !allowed(null)) complaints.push(`${request.failure()?.errorText} ${request.url()}`);
  });
  const page = await browser.page(`${site.url}/${address}`, viewport);
  page.complaints = complaints; // for whoever waits in vain
  return { ...browser, page };
}

/** Goes to another view without loading the page again. */
export async function goTo(page, address) {
  await page.evaluate((hash) => (location.hash = hash), address);
  const view = /^#\/([^/?]+)/.exec(address)[1];
  await page.waitForFunction((name) => document.querySelector("main").dataset.view === name, view);
}

/** Waits for words in an element, and tells what stood there when they did not come. */
async function says(page, selector, words, timeout) {
  const there = ({ selector, source, flags }) =>
    new RegExp(source, flags).test(document.querySelector(selector).innerText);
  try {
    await page.waitForFunction(there, { selector, source: words.source, flags: words.flags }, { timeout });
  } catch {
    assert.fail(`${words} is not in ${selector} at ${page.url()}: ${await page.innerText("body")} ${page.complaints}`);
  }
}
export const mainSays = (page, words, timeout = 20000) => says(page, "main", words, timeout);
export const bannerSays = (page, words, timeout = 20000) => says(page, "#banner", words, timeout);

export async function signIn(page, name, password = site.password) {
  await page.locator("#tools").getByRole("button", { name: "Sign in" }).click();
  await page.locator("#sign-in-name").fill(name);
  await page.locator("#sign-in-password").fill(password);
  await page.locator("#sign-in-password").press("Enter");
}

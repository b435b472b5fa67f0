// The page must load over a poor line: everything that is embedded, compressed as the daemon sends it.
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { gzipSync } from "node:zlib";
import { libraryFolder, pageFolder } from "./stand_in.mjs";

const walk = (folder) =>
  readdirSync(folder, { withFileTypes: true }).flatMap((one) =>
    one.isDirectory() ? walk(join(folder, one.name)) : [join(folder, one.name)],
  );
const own = walk(pageFolder);
const all = [...own, join(libraryFolder, "uPlot.esm.js"), join(libraryFolder, "uPlot.min.css")];

test("all assets together are under 250 kB compressed", () => {
  const bytes = all.reduce((sum, file) => sum + gzipSync(readFileSync(file)).length, 0);
  console.log(`${all.length} assets, ${bytes} bytes compressed`);
  assert.ok(bytes < 250e3, `${bytes} bytes`);
});
test("nothing in them asks for another host, and markup carries neither scripts nor styles", () => {
  for (const file of own) {
    const text = readFileSync(file, "utf8").replaceAll("http://www.w3.org/2000/svg", "");
    assert.doesNotMatch(text, /https?:\/\//, file);
    if (file.endsWith(".html")) assert.doesNotMatch(text, /<script>|<style|\sstyle=|\son\w+=/, file);
    if (file.endsWith(".js")) assert.doesNotMatch(text, /innerHTML|insertAdjacentHTML|\beval\(|new Function/, file);
  }
});

// Addresses, times, and the numbers behind drawings.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { axisOf, budgetRows, waterfall } from "../../daemon/web/page/explain_data.js";
import { quantities } from "../../daemon/web/page/format.js";
import { hashOf, parseHash } from "../../daemon/web/page/router.js";
import { bothTimes, fromInput, localTime, toInput, utcTime } from "../../daemon/web/page/times.js";
import { larkfieldJournal, larkfieldRooms, larkfieldSite } from "./larkfield.mjs";
import { describe, stretchesOf, toColumns } from "../../daemon/web/page/trend_data.js";

process.env.TZ = "Europe/Amsterdam";
const explained = JSON.parse(readFileSync(new URL("explained.json", import.meta.url)));

test("an address names its view, its parts and what is asked of it", () => {
  assert.deepEqual(parseHash("#/room/cryo-annexe"), { view: "room", parts: ["cryo-annexe"], query: {} });
  assert.deepEqual(parseHash(""), { view: "rooms", parts: [], query: {} });
  const odd = hashOf("room", ["a/b c"], { at: "1", none: "" });
  assert.deepEqual(parseHash(odd), { view: "room", parts: ["a/b c"], query: { at: "1" } });
});
test("an address with a stray percent sign does not stop the page", () => {
  assert.deepEqual(parseHash("#/room/%").parts, ["%"]);
});

test("a time is local with UTC beside it, and the date where it is not today's", () => {
  const now = new Date("2026-07-01T12:30:00Z");
  assert.equal(bothTimes("2026-07-01T10:04:11Z", now), "12:04:11 (10:04:11 UTC)");
  assert.equal(localTime("2026-06-30T10:04:11Z", now), "2026-06-30 12:04:11");
  assert.equal(utcTime("2026-06-30T22:30:00Z"), "2026-06-30 22:30:00 UTC");
  assert.equal(bothTimes("nonsense", now), "unknown");
});
test("what a time field holds reads back as the same moment", () => {
  const at = Date.parse("2026-07-01T10:04:11Z");
  assert.equal(fromInput(toInput(at)), at);
  assert.equal(fromInput(""), null);
});

const trend = (more) => ({
  from_ms: 0,
  to_ms: 60000,
  step_ms: 10000,
  at_ms: [0, 10000, 20000, 50000],
  mean: [0.2, 0.21, null, 0.2],
  min: [0.19, 0.2, null, 0.19],
  max: [0.21, 0.22, null, 0.21],
  bad: [0, 0, 3, 0],
  ...more,
});
test("a hole in the record becomes a gap in the curve", () => {
  const [x, mean] = toColumns(trend(), quantities.dry_fraction);
  assert.deepEqual(x, [0, 10, 20, 35, 50]);
  assert.deepEqual(mean, [20, 21, null, null, 20]);
});
test("neighbouring bad steps are one stretch", () => {
  assert.deepEqual(stretchesOf(trend({ bad: [0, 2, 1, 1] })), [
    [10000, 30000],
    [50000, 60000],
  ]);
});
test("the curve is told in a sentence to who does not see it", () => {
  const words = describe(trend(), quantities.dry_fraction, String).replaceAll("\u202f", " ");
  assert.equal(words, "Oxygen, dry basis, 0 to 60000: 19.00 % to 22.00 %; 1 bad stretch.");
  assert.match(describe(trend({ min: [null], max: [null] }), quantities.dry_fraction, String), /nothing recorded/);
});

test("the steps from the signal to the value end at the corrected value", () => {
  const rows = waterfall(explained);
  assert.deepEqual(
    rows.map((row) => row.name),
    ["the signal alone", "temperature", "pressure", "humidity", "corrected, dry"],
  );
  assert.ok(Math.abs(rows[3].to - rows[4].to) < 1e-12 * rows[4].to);
  const axis = axisOf(rows);
  for (const row of rows) assert.ok(axis.place(row.to) >= 0 && axis.place(row.to) <= 100);
});
test("a transmitter without factors has no steps to draw", () => {
  assert.deepEqual(
    waterfall({
      uncorrected_fraction: null,
      dry_fraction: 0.2,
      factors: { temperature: null, pressure: null, humidity: null },
    }),
    [],
  );
});
test("the budget is sorted, and its shares are all of the variance", () => {
  const rows = budgetRows(explained.budget);
  assert.equal(rows[0].input, "signal");
  assert.ok(Math.abs(rows.reduce((sum, row) => sum + row.share, 0) - 1) < 1e-12);
});

test("the stand-in tells what the daemon's own description says, no more and no less", () => {
  const { schemas } = JSON.parse(readFileSync(new URL("../../daemon/web/openapi.json", import.meta.url))).components;
  const told = (name, object) => {
    const { properties, required } = schemas[name];
    const keys = Object.keys(object);
    assert.deepEqual(
      keys.filter((key) => !(key in properties)),
      [],
      `${name} has what the daemon does not tell`,
    );
    assert.deepEqual(
      required.filter((key) => !keys.includes(key)),
      [],
      `${name} lacks what the daemon tells`,
    );
    for (const [key, { enum: words }] of Object.entries(properties))
      if (words) assert.ok(words.includes(object[key]), `${name}.${key}: ${object[key]}`);
  };
  const rooms = larkfieldRooms();
  for (const room of rooms) {
    told("Room", room);
    for (const alarm of room.alarms) told("Alarm", alarm);
    for (const sensor of room.sensors) told("Sensor", sensor);
    for (const sensor of room.sensors) told("Reading", sensor.last);
    for (const actuator of room.control) {
      told("Actuator", actuator);
      for (const key of ["started", "held", "tripped"]) if (actuator[key]) told("Said", actuator[key]);
      for (const block of actuator.blocked_by) told("Block", block);
      if (actuator.loop) told("Loop", actuator.loop);
    }
    if (room.entry_lock) told("EntryLock", room.entry_lock);
  }
  const site = larkfieldSite(rooms);
  told("Site", site);
  for (const bus of site.buses) told("Bus", bus);
  for (const output of site.outputs) told("Output", output);
  for (const { proof } of site.outputs) if (proof) told("Proof", proof);
  for (const line of larkfieldJournal()) told("JournalLine", line);
});

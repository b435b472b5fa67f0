// What the page concludes from what it is told: whether numbers are old, who needs a person, what may be done.
import assert from "node:assert/strict";
import { test } from "node:test";
import * as freshness from "../../daemon/web/page/freshness.js";
import { atMost, hidingTimes } from "../../daemon/web/page/durations.js";
import * as urgency from "../../daemon/web/page/urgency.js";
import { states } from "../../daemon/web/page/words.js";
import { alarm, larkfieldRooms } from "./larkfield.mjs";

const at = (ms) => ({ wall: 1e12 + ms, steady: ms });
const beating = () => freshness.onBeat(freshness.onHello(freshness.initial, "one"), 1, at(0));

test("numbers are current until three seconds after the last beat", () => {
  assert.equal(freshness.whyOld(beating(), at(3000)), null);
  assert.match(freshness.whyOld(beating(), at(3001)), /stopped reporting/);
});
test("a lost connection makes them old at once", () => {
  assert.match(freshness.whyOld(freshness.onLost(beating()), at(1)), /lost/);
});
test("a beat whose evaluations stand still is no beat", () => {
  const stuck = freshness.onBeat(beating(), 1, at(2500));
  assert.match(freshness.whyOld(stuck, at(3500)), /stopped reporting/);
  assert.equal(freshness.whyOld(freshness.onBeat(beating(), 2, at(2500)), at(3500)), null);
});
test("a clock that is set back or a machine that slept hides no age", () => {
  const later = { wall: 1e12 - 3600e3, steady: 5000 };
  assert.match(freshness.whyOld(beating(), later), /stopped/);
  const slept = { wall: 1e12 + 3600e3, steady: 100 };
  assert.match(freshness.whyOld(beating(), slept), /stopped/);
});
test("a room is current only when it was told on this connection", () => {
  const told = { epoch: 1, at: at(0) };
  assert.equal(freshness.roomIsCurrent(beating(), told, at(100)), true);
  const again = freshness.onBeat(freshness.onHello(beating(), "one"), 2, at(100));
  assert.equal(freshness.roomIsCurrent(again, told, at(200)), false);
});
test("a room that is not told for 25 s is old though the daemon beats", () => {
  const trust = freshness.onBeat(beating(), 2, at(25000));
  assert.equal(freshness.roomIsCurrent(trust, { epoch: 1, at: at(0) }, at(25001)), false);
});
test("another instance counts as a restart, the same one as a reconnection", () => {
  assert.equal(freshness.onHello(beating(), "two").restarted, true);
  assert.equal(freshness.onHello(beating(), "one").restarted, false);
});

const rooms = () => larkfieldRooms();
const named = (all, name) => all.find((one) => one.room === name);
const order = (all) => urgency.worstFirst(all).map((one) => one.room);
const raise = (room, name, change) =>
  Object.assign(
    room.alarms.find((one) => one.alarm === name),
    { state: "unacknowledged", ...change },
  );

test("an alarm that nobody has seen comes before one that somebody has, whatever its priority", () => {
  const all = rooms();
  raise(named(all, "cryo-annexe"), "low-oxygen", { state: "acknowledged" });
  raise(named(all, "pear-store-2"), "high-oxygen", {});
  assert.deepEqual(order(all).slice(0, 2), ["pear-store-2", "cryo-annexe"]);
});
test("of two alarms that nobody has seen, the critical one comes first", () => {
  const all = rooms();
  raise(named(all, "pear-store-2"), "high-oxygen", {});
  raise(named(all, "cryo-annexe"), "low-oxygen", {});
  assert.equal(order(all)[0], "cryo-annexe");
});
test("a room that is not monitored asks for a person even before its alarm stands", () => {
  const all = rooms();
  named(all, "bay-3").monitored = false;
  assert.equal(order(all)[0], "bay-3");
  assert.equal(urgency.askingCount(all), 1);
});
test("its alarm and the room are not counted twice", () => {
  const all = rooms();
  named(all, "bay-3").monitored = false;
  raise(named(all, "bay-3"), "not-monitored", {});
  assert.equal(urgency.askingCount(all), 1);
});
test("a shelved alarm asks for nobody", () => {
  const all = rooms();
  raise(named(all, "pear-store-2"), "high-oxygen", { state: "shelved" });
  assert.equal(urgency.askingCount(all), 0);
});

test("a safety alarm is never offered for shelving, in any state, to anybody", () => {
  for (const state of Object.keys(states))
    for (const role of [null, "viewer", "operator", "engineer"]) {
      const acts = urgency.actsFor(alarm("cryo-annexe", "low-oxygen", { state, safety: true }), role);
      assert.deepEqual(
        acts.filter((act) => act.startsWith("shelve")),
        [],
        `${state}, ${role}`,
      );
    }
});
test("a process alarm that stands may be shelved", () => {
  assert.ok(
    urgency
      .actsFor(alarm("pear-store-2", "high-oxygen", { state: "unacknowledged", safety: false }), "operator")
      .includes("shelve"),
  );
});
test("a process alarm whose settings permit no shelving is not offered it", () => {
  const one = alarm("a", "b", { state: "unacknowledged", safety: false, shelve_at_most_s: 0 });
  assert.deepEqual(
    urgency.actsFor(one, "engineer").filter((act) => act.startsWith("shelve")),
    [],
  );
});
test("why a safety alarm is not offered for shelving is said, and nothing of it to a process alarm", () => {
  assert.match(urgency.whyNotShelved(alarm("a", "b", { safety: true })), /safety alarm cannot be shelved/);
  assert.equal(urgency.whyNotShelved(alarm("a", "b", { safety: false })), "");
});
test("an alarm may be hidden for no longer than its settings permit, and for just that long", () => {
  const seconds = (at_most_s) => hidingTimes(at_most_s).options.map(([s]) => Number(s));
  assert.deepEqual(seconds(7200), [900, 3600, 7200]);
  assert.deepEqual(seconds(600), [600]);
  assert.deepEqual(seconds(8 * 3600), [900, 3600, 14400, 28800]);
  assert.equal(hidingTimes(8 * 3600).chosen, "3600");
  assert.equal(hidingTimes(600).chosen, "600");
});
test("each act has its own longest time, and a safety alarm none for shelving", () => {
  const process = alarm("a", "b", { safety: false, shelve_at_most_s: 7200, out_of_service_at_most_s: 86400 });
  assert.equal(atMost(process, "shelve_once"), 7200);
  assert.equal(atMost(process, "remove_from_service"), 86400);
  assert.equal(atMost({ ...process, safety: true }, "shelve"), 0);
});
test("reset is offered only for what is latched and acknowledged", () => {
  for (const state of Object.keys(states))
    assert.equal(
      urgency.actsFor(alarm("a", "b", { state }), "operator").includes("reset"),
      state === "latched_acknowledged",
      state,
    );
});
test("a viewer is offered nothing, and out of service only the engineer", () => {
  const one = alarm("a", "b", { state: "unacknowledged", sounding: true });
  assert.deepEqual(urgency.actsFor(one, "viewer"), []);
  assert.deepEqual(urgency.actsFor(one, "operator"), ["acknowledge", "silence"]);
  assert.ok(urgency.actsFor(one, "engineer").includes("remove_from_service"));
});

// What the page concludes of actuators: what is out of normal, what a person may order.
import assert from "node:assert/strict";
import { test } from "node:test";
import * as control from "../../daemon/web/page/control_data.js";
import * as urgency from "../../daemon/web/page/urgency.js";
import { larkfieldRooms } from "./larkfield.mjs";
import { block, larkfieldControl, nitrogenTripped, said, ventsByHand } from "./larkfield_control.mjs";

const plain = (text) => text.replaceAll("\u202f", " ");
const actuator = (output, change = {}) => ({
  ...Object.values(larkfieldControl())
    .flat()
    .find((one) => one.output === output),
  ...change,
});
const marks = (one) => control.stateMarks(one).map(({ words, needs }) => `${words}${needs ? "!" : ""}`);

test("what an actuator does is off, on or a share that is never rounded to either", () => {
  for (const [fraction, words] of [
    [0, "off"],
    [1, "on"],
    [0.42, "42 %"],
    [0.001, "1 %"],
    [0.999, "99 %"],
  ])
    assert.equal(plain(control.doing(fraction)), words);
});
test("a value stands in the unit and with the decimals that the daemon gives, or is none", () => {
  const { loop } = actuator("pear-nitrogen");
  assert.equal(plain(control.inUnit(loop, "value")), "2.01 %");
  assert.equal(control.inUnit({ ...loop, value: null }, "value"), null);
});

test("what works as it should has no mark, and neither has a purge that nobody has started", () => {
  for (const name of ["chamber-heater", "pear-nitrogen", "pear-scrubber", "bay-vents"])
    assert.deepEqual(marks(actuator(name)), [], name);
});
test("of all that is out of normal, only what tripped needs a person", () => {
  assert.deepEqual(marks(actuator("pear-nitrogen", nitrogenTripped())), ["STOPPED: waits for a person!"]);
  assert.deepEqual(marks(actuator("bay-dosing")), ["BLOCKED by an interlock"]);
  assert.deepEqual(marks(actuator("bay-vents", ventsByHand())), ["BY HAND"]);
  assert.deepEqual(marks(actuator("bay-vents", { decided_by: "interlock", fraction: 1 })), ["DRIVEN by an interlock"]);
  assert.deepEqual(marks(actuator("bay-vents", { decided_by: "safe-state", fraction: 1 })), ["FALLEN BACK to on"]);
  const held = { ...ventsByHand(), decided_by: "interlock" };
  assert.deepEqual(marks(actuator("bay-vents", held)), ["DRIVEN by an interlock", "BY HAND"]);
});
test("no reason is said twice, and none is lost", () => {
  assert.equal(control.reasonOf(actuator("bay-dosing")), "", "its conditions are listed");
  assert.equal(control.reasonOf(actuator("bay-vents", ventsByHand())), "", "who holds it says why");
  assert.match(control.reasonOf(actuator("chamber-heater")), /to be held at 23\.4/);
  const other = actuator("bay-dosing", { because: "a safety alarm of the room stands" });
  assert.equal(control.reasonOf(other), "a safety alarm of the room stands");
});
test("every condition in the way is told; the wait for a release by the trip itself", () => {
  const conditions = (one) => control.inTheWay(one).map(({ condition }) => condition);
  assert.deepEqual(conditions(actuator("bay-dosing")), ["vents-closed", "lights-on"]);
  const tripped = actuator("pear-nitrogen", nitrogenTripped());
  assert.deepEqual(conditions(tripped), ["door-closed", "started-by-person"]);
  assert.ok(conditions({ ...tripped, tripped: null }).includes("not-tripped"));
});

const offered = (one, role) => control.ordersFor(one, role).orders;
test("a viewer is offered no order at all", () => {
  for (const one of Object.values(larkfieldControl()).flat()) {
    assert.deepEqual(control.ordersFor(one, "viewer"), { orders: [], forEngineers: [] });
    if (one.loop) assert.deepEqual(control.programOf(one.loop, "viewer")?.orders ?? [], []);
  }
});
test("orders fit what the actuator does", () => {
  assert.deepEqual(offered(actuator("pear-scrubber"), "engineer"), ["start", "hold"]);
  assert.deepEqual(offered(actuator("pear-nitrogen"), "engineer"), ["end", "hold"]);
  assert.deepEqual(offered(actuator("pear-nitrogen", nitrogenTripped()), "engineer"), ["release", "hold"]);
  assert.deepEqual(offered(actuator("bay-vents"), "engineer"), ["hold"]);
  assert.deepEqual(offered(actuator("bay-vents", ventsByHand()), "engineer"), ["automatic", "hold"]);
  const both = { started: said("mira", "x"), held: said("mira", "x", 0, 60) };
  assert.deepEqual(offered(actuator("pear-nitrogen", both), "engineer"), ["end", "automatic", "hold"]);
});
test("starting and releasing are the engineer's; who is not signed in is asked who they are", () => {
  assert.deepEqual(control.ordersFor(actuator("pear-scrubber"), "operator"), {
    orders: ["hold"],
    forEngineers: ["start"],
  });
  const tripped = actuator("pear-nitrogen", nitrogenTripped());
  assert.deepEqual(control.ordersFor(tripped, "operator").forEngineers, ["release"]);
  assert.deepEqual(offered(tripped, null), ["release", "hold"]);
});
test("an order to a program fits where it stands, and a stop by an outage needs a person", () => {
  const at = (program) => control.programOf({ program }, "operator");
  assert.deepEqual(at("waiting").orders, ["program-start"]);
  assert.deepEqual(at("following").orders, ["program-hold", "program-stop"]);
  assert.ok(at("held").orders.includes("program-resume"));
  assert.equal(at("following").needs, false);
  assert.equal(at("stopped-by-outage").needs, true);
  assert.equal(control.programOf({ program: null }, "operator"), null);
  assert.equal(control.programOf(null, "operator"), null);
});
test("every order that is offered has words, and says what will happen", () => {
  for (const role of ["operator", "engineer"])
    for (const one of Object.values(larkfieldControl()).flat())
      for (const act of [...offered(one, role), ...(control.programOf(one.loop, role)?.orders ?? [])]) {
        assert.ok(control.orders[act].words, act);
        assert.ok(control.orders[act].means.length > 20, act);
      }
});
test("percents are read as a person writes them, and nothing else is", () => {
  for (const [typed, share] of [
    ["0", 0],
    ["42", 0.42],
    ["42.5 %", 0.425],
    ["100%", 1],
  ])
    assert.equal(control.shareOf(typed), share);
  for (const typed of ["", "101", "-1", "half", "1e1", "42,5", undefined]) assert.equal(control.shareOf(typed), null);
});

const named = (all, name) => all.find((one) => one.room === name);
const change = (room, output, how) =>
  Object.assign(
    room.control.find((one) => one.output === output),
    how,
  );
test("a room with something stopped comes before one with doubtful data, and that before one worked by hand", () => {
  const all = larkfieldRooms();
  change(named(all, "bay-3"), "bay-vents", ventsByHand());
  const order = () => urgency.worstFirst(all).map((one) => one.room);
  assert.deepEqual(
    order(),
    ["bay-3", "pear-store-2", "cryo-annexe", "growth-chamber-1"],
    "a check is due in the store",
  );
  named(all, "cryo-annexe").sensors[0].quality = "bad";
  Object.assign(named(all, "growth-chamber-1").control[0], { tripped: said("", "the door is open") });
  assert.deepEqual(order(), ["growth-chamber-1", "cryo-annexe", "bay-3", "pear-store-2"]);
});
test("a condition that blocks by itself asks for nobody", () => {
  const all = larkfieldRooms();
  change(named(all, "bay-3"), "bay-vents", {
    decided_by: "interlock",
    blocked_by: [block("device-holds", "it does not hold")],
  });
  assert.equal(urgency.roomRank(named(all, "bay-3")), 40);
});

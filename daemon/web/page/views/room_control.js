// What acts on the air of a room: what each actuator does, who decided that, and what a person may order.
import {
  deciders,
  doing,
  inTheWay,
  inUnit,
  isBlocked,
  isHeld,
  isTripped,
  ordersFor,
  programOf,
  reasonOf,
  stateMarks,
} from "../control_data.js";
import { orderButton, orderNames } from "../control_orders.js";
import { h } from "../dom.js";
import { NARROW } from "../format.js";
import { live, mark, section, since, when } from "../pieces.js";
import { state } from "../state.js";
import { spoken } from "../words.js";

/** Null where nothing is controlled. */
export function controlSection(room, current) {
  if (!room.control.length) return null;
  return section(
    "Control",
    h(
      "p.quiet",
      "It replaces no hard-wired interlock, no relief valve and no certified shut-off. That gas is shut off, or a room is aired, does not mean that its air may be breathed.",
    ),
    h(
      "ul.actuators",
      room.control.map((actuator) => item(actuator, room.room, current)),
    ),
  );
}

/** On the card of a room: what waits for a person, and what a person works by hand. */
export const controlNews = (room) =>
  room.control
    .filter((actuator) => isTripped(actuator) || isHeld(actuator))
    .map((actuator) =>
      h(
        "li",
        { "data-key": `control-${actuator.output}` },
        h("b", actuator.output),
        " ",
        isTripped(actuator) ? tripMark() : null,
        isHeld(actuator) ? [handMark(), h("span", "until ", when(actuator.held.until))] : null,
      ),
    );

const tripMark = () => mark("high", "triangle", "STOPPED: waits for a person");
const handMark = () => mark("said", "hand", "BY HAND");

function item(actuator, room, current) {
  return h(
    "li",
    { "data-key": actuator.output, class: isTripped(actuator) ? "tripped" : null },
    h(
      "div.actuator-line",
      h("h3", actuator.output),
      h("span.quiet", spoken(actuator.duty)),
      h("span.actuator-does", live(doing(actuator.fraction), current)),
      stateMarks(actuator).map(({ shape, words, needs }) => mark(needs ? "high" : "said", shape, words)),
    ),
    trip(actuator),
    hand(actuator),
    decision(actuator),
    conditions(actuator),
    actuator.started
      ? h("p", `started by ${actuator.started.by} `, since(actuator.started.since), `: ${actuator.started.because}`)
      : null,
    actuator.held_back ? h("p.quiet", actuator.held_back) : null,
    actuator.forecast ? h("p.quiet", actuator.forecast) : null,
    actuator.loop ? loop(actuator, current) : h("p.quiet", "No loop decides here: it is worked by hand alone."),
    acts(actuator, room, current),
  );
}

const trip = ({ tripped }) =>
  tripped
    ? h("p", "stopped ", since(tripped.since), `: ${tripped.because}. It stays so until a person releases it.`)
    : null;

const hand = ({ held }) =>
  held ? h("p", "by hand until ", when(held.until), ` by the word of ${held.by}: ${held.because}`) : null;

/** Who decides and why; of a person it is said by whom above. */
function decision(actuator) {
  if (actuator.decided_by === "person" && isHeld(actuator)) return null;
  const why = reasonOf(actuator);
  return h("p", deciders[actuator.decided_by] ?? spoken(actuator.decided_by), why ? `: ${why}` : "");
}

/** A purge that nobody has started is normal; what an interlock holds back is said louder, by the mark above. */
function conditions(actuator) {
  const left = inTheWay(actuator);
  if (!left.length) return null;
  return h(
    "div",
    h("p", { class: isBlocked(actuator) ? null : "quiet" }, "What stands in its way:"),
    h(
      "ul",
      left.map((one) => h("li", { "data-key": one.condition }, one.text)),
    ),
  );
}

function loop({ loop }, current) {
  const value = inUnit(loop, "value");
  const row = (name, words) => h("div", h("dt", name), h("dd", words));
  return [
    h(
      "dl.figures",
      row(spoken(loop.holds), [
        value ? live(value, current) : h("span.no-value", "no value"),
        loop.trouble ? h("div", loop.uncertain ? `in doubt: ${loop.trouble}` : loop.trouble) : null,
      ]),
      row("set-point", inUnit(loop, "set_point") ? live(inUnit(loop, "set_point"), current) : "none yet"),
      loop.method === "on-off" || !value ? null : row("demand", demand(loop, current)),
    ),
    program(loop, current),
  ];
}

function demand({ demand }, current) {
  const percent = Math.round(demand * 100);
  return [
    live(`${percent}${NARROW}%`, current),
    h(
      "svg",
      { class: "demand", viewBox: "0 0 100 8", preserveAspectRatio: "none", "aria-hidden": "true" },
      h("rect", { class: "demand-all", x: 0, y: 0, width: 100, height: 8 }),
      current ? h("rect", { class: "demand-part", x: 0, y: 0, width: percent, height: 8 }) : null,
    ),
  ];
}

function program(loop, current) {
  const stands = programOf(loop);
  if (!stands) return null;
  const target = inUnit(loop, "target");
  const next = inUnit(loop, "next_target");
  return h(
    "p",
    stands.needs ? mark("doubt", "clock", `program: ${stands.words}`) : `program ${stands.words}`,
    target && target !== inUnit(loop, "set_point") ? ["; on the way to ", live(target, current)] : "",
    next && loop.next_at ? ["; next ", live(next, current), " from ", when(loop.next_at)] : "",
  );
}

function acts(actuator, room, current) {
  const role = state.session.user?.role ?? null;
  const { orders, forEngineers } = ordersFor(actuator, role);
  const name = actuator.loop?.loop;
  const ofProgram = programOf(actuator.loop, role)?.orders ?? [];
  return [
    h(
      "div.acts",
      orders.map((act) => orderButton(act, { room, actuator, current, main: act === "release" })),
      ofProgram.map((act) => orderButton(act, { room, actuator, current, loop: name })),
    ),
    forEngineers.length ? h("p.quiet.small", `For an engineer: ${orderNames(forEngineers)}.`) : null,
  ];
}

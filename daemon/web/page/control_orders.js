// Orders to actuators and programs: a question first, then what the daemon says.
import * as api from "./api.js";
import { actions, asKnownPerson, attempt } from "./actions.js";
import { holdTimes, inTheWay, isTripped, needsStart, orders, programHoldTimes, shareOf } from "./control_data.js";
import { apart, question } from "./dialogs.js";
import { byId, h } from "./dom.js";
import { say } from "./news.js";
import { field, select } from "./pieces.js";
import { knownRoom, takeControl } from "./state.js";

/** A button for one order. A program's carries its loop. */
export function orderButton(act, { room, actuator, current, main = false, loop = null }) {
  const of = loop ? `loop ${loop} of ${room}` : actuator.output;
  return h(
    "button",
    {
      type: "button",
      class: main ? "act main-act" : "act",
      "data-key": act,
      "data-do": "order",
      "data-order": act,
      "data-room": room,
      "data-output": actuator.output,
      "aria-label": `${orders[act].words}: ${of}`,
      title: orders[act].means,
      disabled: !current,
    },
    orders[act].words,
  );
}

export const orderNames = (acts) => acts.map((act) => orders[act].words.toLowerCase()).join(", ");
const isOfProgram = (act) => act.startsWith("program-");

function reasonField(act) {
  const common = { id: "order-comment", name: "comment", maxlength: 500, autocomplete: "off" };
  if (!orders[act].needsReason) return field("Comment (may stay empty)", h("input", { ...common, type: "text" }));
  return field(
    orders[act].reason ?? "Reason",
    h("textarea", { ...common, rows: 3, required: true, "data-missing": "say why; it goes into the journal" }),
  );
}

/** A device that knows only on and off is not asked for percents. */
function outputField(actuator) {
  if (actuator.loop?.method !== "continuous")
    return field(
      "Held",
      select(
        "order-fraction",
        [
          ["0", "off"],
          ["100", "on"],
        ],
        actuator.fraction > 0 ? "0" : "100",
      ),
    );
  return field(
    "Held at",
    h("input", {
      id: "order-fraction",
      name: "order-fraction",
      value: String(Math.round(actuator.fraction * 100)),
      required: true,
      inputmode: "decimal",
      autocomplete: "off",
      "data-missing": "give percent, from 0 to 100",
    }),
    "In percent, from 0 to 100.",
  );
}

function fieldsOf(act, actuator) {
  const timed = act === "hold" ? holdTimes : act === "program-hold" ? programHoldTimes : null;
  return [
    act === "hold" ? outputField(actuator) : null,
    timed ? field("For", select("order-time", timed.options, timed.chosen)) : null,
    reasonField(act),
  ];
}

/** What is sent; throws in words where a field cannot be read. */
function bodyOf(act, given) {
  const body = { act, comment: given.comment ?? "" };
  if (given["order-time"]) body.duration_s = Number(given["order-time"]);
  if (act !== "hold") return body;
  body.fraction = shareOf(given["order-fraction"]);
  if (body.fraction === null) throw new Error(`"${given["order-fraction"]}" is no percent from 0 to 100.`);
  return body;
}

/** What an order would bring about itself. */
const brought = {
  start: ["started-by-person"],
  hold: ["started-by-person"],
  release: ["started-by-person", "not-tripped"],
};
/** What now stands in the way is said before: the daemon would refuse. */
function obstacles(act, actuator) {
  const left = brought[act] ? inTheWay(actuator).filter((one) => !brought[act].includes(one.condition)) : [];
  if (act === "hold" && isTripped(actuator)) left.push({ text: "it waits to be released" });
  if (!left.length) return null;
  return h(
    "div",
    h("p", `${act === "hold" ? "Held on, it" : "It"} will be refused while this stands in its way:`),
    h(
      "ul",
      left.map((one) => h("li", one.text)),
    ),
  );
}

actions.order = (button) => give(button.dataset);

async function give({ room, output, order: act }) {
  await attempt(async () => {
    const actuator = knownRoom(room)?.room.control.find((one) => one.output === output);
    if (!actuator) return;
    const of = isOfProgram(act) ? `loop ${actuator.loop.loop} of ${room}` : output;
    const send = (body) =>
      isOfProgram(act) ? api.orderProgram(room, actuator.loop.loop, body) : api.orderOutput(output, body);
    const answer = await asKnownPerson(() =>
      question({
        title: `${orders[act].words}: ${of}`,
        lead: [
          h("p", orders[act].means),
          act === "hold" && needsStart(actuator)
            ? h("p", "It takes a start before it can be held on: nobody may be in the room.")
            : null,
          obstacles(act, actuator),
        ],
        fields: fieldsOf(act, actuator),
        button: orders[act].words,
        submit: (given) => {
          const body = bodyOf(act, given);
          return apart(() => send(body));
        },
      }),
    );
    if (!answer) return;
    takeControl(answer.room, answer.control);
    const done = `${orders[act].words}: ${of}. Done`;
    if (answer.recorded === false) say(`${done}, but it could not be recorded: look at Health.`, "trouble");
    else say(`${done} and recorded.`, "done");
  });
  focusActuator(output);
}

/** An order may take away the very button that was pressed: the keyboard then goes on at the same actuator. */
function focusActuator(output) {
  if (document.activeElement !== document.body) return;
  const rest = [...document.querySelectorAll("[data-order]:enabled")];
  (rest.find((one) => one.dataset.output === output) ?? byId("main")).focus();
}

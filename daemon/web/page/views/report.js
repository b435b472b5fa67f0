// The shift report: what the next person must know, on one sheet.
import * as api from "../api.js";
import { drawAgain } from "../actions.js";
import { h } from "../dom.js";
import { alarmLimit, alarmValue } from "../format.js";
import { atSite, dated, empty, live as liveNumber, oldNote, section, table, trouble, when } from "../pieces.js";
import { daemonNow, knownRooms, onlyShows, state, whyOld } from "../state.js";
import { day } from "../times.js";
import { byUrgency, standingAlarms } from "../urgency.js";
import { priorityOf, regimes, spoken, stateOf } from "../words.js";
import { hiddenWords } from "./room.js";
import { valueWords } from "./room_parts.js";
import { dueCells } from "../calibration_data.js";

export const title = () => "Shift report";
export const live = true;
let cells = null;
let problem = "";

export async function entered() {
  problem = "";
  if (onlyShows()) return;
  try {
    cells = (await api.ask("/api/calibrations")).cells;
  } catch (reason) {
    problem = reason.message;
  }
  drawAgain();
}

export function render() {
  const known = knownRooms();
  if (!known.length) return [h("h1", "Shift report"), empty("Waiting for the rooms.")]; // none is known, which is not none
  const rooms = known.map((one) => one.room);
  const alarms = rooms.flatMap(standingAlarms).sort(byUrgency);
  const all = rooms.flatMap((room) => room.alarms);
  const blind = known.filter((one) => !one.room.monitored);
  const proofs = (state.site?.outputs ?? []).filter(
    (output) => output.proof && (!output.proof.last || output.proof.overdue || output.proof.last === "failed"),
  );
  return [
    h("h1", `Shift report, ${state.hello?.site ?? state.site?.site ?? ""}`),
    h(
      "p.summary",
      "As of ",
      dated(daemonNow()),
      state.session.user ? `, printed by ${state.session.user.name}` : "",
      " ",
      h("button.on-screen", { type: "button", "data-do": "print" }, "Print"),
    ),
    whyOld() ? oldNote(known[0]?.since) : null,
    section(
      "Standing",
      alarms.length
        ? alarmTable("Alarms that stand", alarms)
        : empty("No alarm stands. That shows nothing of the air in any room."),
    ),
    section(
      "Not monitored",
      blind.length
        ? h(
            "ul",
            blind.map(({ room }) =>
              h("li", { "data-key": room.room }, h("b", `${room.room}: NOT MONITORED. `), room.reason),
            ),
          )
        : empty("Every room is monitored."),
    ),
    section("Shelved", hiddenList(all, "shelved")),
    section("Out of service", hiddenList(all, "out_of_service")),
    section(
      "Due",
      problem
        ? trouble(problem)
        : (atSite("What is due of cells and outputs is told by the site's own daemon.") ?? due()),
      proofs.length
        ? h(
            "ul",
            proofs.map((output) =>
              h("li", { "data-key": output.name }, h("b", output.name), ": ", proofDue(output.proof)),
            ),
          )
        : null,
    ),
    section(
      "Rooms",
      table(
        "Rooms",
        ["room", "use", "value", "door"],
        known.map(({ room, current }) => ({
          key: room.room,
          cells: [
            h("b", room.room),
            regimes[room.regime] ?? spoken(room.regime),
            room.monitored
              ? valueWords(room).map((words) => h("div", liveNumber(words, current)))
              : h("b", "NOT MONITORED"),
            room.door ?? "–",
          ],
        })),
      ),
    ),
    h("p.signatures", "Handed over by ____________________   Taken over by ____________________"),
  ];
}

function alarmTable(caption, alarms) {
  return table(
    caption,
    ["alarm", "state", "since", "value and limit"],
    alarms.map((alarm) => ({
      key: `${alarm.room}/${alarm.alarm}`,
      cells: [
        h("b", `${alarm.room}: ${spoken(alarm.alarm)}`),
        `${priorityOf(alarm).words}, ${stateOf(alarm).words}`,
        when(alarm.since),
        typeof alarm.limit === "number" ? `${alarmValue(alarm)}; limit ${alarmLimit(alarm)}` : "–",
      ],
    })),
  );
}

function hiddenList(alarms, which) {
  const some = alarms.filter((alarm) => alarm.state === which);
  if (!some.length) return empty("None.");
  return h(
    "ul",
    some.map((alarm) =>
      h(
        "li",
        { "data-key": `${alarm.room}/${alarm.alarm}` },
        h("b", `${alarm.room}: ${spoken(alarm.alarm)} `),
        alarm.suppression ? hiddenWords(alarm.suppression) : "",
        ". You will not be warned.",
      ),
    ),
  );
}

const proofDue = (proof) =>
  !proof.last ? "never proved" : proof.last === "failed" ? "failed its proof" : `proof overdue since ${day(proof.due)}`;
function due() {
  if (!cells) return empty("Fetching…");
  const some = dueCells(cells);
  if (!some.length) return empty("No cell is due.");
  return h(
    "ul",
    some.map(({ cell, words }) =>
      h("li", { "data-key": `${cell.room}/${cell.sensor}` }, h("b", `${cell.room}/${cell.sensor}: `), words.join("; ")),
    ),
  );
}

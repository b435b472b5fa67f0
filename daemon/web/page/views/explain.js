// Why a recorded reading says what it says.
import * as api from "../api.js";
import { actions, drawAgain } from "../actions.js";
import { fieldsOf, h } from "../dom.js";
import { explanation } from "../explain_parts.js";
import { empty, field, select, trouble, when } from "../pieces.js";
import { go } from "../router.js";
import { knownRooms } from "../state.js";
import { fromInput } from "../times.js";

export const title = () => "Explanation";
export const ofDaemon = true;
let answer = null;
let problem = "";

export async function entered({ query }) {
  answer = null;
  problem = "";
  const chosen = choice(query);
  if (!chosen) return drawAgain();
  const at = query.at && fromInput(query.at) !== null ? new Date(fromInput(query.at)).toISOString() : undefined;
  try {
    answer = await api.ask(api.address("/api/explain", { ...chosen, at }));
  } catch (reason) {
    problem = reason.message;
  }
  return drawAgain();
}

export const roomsKnown = (place) => (answer ? drawAgain() : entered(place));
const cells = () =>
  knownRooms().flatMap(({ room }) =>
    room.sensors
      .filter((sensor) => sensor.measures.includes("oxygen"))
      .map((sensor) => ({ room: room.room, sensor: sensor.sensor })),
  );
const nameOf = ({ room, sensor }) => `${room}/${sensor}`;
function choice(query) {
  if (query.room && query.sensor) return { room: query.room, sensor: query.sensor };
  return cells().find((one) => nameOf(one) === query.cell) ?? null;
}

actions.explain_choose = (form) => go("explain", [], { ...fieldsOf(form), asked: Date.now() });

export function render({ query }) {
  const chosen = choice(query);
  const names = cells().map((one) => [nameOf(one), nameOf(one)]);
  return [
    h("h1", "Why a reading says what it says"),
    h(
      "form.choices",
      { "data-submit": "explain_choose" },
      field("Cell", select("cell", names, chosen ? nameOf(chosen) : "")),
      field(
        "At (empty: the last reading)",
        h("input", { id: "at", name: "at", type: "datetime-local", step: 1, value: query.at ?? "" }),
      ),
      h("button", { type: "submit" }, "Explain"),
    ),
    problem ? trouble(problem) : null,
    answer
      ? [
          answer.stored ? h("p.summary", nameOf(answer.stored), ", recorded ", when(answer.stored.at)) : null,
          explanation(answer),
        ]
      : problem
        ? null
        : empty(chosen ? "Fetching…" : "Choose a cell, and a time if it is not the last reading."),
  ];
}

// What was recorded of alarms, acts and regimes.
import * as api from "../api.js";
import { actions, drawAgain } from "../actions.js";
import { fieldsOf, h } from "../dom.js";
import * as format from "../format.js";
import { empty, field, roomLink, select, table, trouble, when } from "../pieces.js";
import { go } from "../router.js";
import { daemonNow, knownRooms, quantityOf } from "../state.js";
import { fromInput, toInput } from "../times.js";
import { priorities, spoken, states } from "../words.js";

export const title = () => "Journal";
const page = 500; // lines fetched at once
let answer = null;
let asked = null;
let problem = "";
const nameOf = (state) => states[state]?.words ?? spoken(state);

export async function entered({ query }) {
  answer = null;
  const time = (text) => (text && fromInput(text) !== null ? new Date(fromInput(text)).toISOString() : undefined);
  asked = {
    room: query.room,
    alarm: query.alarm,
    from: time(query.from) ?? new Date(Date.now() - 7 * 86400e3).toISOString(),
    to: time(query.to) ?? new Date(daemonNow()).toISOString(),
    limit: page,
  };
  await fetchLines();
}

/** The newest lines of what was asked, or, behind those that are shown, the next older ones. */
async function fetchLines() {
  const question = asked;
  problem = "";
  try {
    const more = await api.ask(api.address("/api/history/alarms", { ...question, before: answer?.next }));
    if (question !== asked) return; // something else was asked meanwhile
    answer = { ...more, alarms: [...more.alarms, ...(answer?.alarms ?? [])] };
  } catch (reason) {
    problem = reason.message;
  }
  drawAgain();
}
actions.journal_older = fetchLines;

export const roomsKnown = () => drawAgain();
actions.journal_choose = (form) => go("journal", [], { ...fieldsOf(form), at: Date.now() }); // `at`: the same question may be asked again

export function render({ query }) {
  const rooms = [["", "every room"], ...knownRooms().map((one) => [one.room.room, one.room.room])];
  return [
    h("h1", "Journal"),
    h(
      "form.choices",
      { "data-submit": "journal_choose" },
      field("Room", select("room", rooms, query.room ?? "")),
      field("Alarm", h("input", { id: "alarm", name: "alarm", value: query.alarm ?? "", placeholder: "every alarm" })),
      field(
        "From",
        h("input", {
          id: "from",
          name: "from",
          type: "datetime-local",
          value: query.from ?? toInput(Date.now() - 7 * 86400e3).slice(0, 16),
        }),
      ),
      field("To", h("input", { id: "to", name: "to", type: "datetime-local", value: query.to ?? "" })),
      h("button", { type: "submit" }, "Show"),
    ),
    problem ? trouble(problem) : null,
    answer ? list(answer) : problem ? null : empty("Fetching…"),
  ];
}

const withQuantity = (record) => ({ ...record, quantity: quantityOf(record.room, record.alarm) });

/** Lines about outputs and users are about no alarm: their names and texts stand as they are. */
const isOfNoAlarm = (record) => record.alarm.includes("/");

function list({ alarms, next }) {
  if (!alarms.length) return empty("Nothing was recorded in that time.");
  const newest = [...alarms].sort((a, b) => b.sequence - a.sequence);
  const rows = newest.map((record) => ({
    key: String(record.sequence),
    cells: [
      when(record.at),
      [record.room ? roomLink(record.room) : null, h("div", isOfNoAlarm(record) ? record.alarm : spoken(record.alarm))],
      [
        h("b", spoken(record.event)),
        record.from === record.to ? null : h("div.quiet", `${nameOf(record.from)} → ${nameOf(record.to)}`),
        isOfNoAlarm(record) ? h("div", record.text) : null,
      ],
      typeof record.value === "number"
        ? [
            format.alarmValue(withQuantity(record)),
            typeof record.limit === "number"
              ? h("div.quiet", `limit ${format.alarmLimit(withQuantity(record))}`)
              : null,
          ]
        : "–",
      [
        record.author ? h("b", record.author) : h("span.quiet", "Oxherd"),
        record.comment ? h("div", record.comment) : null,
        h("div.quiet", `${priorities[record.priority]?.words.toLowerCase() ?? record.priority} priority`),
      ],
    ],
  }));
  return [
    table("Records of the journal", ["time", "alarm", "what happened", "value", "by, and why"], rows),
    next === null ? null : h("p", h("button", { type: "button", "data-do": "journal_older" }, "Older lines")),
  ];
}

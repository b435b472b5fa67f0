// Recorded readings over hours to years, and the files to take away.
import { address } from "../api.js";
import { actions, drawAgain } from "../actions.js";
import { h } from "../dom.js";
import { quantities } from "../format.js";
import { empty, field, section, select } from "../pieces.js";
import { knownRooms } from "../state.js";
import { bothTimes, fromInput, toInput } from "../times.js";
import { go } from "../router.js";
import { trendBox } from "../trend.js";

const HOUR = 3600e3;
const spans = [
  ["1 hour", HOUR],
  ["1 day", 24 * HOUR],
  ["1 week", 168 * HOUR],
  ["1 month", 730 * HOUR],
  ["1 year", 8766 * HOUR],
  ["5 years", 43830 * HOUR],
];
const able = {
  oxygen: ["dry_fraction", "u_dry_fraction", "po2_kpa", "raw_mv"],
  "carbon-dioxide": ["co2_fraction"],
  temperature: ["temperature_c"],
  humidity: ["humidity_percent"],
  pressure: ["pressure_kpa"],
  "over-pressure": ["over_pressure_pa"],
};

export const title = () => "History";
let trend = null;
let shown = null; // {room, sensor, quantity, from, to}
let waiting = false;

export function entered({ query }) {
  choose(query);
  drawAgain();
}
export const roomsKnown = ({ query }) => {
  if (!shown) {
    choose(query);
    drawAgain();
  }
};
export function left() {
  trend?.stop();
  trend = null;
  shown = null;
}

/** What is asked for, as far as there is such a thing. */
function choose(query) {
  const rooms = knownRooms().map((one) => one.room);
  waiting = rooms.length === 0;
  const room = rooms.find((one) => one.room === query.room) ?? rooms[0];
  if (!room) return;
  const useful = room.sensors.filter((one) => quantitiesOf(one).length);
  const sensor = useful.find((one) => one.sensor === query.sensor) ?? useful[0];
  if (!sensor) return;
  const names = quantitiesOf(sensor);
  const to = Number(query.to) || Date.now();
  shown = {
    room: room.room,
    sensor: sensor.sensor,
    to,
    from: Number(query.from) || to - 24 * HOUR,
    quantity: names.includes(query.quantity) ? query.quantity : names[0],
  };
}
const quantitiesOf = (sensor) => sensor.measures.flatMap((name) => able[name] ?? []);

export function painted() {
  const box = document.getElementById("history-trend");
  if (!box || !shown) return;
  if (trend) return;
  trend = trendBox(box, shown, zoomTo);
}

/** Zooming asks the daemon anew: a year in 600 points hides what a day in 600 points shows. */
function zoomTo(from, to) {
  const least = 60e3;
  const middle = (from + to) / 2;
  const half = Math.max(to - from, least) / 2;
  shown = { ...shown, from: middle - half, to: Math.min(middle + half, Date.now() + 1000) };
  const { room, ...rest } = shown;
  history.replaceState(
    null,
    "",
    `#/history?${new URLSearchParams({ room, ...rest, from: Math.round(shown.from), to: Math.round(shown.to) })}`,
  );
  trend?.show(shown);
  drawAgain();
}

actions.history_span = (button) => zoomTo(Date.now() - Number(button.dataset.ms), Date.now());
actions.history_move = (button) => {
  const width = shown.to - shown.from;
  const { by } = button.dataset;
  if (by === "in") zoomTo(shown.from + width / 4, shown.to - width / 4);
  else if (by === "out") zoomTo(shown.from - width / 2, Math.min(Date.now(), shown.to + width / 2));
  else zoomTo(shown.from + Number(by) * width, shown.to + Number(by) * width);
};
actions.history_choose = () => {
  const value = (id) => document.getElementById(id)?.value;
  const room = value("history-room");
  const sameRoom = room === shown.room;
  go("history", [], {
    room,
    sensor: sameRoom ? value("history-sensor") : "",
    quantity: sameRoom ? value("history-quantity") : "",
    from: Math.round(shown.from),
    to: Math.round(shown.to),
  });
};
actions.history_range = () => {
  const from = fromInput(document.getElementById("history-from").value);
  const to = fromInput(document.getElementById("history-to").value);
  if (from !== null && to !== null && from < to) zoomTo(from, to);
};

export function render({ query }) {
  if (!shown) choose(query);
  if (!shown)
    return [h("h1", "History"), empty(waiting ? "Waiting for the rooms." : "There is nothing recorded to show.")];
  const rooms = knownRooms().map((one) => one.room);
  const room = rooms.find((one) => one.room === shown.room);
  const sensor = room.sensors.find((one) => one.sensor === shown.sensor);
  const changes = { "data-change": "history_choose" };
  const useful = room.sensors.filter((one) => quantitiesOf(one).length);
  return [
    h("h1", "History"),
    h(
      "form.choices",
      { "data-submit": "history_range" },
      field(
        "Room",
        select(
          "history-room",
          rooms.map((one) => [one.room, one.room]),
          shown.room,
          changes,
        ),
      ),
      field(
        "Sensor",
        select(
          "history-sensor",
          useful.map((one) => [one.sensor, one.sensor]),
          shown.sensor,
          changes,
        ),
      ),
      field(
        "Quantity",
        select(
          "history-quantity",
          quantitiesOf(sensor).map((name) => [name, quantities[name].name]),
          shown.quantity,
          changes,
        ),
      ),
      field(
        "From",
        h("input", {
          id: "history-from",
          type: "datetime-local",
          step: 1,
          value: toInput(shown.from),
          "data-key": `f${Math.round(shown.from)}`,
        }),
      ),
      field(
        "To",
        h("input", {
          id: "history-to",
          type: "datetime-local",
          step: 1,
          value: toInput(shown.to),
          "data-key": `t${Math.round(shown.to)}`,
        }),
      ),
      h("button", { type: "submit" }, "Show"),
    ),
    h(
      "div.spans",
      { role: "group", "aria-label": "Range" },
      spans.map(([words, ms]) => h("button", { type: "button", "data-do": "history_span", "data-ms": ms }, words)),
    ),
    h(
      "div.spans",
      { role: "group", "aria-label": "Move" },
      [
        ["-0.5", "Earlier"],
        ["0.5", "Later"],
        ["in", "Closer"],
        ["out", "Farther"],
      ].map(([by, words]) => h("button", { type: "button", "data-do": "history_move", "data-by": by }, words)),
      h("span.quiet", " or drag over the curve"),
    ),
    section(
      `${quantities[shown.quantity].name}, ${shown.room}/${shown.sensor}`,
      h("div", { id: "history-trend", "data-keep": "", "data-key": "trend" }),
    ),
    section(
      "Files",
      h("p", `What was recorded from ${bothTimes(shown.from)} to ${bothTimes(shown.to)}:`),
      h("ul", exports()),
    ),
  ];
}

function exports() {
  const range = { from: new Date(shown.from).toISOString(), to: new Date(shown.to).toISOString() };
  const link = (what, format, words, extra) =>
    h(
      "li",
      h(
        "a",
        { href: address(`/api/history/${what}`, { room: shown.room, ...extra, ...range, format }), download: true },
        words,
      ),
    );
  const sensor = { sensor: shown.sensor };
  return [
    link("readings", "csv", `readings of ${shown.sensor}, CSV`, sensor),
    link("readings", "ndjson", `readings of ${shown.sensor}, NDJSON`, sensor),
    link("alarms", "csv", `alarm journal of ${shown.room}, CSV`, {}),
    link("alarms", "ndjson", `alarm journal of ${shown.room}, NDJSON`, {}),
  ];
}

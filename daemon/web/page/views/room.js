// One room: its value, how it got there, what it rests on, and what may be done.
import { h } from "../dom.js";
import { icon } from "../icons.js";
import * as format from "../format.js";
import {
  actButtons,
  atSite,
  empty,
  live as liveNumber,
  mark,
  section,
  since,
  statusMark,
  table,
  when,
} from "../pieces.js";
import { ageOf, knownRoom, knownRooms, onlyShows, siteIsCurrent, state } from "../state.js";
import { trendBox } from "../trend.js";
import { byUrgency } from "../urgency.js";
import { outputMark, proofActs, proofWords, provable } from "../proofs.js";
import { count, qualities, spoken, stateOf } from "../words.js";
import { controlSection } from "./room_control.js";
import { alarmLine, doorWords, doubts, regimeLine, relayWords, roomValue } from "./room_parts.js";

let shown = "";
let trend = null;
let again = null;
export const title = () => shown || "Room";
export const live = true;

export function entered({ parts }) {
  const one = knownRoom(parts[0]);
  if (one && !trend) startTrend(one.room); // painted has begun with it, if there was something to paint
}
export function left() {
  clearInterval(again);
  trend?.stop();
  trend = null;
}
export const painted = ({ parts }) => {
  if (!trend) entered({ parts });
};
export const reading = (one) => trend?.add(one);

const firstOf = (room, measurand) => room.sensors.find((sensor) => sensor.measures.includes(measurand));
function startTrend(room) {
  const oxygen = firstOf(room, "oxygen");
  const sensor = oxygen ?? firstOf(room, "carbon-dioxide") ?? room.sensors[0];
  const box = document.getElementById("room-trend");
  if (!sensor || !box) return;
  const quantity = oxygen
    ? "dry_fraction"
    : sensor.measures.includes("carbon-dioxide")
      ? "co2_fraction"
      : "temperature_c";
  trend = trendBox(box, { room: room.room, sensor: sensor.sensor, quantity, from: Date.now() - 3600e3, to: null });
  // A daemon tells each reading as it comes, the historian only how its rooms stand.
  if (onlyShows()) again = setInterval(() => trend?.show({ from: Date.now() - 3600e3 }), 30e3);
}

export function render({ parts }) {
  shown = parts[0] ?? "";
  const one = knownRoom(shown);
  if (!one) return [h("h1", shown), missing()];
  const { room, current } = one;
  const alarms = [...room.alarms].sort(byUrgency);
  return [
    h("p.back", h("a", { href: "#/rooms" }, "All rooms")),
    h("h1", room.room),
    h(
      "div.room-grid",
      h(
        "div",
        h(
          "section.panel.room-now",
          { "aria-label": "Now", class: current ? "" : "is-old" },
          regimeLine(room),
          regimeSource(room),
          roomValue(one),
          notMonitored(room),
          notInForce(room),
          room.monitored && doubts(room).length
            ? h("p.quiet", "Some of what this rests on is in doubt: see the sensors.")
            : null,
        ),
        section(
          "Alarms",
          atSite("This page only shows: acknowledge and reset at the page of the site's own daemon."),
          alarmLists(alarms, current),
        ),
        controlSection(room, current),
        room.entry_lock ? section("Entry lock", entryLock(room.entry_lock, current)) : null,
        section("Door and use", use(room, current)),
      ),
      h(
        "div",
        section(
          "Last hour",
          h("div", { id: "room-trend", "data-keep": "", "data-key": "trend" }),
          h("p", h("a", { href: `#/history?room=${encodeURIComponent(room.room)}` }, "History over days and years")),
        ),
        section("Sensors", sensors(one)),
        section("Outputs", outputs(room, current && siteIsCurrent())),
      ),
    ),
  ];
}

function missing() {
  if (!knownRooms().length) return empty("Waiting for the rooms.");
  return [
    h("p", "There is no such room. It may have been renamed or removed from the settings."),
    h("p", h("a", { href: "#/rooms" }, "All rooms")),
  ];
}

/** What is normal folds away: it is there for tests and for work on an alarm. */
function alarmLists(alarms, current) {
  const list = (some) =>
    h(
      "ul.alarm-list",
      some.map((alarm) => alarmItem(alarm, current)),
    );
  const standing = alarms.filter((alarm) => alarm.state !== "normal");
  const normal = alarms.filter((alarm) => alarm.state === "normal");
  return [
    standing.length ? list(standing) : empty("No alarm stands. That shows nothing of the air in the room."),
    normal.length
      ? h("details", { "data-key": "normal" }, h("summary", `Normal: ${count(normal.length, "alarm")}`), list(normal))
      : null,
  ];
}

function alarmItem(alarm, current) {
  const calm = alarm.state === "normal";
  return h(
    "li",
    { "data-key": alarm.alarm, class: calm ? "calm" : `tone-${stateOf(alarm).hidden ? "hidden" : alarm.priority}` },
    h(
      "div.alarm-line",
      alarmLine(alarm),
      typeof alarm.limit === "number" ? h("span.quiet", ` limit ${format.alarmLimit(alarm)}`) : null,
    ),
    calm ? null : h("p", "since ", since(alarm.since)),
    calm ? null : h("p.alarm-text", alarm.text),
    alarm.suppression ? h("p", hiddenWords(alarm.suppression)) : null,
    h("div.acts", actButtons(alarm, current)),
  );
}
export const hiddenWords = (suppression) => [
  suppression.until ? ["until ", when(suppression.until), " "] : "",
  suppression.by ? `by ${suppression.by}: ` : "",
  suppression.reason ?? "",
];

const measured = {
  oxygen: (last, sensor) =>
    sensor.quality === "bad" ? "no value" : format.oxygen(last.dry_fraction, twice(last.u_dry_fraction), 2),
  temperature: (last) => format.quantities.temperature_c.text(last.temperature_c),
  humidity: (last) => format.quantities.humidity_percent.text(last.humidity_percent),
  pressure: (last) => format.quantities.pressure_kpa.text(last.pressure_kpa),
  "carbon-dioxide": (last) => format.carbonDioxide(last.co2_fraction),
  "over-pressure": (last) =>
    typeof last.over_pressure_pa === "number" ? `${last.over_pressure_pa.toFixed(0)} Pa` : "not known",
  door: (last) => contact(last.door_open, "open", "closed"),
  occupancy: (last) => contact(last.people_in, "people in", "nobody in"),
  lights: (last) => contact(last.lights_on, "on", "off"),
  "air-flow": (last) => contact(last.air_flowing, "flowing", "standing"),
  "relief-valve": (last) => contact(last.relief_isolated, "isolated", "free"),
};
const contact = (state, yes, no) => (state === true ? yes : state === false ? no : "not known");
const twice = (u) => (typeof u === "number" ? 2 * u : null);

/** A sensor whose data are bad shows no number: whatever was last seen of it is of another time. */
function valueCell(sensor, current) {
  const names = sensor.measures.map(spoken).join(", ");
  if (sensor.quality === "bad" || !sensor.last) return h("span.no-value", `no valid value of ${names}`);
  return sensor.measures.map((name) =>
    h(
      "div",
      h("span.quiet", `${spoken(name)} `),
      liveNumber(measured[name]?.(sensor.last, sensor) ?? "not shown here", current),
    ),
  );
}

/** First what the number is good for, then what is the matter with the sensor, then why. */
const qualityCell = (sensor) => [
  h("div", qualities[sensor.quality] ?? spoken(sensor.quality)),
  sensor.status === "ok" ? null : h("div", statusMark(sensor.status)),
  sensor.reasons.map((reason) => h("div", reason.text)),
];

function sensors({ room, current, told }) {
  const rows = room.sensors.map((sensor) => ({
    key: sensor.sensor,
    class: sensor.quality === "good" ? "" : "doubtful",
    cells: [
      h("b", sensor.sensor),
      valueCell(sensor, current),
      qualityCell(sensor),
      [
        age(sensor, told),
        sensor.measures.includes("oxygen") && !onlyShows()
          ? h(
              "div",
              h(
                "a",
                {
                  href: `#/explain?room=${encodeURIComponent(room.room)}&sensor=${encodeURIComponent(sensor.sensor)}`,
                },
                `explain ${sensor.sensor}`,
              ),
            )
          : null,
      ],
    ],
  }));
  return table(`Sensors of ${room.room}`, ["sensor", "value", "quality", "age"], rows);
}
function age(sensor, told) {
  const seconds = ageOf(sensor, told);
  return seconds === null ? "never answered" : `${format.duration(Math.round(seconds))} old`;
}

/** Since when the room is used so, by whose word, and why. */
function regimeSource(room) {
  return h(
    "p",
    "since ",
    since(room.regime_since),
    room.regime_by ? ` by the word of ${room.regime_by}` : " as the settings file says",
    room.regime_because ? `: ${room.regime_because}` : "",
  );
}

/** What nobody is warned of while the room is used so. */
function notInForce(room) {
  const names = room.alarms.filter((alarm) => alarm.in_force === false).map((alarm) => spoken(alarm.alarm));
  return names.length ? h("p", mark("hidden", "shelf", `not in force now: ${names.join(", ")}`)) : null;
}

/** Whoever stands at the door must not take a room for watched that is not. */
function notMonitored(room) {
  if (room.monitored) return null;
  const alarm = room.alarms.find((one) => one.alarm === "not-monitored" && one.state !== "normal");
  return h(
    "p",
    alarm ? ["Not monitored since ", since(alarm.since), ". "] : "",
    "Treat its air as unknown. Do not enter without testing it with a certified monitor.",
  );
}

function use(room, current) {
  return [
    room.seal_broken
      ? h("p", mark("doubt", "triangle", "Its seal is broken (opened, or people seen): somebody may be in."))
      : null,
    doorWords(room)
      ? h("p", room.door === "closed" ? "door closed" : mark("doubt", "triangle", doorWords(room)))
      : empty("No sensor watches a door here."),
    onlyShows()
      ? atSite("Its use is set, and what acts on its air is shown, at the site's own daemon.")
      : state.session.user?.role === "viewer"
        ? empty("A viewer may look only.")
        : h(
            "button",
            { type: "button", "data-do": "regime", "data-room": room.room, disabled: !current },
            "Change the use of the room",
          ),
  ];
}

/** A lock can only withhold: that it does not is no word about the air. */
function entryLock(lock, current) {
  return [
    h(
      "p",
      lock.withheld
        ? [icon("lock"), " ", h("strong", "WITHHELD"), ", because"]
        : h("b", "not withheld: this is no leave to enter"),
    ),
    h(
      "ul",
      lock.reasons.map((reason) => h("li", reason)),
      lock.withheld && typeof lock.fresh_for_s === "number"
        ? h(
            "li",
            "fresh air has been shown for ",
            liveNumber(format.duration(lock.fresh_for_s), current),
            ` only; ${format.duration(lock.hold_s)} are needed`,
          )
        : null,
      lock.withheld && typeof lock.fresh_for_s !== "number"
        ? h("li", `fresh air has not been shown; it must be for ${format.duration(lock.hold_s)}`)
        : null,
    ),
    h("p", "Test the air with a certified monitor and follow the entry procedure."),
  ];
}

function outputs(room, current) {
  const own = (state.site?.outputs ?? []).filter((output) => output.rooms.includes(room.room));
  return [
    relayWords(room) ? h("p", relayWords(room)) : null,
    own.length
      ? h(
          "ul.outputs",
          own.map((output) => outputItem(output, current)),
        )
      : (atSite("Its outputs are shown at the site's own daemon.") ?? empty("No output serves this room.")),
  ];
}
const outputItem = (output, current) =>
  h(
    "li",
    { "data-key": output.name },
    h("p", h("b", output.name), ` (${spoken(output.kind)}) `, outputMark(output)),
    provable(output) ? proofWords(output) : null,
    proofActs(output, current),
  );

// How a room is shown, small on a card and large on its own view.
import { h } from "../dom.js";
import { icon } from "../icons.js";
import * as format from "../format.js";
import { alarmMark, live, mark, oldNote, statusMark } from "../pieces.js";
import { doubtful } from "../urgency.js";
import { regimes, spoken } from "../words.js";

export const measuresOxygen = (room) => room.sensors.some((sensor) => sensor.measures.includes("oxygen"));
const measuresCo2 = (room) => room.sensors.some((sensor) => sensor.measures.includes("carbon-dioxide"));

/** The value of a room with its uncertainty; instead of it, why there is none. */
export function roomValue({ room, current, since }) {
  const note = current ? null : oldNote(since);
  if (!room.monitored)
    return [
      h(
        "div.not-monitored",
        icon("unseen"),
        h("p", h("strong", "NOT MONITORED"), h("span", room.reason || "no reason was given")),
      ),
      note,
    ];
  const oxygen = measuresOxygen(room)
    ? format.oxygenParts(room.dry_fraction, room.u_expanded, room.coverage_factor)
    : null;
  const out = [];
  if (oxygen)
    out.push(
      h(
        "p.value",
        h("span.value-name", "oxygen"),
        " ",
        live([h("b", oxygen.value), h("span.unit", "\u202f%")], current),
        " ",
        live(h("span.spread", oxygen.uncertainty, " ", oxygen.coverage), current),
      ),
    );
  else if (measuresOxygen(room))
    out.push(h("p.value", h("span.value-name", "oxygen"), " ", h("b.no-value", "no value")));
  if (measuresCo2(room)) {
    const [value, unit] = format.carbonDioxide(room.co2_fraction).split("\u202f");
    out.push(
      h(
        "p",
        { class: oxygen ? "value second" : "value" },
        h("span.value-name", "CO\u2082"),
        " ",
        live([h("b", value), unit ? h("span.unit", `\u202f${unit}`) : null], current),
      ),
    );
  }
  if (!measuresOxygen(room)) out.push(h("p.quiet", "Oxygen is not measured here."));
  return [out, note];
}

/** Where the regime itself is a danger, it is said wherever the room is. */
export function regimeLine(room) {
  const words = regimes[room.regime] ?? spoken(room.regime);
  if (room.regime !== "sealed-low-oxygen") return h("p", words);
  return h(
    "p.sealed",
    icon("lock"),
    h(
      "span",
      h("strong", "SEALED"),
      ": its air is deadly by intent",
      room.seal_broken ? "; opened, or people seen, since" : "",
    ),
  );
}

export function doorWords(room) {
  if (room.door === null || room.door === undefined) return null;
  return room.door === "closed" ? "door closed" : room.door === "open" ? "DOOR OPEN" : "DOOR NOT KNOWN";
}
export const relayWords = (room) =>
  room.relay_energised === null || room.relay_energised === undefined
    ? null
    : room.relay_energised
      ? "alarm relay energised"
      : "alarm relay DROPPED (alarm)";

/** Door, lock and relay in one grey line; what warns is in capitals. */
export const facts = (room) =>
  [
    doorWords(room),
    room.entry_lock ? (room.entry_lock.withheld ? "entry lock withheld" : "entry lock not withheld") : null,
    relayWords(room),
  ].filter(Boolean);

/** Sensors that are not good, in words. */
export function doubts(room) {
  return doubtful(room).map((sensor) =>
    h(
      "li",
      { "data-key": sensor.sensor },
      h("b", sensor.sensor),
      " ",
      statusMark(sensor.status),
      " ",
      h("span", sensor.reasons.map((reason) => reason.text).join("; ")),
    ),
  );
}

export const alarmLine = (alarm) => [
  alarmMark(alarm),
  " ",
  h("b", spoken(alarm.alarm)),
  alarm.test ? [" ", mark("hidden", "flask", "TEST")] : null,
  alarm.first_out ? h("span.quiet", " first of its room") : null,
];

/** The values of a room in words, for a sheet of paper. */
export const valueWords = (room) => [
  measuresOxygen(room)
    ? `oxygen ${format.oxygen(room.dry_fraction, room.u_expanded, room.coverage_factor)}`
    : "oxygen is not measured",
  ...(measuresCo2(room) ? [`CO\u2082 ${format.carbonDioxide(room.co2_fraction)}`] : []),
];

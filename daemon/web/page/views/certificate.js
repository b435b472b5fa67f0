// The certificate of one calibration record, as a sheet to print.
import * as api from "../api.js";
import { drawAgain } from "../actions.js";
import { isByHand } from "../calibration_data.js";
import { h } from "../dom.js";
import { toDecimals } from "../format.js";
import { dated, empty, mark, section, table, trouble } from "../pieces.js";
import * as words from "../record_words.js";
import { hashOf } from "../router.js";
import { daemonNow, state } from "../state.js";
import { gases } from "../words.js";

export const title = () => "Certificate";
export const ofDaemon = true;
let found = null; // {standing, by, record}
let problem = "";

export async function entered({ parts: [room, sensor, number] }) {
  found = null;
  problem = "";
  try {
    const { records } = await api.ask(api.address("/api/calibrations", { room, sensor }));
    found = records.find((one) => String(one.record.number) === number) ?? null;
    if (!found) problem = `There is no record ${number} of ${room}/${sensor}.`;
    else if (found.record.act === "withdrawal")
      problem = "A withdrawal has no result: print the record that it withdraws.";
  } catch (reason) {
    problem = reason.message;
  }
  drawAgain();
}

export function render({ parts: [room = "", sensor = ""] }) {
  const back = h("p.back", h("a", { href: hashOf("calibration", [room, sensor]) }, `${room}/${sensor}`));
  if (problem) return [back, h("h1", "Certificate"), trouble(problem)];
  if (!found) return [back, h("h1", "Certificate"), empty("Fetching…")];
  const { record } = found;
  const notUsable = words.standingWords(found);
  return [
    back,
    h("h1", `${words.titles[record.act]} ${String(record.number).padStart(6, "0")}`),
    h(
      "p.on-screen",
      h("button", { type: "button", "data-do": "print" }, "Print"),
      " ",
      h(
        "a",
        { href: `/api/certificates/${record.number}?format=html`, target: "_blank", rel: "noopener" },
        "The certificate with organisation, place and owner",
      ),
    ),
    notUsable ? h("p.void", mark("doubt", "cross", notUsable)) : null,
    section("Item", item(record)),
    record.points.length ? section("Reference gases", referenceGases(record)) : null,
    record.points.length ? section("Conditions at the cell", conditions(record)) : null,
    record.points.length ? section("Results", results(record)) : null,
    remarks(record),
    h("p.hint", words.scopeWords),
    h(
      "p.signatures",
      `Performed by ${record.author || "not stated"} ________________   Authorised by ________________`,
    ),
  ];
}

const pairs = (rows) =>
  h(
    "dl.figures",
    rows.map(([name, value]) => h("div", h("dt", name), h("dd", value))),
  );

const item = (record) => [
  pairs([
    ["oxygen cell, serial number", record.serial || "not stated"],
    ["model", record.model || "not stated"],
    ["installed as", `${record.room}/${record.sensor}`],
    ["site", state.hello?.site ?? state.site?.site ?? "not stated"],
    ["performed", dated(record.performed)],
    ["recorded", dated(record.recorded)],
    ["printed", dated(daemonNow())],
    ["performed by", record.author || "not stated"],
  ]),
  h("p", words.methods[record.act]),
  record.points.some(isByHand) ? h("p", words.byHandWords) : null,
];

const gasName = (point) => gases[point.gas.kind] ?? point.gas.kind;

const referenceGases = (record) =>
  table(
    "Reference gases",
    ["gas", "oxygen of the dry gas", "cylinder", "traceability"],
    record.points.map((point, i) => ({
      key: String(i),
      cells: [
        gasName(point),
        words.percent(point.gas.oxygen),
        point.gas.cylinder || "–",
        words.traceability(point.gas),
      ],
    })),
  );

const conditions = (record) => [
  table(
    "Conditions at the cell",
    ["in", "temperature", "relative humidity", "station pressure"],
    record.points.map((point, i) => ({
      key: String(i),
      cells: [
        gasName(point),
        ...words.conditionsOf(point).map((one) => [h("div", one.text), h("div.quiet.small", one.from)]),
      ],
    })),
  ),
  h("p.hint", "Station pressure is the absolute pressure at the place, not reduced to sea level."),
];

/** How level the signal was; a point by hand has no such evidence, and says so. */
function evidence(point) {
  if (isByHand(point)) return h("b", "entered by hand: not measured by Oxherd");
  const { slope_per_minute, u_slope_per_minute, seconds, samples, scatter } = point.stability;
  return [
    h("div", words.withExpanded({ value: slope_per_minute, u: u_slope_per_minute }, "%/min", 100)),
    h("div.quiet.small", `${Math.round(seconds)} s, ${samples} samples, scatter ${toDecimals(scatter * 100, 3)} %`),
  ];
}

function results(record) {
  const adjusted = record.act === "adjustment";
  const columns = ["in", "signal", "drift of the signal", adjusted ? "before adjustment, as found" : "as found"];
  return [
    table(
      "Results",
      adjusted ? [...columns, "after adjustment, as left"] : columns,
      record.points.map((point, i) => ({
        key: String(i),
        cells: [
          gasName(point),
          words.millivolts(point.values.signal_V),
          evidence(point),
          words.percent(point.as_found),
          ...(adjusted ? [words.percent(point.as_left)] : []),
        ],
      })),
    ),
    record.characteristic
      ? pairs([
          ["sensitivity", words.sensitivity(record.characteristic)],
          ["zero signal", words.millivolts(record.characteristic.zero_V)],
        ])
      : null,
    h("p.hint", "Readings are fractions of oxygen in the dry gas. ", words.uncertaintyWords),
  ];
}

function remarks(record) {
  const lines = [
    record.supersedes ? `It replaces record ${record.supersedes}.` : "",
    ...record.warnings.map((text) => `Noted: ${text}`),
    record.reason ? `Reason given: ${record.reason}` : "",
  ].filter(Boolean);
  return lines.length
    ? section(
        "Remarks",
        h(
          "ul",
          lines.map((line) => h("li", line)),
        ),
      )
    : null;
}

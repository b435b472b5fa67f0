// The steps of a calibration as a person sees them.
import { h } from "../dom.js";
import { icon } from "../icons.js";
import { takeForm } from "./calibration_point.js";
import { isByHand } from "../calibration_data.js";
import * as format from "../format.js";
import { field, mark, section, select, table, trouble } from "../pieces.js";
import { conditionsOf, millivolts, percent } from "../record_words.js";
import { hashOf } from "../router.js";
import { day } from "../times.js";
import { count, gases, spoken } from "../words.js";

const cancel = () => h("button", { type: "button", "data-do": "calibration_cancel" }, "Cancel the calibration");

export function beginForm() {
  return section(
    "Begin",
    h(
      "p",
      "The cell becomes a function check, so its room may be not monitored meanwhile. Have a certified monitor with you.",
    ),
    h(
      "form",
      { "data-submit": "calibration_begin" },
      field(
        "What is to be done",
        select(
          "act",
          [
            ["adjustment", "calibrate: a new calibration"],
            ["check", "check against a gas, adjust nothing"],
            ["bump-test", "bump test: gas in, alarm out"],
          ],
          "adjustment",
        ),
      ),
      h("button.main-act", { type: "submit" }, "Begin"),
    ),
  );
}

/** The signal on its way to being level, and what to do when it is. */
export function settling({ look, chosen, taken }) {
  return [
    section(
      `Settling (${look.act}, ${count(look.points, "point")} taken)`,
      h(
        "p",
        look.stable ? mark("plain", "check", "LEVEL: the point may be taken") : mark("doubt", "clock", "NOT LEVEL YET"),
        look.seconds_left ? ` about ${format.duration(look.seconds_left)} more` : "",
      ),
      taken.length ? h("p", `Taken so far: ${taken.join("; ")}.`) : null,
      h(
        "ul",
        (look.waiting_for ?? []).map((words) => h("li", words)),
        (look.cautions ?? []).map((words) => h("li", icon("triangle"), ` ${words}`)),
      ),
      h("div", {
        id: "stability",
        "data-keep": "",
        "data-key": "stability",
        role: "img",
        "aria-label": "Signal of the cell over time",
      }),
      figures(look),
    ),
    section("Take the point", takeForm(look, chosen)),
    h(
      "div.acts",
      look.points
        ? h("button.main-act", { type: "button", "data-do": "calibration_judge" }, "Judge what was taken")
        : null,
      look.points ? h("button", { type: "button", "data-do": "calibration_another" }, "Another gas") : null,
      cancel(),
    ),
    h("p.hint", "A calibration that nobody looks at for 10 minutes ends by itself, without a record."),
  ];
}

function figures(look) {
  const q = format.quantities;
  const known = look.samples >= 3; // fewer make no line
  const slope =
    known && typeof look.slope_percent_per_minute === "number"
      ? `${format.toDecimals(look.slope_percent_per_minute, 3)} ± ${format.toDecimals(2 * look.u_slope_percent_per_minute, 3)} % a minute`
      : "not known yet";
  const line = (name, value, from = "") =>
    h("div", h("dt", name), h("dd", value, from ? h("span.quiet", ` from ${from}`) : null));
  return h(
    "dl.figures",
    line("signal", q.raw_mv.text(look.signal_mv)),
    line("reads, by the calibration so far", format.oxygen(look.dry_fraction, twice(look.u_dry_fraction), 2)),
    line("slope (its interval must lie within ±0.1)", slope),
    line(
      "scatter",
      known && typeof look.scatter_percent === "number"
        ? `${format.toDecimals(look.scatter_percent, 3)} %`
        : "not known yet",
    ),
    line(
      "window",
      `${format.duration(look.window_s)} of ${format.duration(look.window_wanted_s)}, ${count(look.samples ?? 0, "sample")}`,
    ),
    line("temperature", q.temperature_c.text(look.temperature_c), look.temperature_from),
    line("humidity", q.humidity_percent.text(look.humidity_percent), look.humidity_from),
    line("pressure", q.pressure_kpa.text(look.pressure_kpa), look.pressure_from),
  );
}
const twice = (u) => (typeof u === "number" ? 2 * u : null);

/** What speaks for and against the result, before it is recorded. */
export function judgement({ judged, recorded, life }) {
  const { record, refusals = [], warnings = record.warnings } = judged; // what was recorded has its warnings in the record
  const hard = refusals.some((one) => !one.can_be_overridden);
  return [
    section(
      recorded ? `Record ${record.number || ""} was made` : "Judged, not yet recorded",
      table(
        "Points",
        ["gas", "signal", "conditions", "as found", "as left"],
        record.points.map((point, i) => ({ key: String(i), cells: pointCells(point) })),
      ),
      list("To be considered", warnings) ?? h("p", "Nothing is to be considered."),
      list(
        "What speaks against it",
        refusals.map((one) => one.text + (one.can_be_overridden ? " (a reason may override this)" : "")),
      ),
    ),
    recorded
      ? afterwards(record)
      : hard
        ? [trouble("This cannot be recorded."), h("div.acts", back(), cancel())]
        : recordForm(refusals, life),
  ];
}

const list = (title, lines) =>
  lines.length
    ? [
        h("h3", title),
        h(
          "ul",
          lines.map((line) => h("li", line)),
        ),
      ]
    : null;

const pointCells = (point) => [
  [h("div", gases[point.gas.kind] ?? point.gas.kind), h("div.quiet", percent(point.gas.oxygen))],
  [h("div", millivolts(point.values.signal_V)), isByHand(point) ? mark("doubt", "spanner", "entered by hand") : null],
  conditionsOf(point).map((one) => h("div", `${one.text} `, h("span.quiet.small", `${one.name}, ${one.from}`))),
  percent(point.as_found),
  percent(point.as_left),
];

const afterwards = (record) =>
  h(
    "p",
    h("a", { href: hashOf("certificate", [record.room, record.sensor, String(record.number)]) }, "Its certificate"),
    " \u00b7 ",
    h("a", { href: "#/calibration" }, "All cells"),
  );

/** A record is never changed: what was wrong is replaced by a new one that says why. */
function recordForm(refusals, life) {
  const standing = (life?.records ?? []).filter((one) => one.standing === "stands" && one.record.act !== "withdrawal");
  const replaceable = standing.map(({ record }) => [
    String(record.number),
    `record ${record.number}, ${spoken(record.act)} of ${day(record.performed)}`,
  ]);
  return section(
    "Record it",
    h(
      "form",
      { "data-submit": "calibration_record" },
      replaceable.length
        ? field(
            "Replaces",
            select("replaces", [["", "no record: it is a new one"], ...replaceable], ""),
            "Only where that record was wrong; then a reason is needed.",
          )
        : null,
      field(
        refusals.length ? "Reason to record it all the same" : "Remark, or the reason to replace a record",
        h("textarea", { id: "reason", name: "reason", rows: 2 }),
      ),
      h("div.acts", h("button.main-act", { type: "submit" }, "Record"), back(), cancel()),
    ),
  );
}
const back = () => h("button", { type: "button", "data-do": "calibration_back" }, "Back to the signal");

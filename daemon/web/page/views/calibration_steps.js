// The steps of a calibration as a person sees them.
import { h } from "../dom.js";
import { icon } from "../icons.js";
import { pointWords } from "../calibration_data.js";
import * as format from "../format.js";
import { field, mark, section, select, table, trouble } from "../pieces.js";
import { count, gases } from "../words.js";

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
export function settling({ look }) {
  return [
    section(
      `Settling (${look.act}, ${count(look.points, "point")} taken)`,
      h(
        "p",
        look.stable ? mark("plain", "check", "LEVEL: the point may be taken") : mark("doubt", "clock", "NOT LEVEL YET"),
        look.seconds_left ? ` about ${format.duration(look.seconds_left)} more` : "",
      ),
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
    section("Take the point", takeForm(look)),
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
  const slope =
    typeof look.slope_percent_per_minute === "number"
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
      typeof look.scatter_percent === "number" ? `${format.toDecimals(look.scatter_percent, 3)} %` : "not known yet",
    ),
    line(
      "window",
      `${format.duration(look.window_s)} of ${format.duration(look.window_wanted_s)}, ${look.samples ?? 0} samples`,
    ),
    line("temperature", q.temperature_c.text(look.temperature_c), look.temperature_from),
    line("humidity", q.humidity_percent.text(look.humidity_percent), look.humidity_from),
    line("pressure", q.pressure_kpa.text(look.pressure_kpa), look.pressure_from),
  );
}
const twice = (u) => (typeof u === "number" ? 2 * u : null);

function takeForm(look) {
  const text = (id, label, placeholder) => field(label, h("input", { id, name: id, placeholder, autocomplete: "off" }));
  return h(
    "form.choices",
    { "data-submit": "calibration_take" },
    field("Gas on the cell", select("gas", Object.entries(gases), "fresh-air")),
    text("oxygen", "Oxygen of span gas, dry", "2.01 %"),
    text("u_oxygen", "its standard uncertainty", "0.02 %"),
    text("cylinder", "Cylinder", ""),
    text("certificate", "Certificate", "LK-CERT-88"),
    field("Certificate expires", h("input", { id: "expires", name: "expires", type: "date" })),
    h("button", { type: "submit", disabled: !look.stable }, "Take the point"),
  );
}

/** What speaks for and against the result, before it is recorded. */
export function judgement({ judged, recorded }) {
  const { record, refusals = [], warnings = record.warnings } = judged; // what was recorded has its warnings in the record
  const hard = refusals.some((one) => !one.can_be_overridden);
  return [
    section(
      recorded ? `Record ${record.number || ""} was made` : "Judged, not yet recorded",
      table(
        "Points",
        ["gas", "oxygen, dry", "as found", "as left"],
        record.points.map((point, i) => {
          const words = pointWords(point);
          return { key: String(i), cells: [gases[words.gas] ?? words.gas, words.oxygen, words.found, words.left] };
        }),
      ),
      warnings.length
        ? [
            h("h3", "To be considered"),
            h(
              "ul",
              warnings.map((words) => h("li", words)),
            ),
          ]
        : h("p", "Nothing speaks against it."),
      refusals.length
        ? [
            h("h3", "What speaks against it"),
            h(
              "ul",
              refusals.map((one) => h("li", one.text, one.can_be_overridden ? " (a reason may override this)" : "")),
            ),
          ]
        : null,
    ),
    recorded
      ? h("p", h("a", { href: "#/calibration" }, "All cells"))
      : hard
        ? [trouble("This cannot be recorded."), h("div.acts", back(), cancel())]
        : section(
            "Record it",
            h(
              "form",
              { "data-submit": "calibration_record" },
              field(
                refusals.length ? "Reason to record it all the same" : "Remark",
                h("textarea", { id: "reason", name: "reason", rows: 2 }),
              ),
              h("div.acts", h("button.main-act", { type: "submit" }, "Record"), back(), cancel()),
            ),
          ),
  ];
}
const back = () => h("button", { type: "button", "data-do": "calibration_back" }, "Back to the signal");

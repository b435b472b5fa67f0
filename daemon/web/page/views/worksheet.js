// Values typed in by hand, taken apart like a recorded reading.
import * as api from "../api.js";
import { actions, drawAgain } from "../actions.js";
import { fieldsOf, h } from "../dom.js";
import { explanation } from "../explain_parts.js";
import { empty, field, select, trouble } from "../pieces.js";

export const title = () => "Worksheet";
let answer = null;
let problem = "";

const models = [
  ["concentration", "concentration: passive galvanic cells"],
  ["partial-pressure", "partial pressure"],
  ["mole-fraction", "mole fraction: capillary cells"],
  ["nernst", "nernst: zirconia"],
];
const groups = [
  [
    "Now",
    [
      ["signal", "Signal", "11.9 mV"],
      ["temperature", "Temperature", "54 °F"],
      ["humidity", "Relative humidity", "88 %"],
      ["pressure", "Station pressure", "29.1 inHg"],
      ["elevation", "or elevation", "640 m"],
    ],
  ],
  [
    "At calibration",
    [
      ["cal-signal", "Signal", "12.6 mV"],
      ["cal-temperature", "Temperature", "21 °C"],
      ["cal-humidity", "Relative humidity", "45 %"],
      ["cal-pressure", "Station pressure", "99.8 kPa"],
      ["cal-oxygen", "Oxygen of the gas, dry", "20.946 %"],
      ["zero", "Zero signal", "0.4 mV"],
    ],
  ],
];

/** The signal's place says which inputs an answer needs; whatever is missing, the daemon says in words. */
actions.worksheet = async (form) => {
  problem = "";
  try {
    answer = await api.ask("/api/explain", { body: fieldsOf(form) });
  } catch (reason) {
    answer = null;
    problem = reason.message;
  }
  drawAgain();
};

export function render() {
  return [
    h("h1", "Worksheet"),
    h(
      "p",
      "Type values with their units, as you read them; the field beside each takes its standard uncertainty, if you know it.",
    ),
    h(
      "form",
      { "data-submit": "worksheet" },
      field("Kind of cell", select("cell", models, "concentration")),
      h(
        "div.sheet",
        groups.map(([name, fields]) => h("fieldset", h("legend", name), fields.map(pair))),
      ),
      h("button.main-act", { type: "submit" }, "Work it out"),
    ),
    problem ? trouble(problem) : null,
    answer ? explanation(answer) : problem ? null : empty("Nothing worked out yet."),
  ];
}

function pair([name, label, example]) {
  return h(
    "div.pair",
    field(label, h("input", { id: name, name, placeholder: example, autocomplete: "off" })),
    field(
      "± u",
      h("input", {
        id: `u-${name}`,
        name: `u-${name}`,
        "aria-label": `standard uncertainty of ${label}`,
        autocomplete: "off",
      }),
    ),
  );
}

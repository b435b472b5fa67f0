// Values typed in by hand, taken apart like a recorded reading.
import * as api from "../api.js";
import { actions, drawAgain } from "../actions.js";
import { fieldsOf, h } from "../dom.js";
import { oxygen } from "../format.js";
import { announce } from "../news.js";
import { explanation } from "../explain_parts.js";
import { empty, field, select, trouble } from "../pieces.js";
import { firstChoice, groups, lowWays, models, pressureWays, problemLines, valuesOf } from "../worksheet_data.js";

export const title = () => "Worksheet";
export const ofDaemon = true;
let chosen = firstChoice;
let answer = null;
let problem = "";

actions.worksheet = async (form) => {
  problem = "";
  try {
    answer = await api.ask("/api/explain", { body: valuesOf(fieldsOf(form), chosen) });
    announce(`Worked out: ${oxygen(answer.dry_fraction, answer.expanded?.dry_fraction, answer.coverage_factor)}`);
  } catch (reason) {
    answer = null;
    problem = reason.message;
  }
  drawAgain();
};
/** Which values are asked for follows from the kind of cell and from what is known of pressure and zero. */
actions.worksheet_choose = ({ form }) => {
  const given = fieldsOf(form);
  chosen = {
    cell: given.cell,
    pressure: given["how-pressure"],
    "cal-pressure": given["how-cal-pressure"],
    low: given["how-low"],
  };
  drawAgain();
};

const choice = (id, label, options, value) =>
  field(label, select(id, options, value, { "data-change": "worksheet_choose" }));

export function render() {
  const [now, calibration, cell] = groups(chosen);
  return [
    h("h1", "Worksheet"),
    h(
      "p",
      "Type values with their units, as you read them; the field beside each takes its standard uncertainty, if you know it.",
    ),
    h(
      "form",
      { "data-submit": "worksheet" },
      choice("cell", "Kind of cell", models, chosen.cell),
      h(
        "div.sheet",
        group(now, choice("how-pressure", "What is known of the pressure", pressureWays, chosen.pressure)),
        group(
          calibration,
          choice(
            "how-cal-pressure",
            "What is known of the pressure at calibration",
            pressureWays,
            chosen["cal-pressure"],
          ),
          choice("how-low", "Lower end of the calibration", lowWays, chosen.low),
        ),
        group(cell),
      ),
      h("button.main-act", { type: "submit" }, "Work it out"),
    ),
    problem ? problemLines(problem).map((line) => trouble(line)) : null,
    answer ? explanation(answer) : problem ? null : empty("Nothing worked out yet."),
  ];
}

const group = ({ title: name, fields, more }, ...choices) =>
  h(
    "fieldset",
    { "data-key": name },
    h("legend", name),
    choices,
    fields.map(pair),
    h("details", { "data-key": "more" }, h("summary", "Less common values"), more.map(pair)),
  );

function pair({ name, label, example, u }) {
  const value = field(label, h("input", { id: name, name, placeholder: example, autocomplete: "off" }));
  if (!u) return value;
  return h(
    "div.pair",
    { "data-key": `pair-${name}` },
    value,
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

// One point of a calibration: its gas, and what a person types where a signal or a probe is not at hand.
import { h } from "../dom.js";
import { field, select } from "../pieces.js";
import { gases } from "../words.js";

/** The point: its gas, and what is not taken from signal and probes. `chosen` is what the form stands at. */
export function takeForm(look, chosen) {
  const byHand = chosen.how === "by-hand";
  const cylinder = chosen.gas !== "fresh-air";
  return h(
    "form",
    { "data-submit": "calibration_take" },
    h(
      "div.choices",
      field(
        "The signal",
        select(
          "how",
          [
            ["live", "as it is now"],
            ["by-hand", "by hand: written down elsewhere"],
          ],
          chosen.how,
          { "data-change": "calibration_choose" },
        ),
      ),
      field(
        "Gas on the cell",
        select("gas", Object.entries(gases), chosen.gas, { "data-change": "calibration_choose" }),
      ),
      chosen.gas === "span-gas" ? pair("oxygen", "Its oxygen, dry, by its certificate", "2.01 %", "1 % of it") : null,
      cylinder ? text("cylinder", "Cylinder", "CY-4471") : null,
      cylinder ? text("certificate", "Certificate", "LK-CERT-88") : null,
      cylinder ? field("Certificate expires", h("input", { id: "expires", name: "expires", type: "date" })) : null,
    ),
    byHand ? byHandFields(cylinder) : probeFields(look, cylinder),
    h(
      "div.acts",
      byHand
        ? h("button.main-act", { type: "submit" }, "Enter the point")
        : h("button.main-act", { type: "submit", disabled: !look.stable }, "Take the point"),
    ),
  );
}

const text = (id, label, placeholder) => field(label, h("input", { id, name: id, placeholder, autocomplete: "off" }));
/** A value with its standard uncertainty; `usual` is what counts where none is typed. */
const pair = (name, label, example, usual) =>
  h(
    "div.pair",
    { "data-key": `pair-${name}` },
    text(name, label, example),
    field(
      "± u",
      h("input", {
        id: `u_${name}`,
        name: `u_${name}`,
        placeholder: usual,
        autocomplete: "off",
        "aria-label": `standard uncertainty of ${label}`,
      }),
    ),
  );
const conditionFields = (cylinder) => [
  pair("temperature", "Temperature of the gas", "21.3 °C", "0.3 K"),
  cylinder ? h("p.hint", "Gas from a cylinder counts as dry.") : pair("humidity", "Relative humidity", "45 %", "3 %"),
  pair("pressure", "Station pressure, not reduced to sea level", "99.8 kPa", "0.1 kPa"),
];

const byHandFields = (cylinder) =>
  h(
    "fieldset",
    { "data-key": "by-hand" },
    h("legend", "As it was written down"),
    h("p", "Nothing of it is seen here: the record and its certificate say that it was entered by hand."),
    h(
      "div.sheet",
      pair("signal", "Signal", "12.6 mV", "0.02 mV"),
      field("When it was taken", h("input", { id: "performed", name: "performed", type: "datetime-local", step: 1 })),
      conditionFields(cylinder),
    ),
  );

/** Where a probe is missing, a person reads the condition elsewhere. */
const probeFields = (look, cylinder) =>
  h(
    "details",
    { "data-key": "conditions" },
    h("summary", "Conditions typed by hand, where a probe is missing"),
    h(
      "p",
      `What stays empty is taken as it is now: temperature from ${look.temperature_from || "no probe"}, humidity from ${look.humidity_from || "no probe"}, pressure from ${look.pressure_from || "no probe"}.`,
    ),
    h("div.sheet", conditionFields(cylinder)),
  );

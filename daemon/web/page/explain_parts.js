// A reading taken apart: from what the signal alone would say, factor by factor, to the corrected value; and what its
// uncertainty is made of. Drawn beside the same numbers in words.
import { h } from "./dom.js";
import { icon } from "./icons.js";
import * as format from "./format.js";
import { empty, section, table, trouble } from "./pieces.js";
import { axisOf, budgetRows, waterfall } from "./explain_data.js";
import { spoken } from "./words.js";

export function explanation(answer) {
  const expanded = answer.expanded?.dry_fraction;
  if (typeof answer.dry_fraction !== "number")
    return [empty("There is no value to explain: the reading had none."), notes(answer)];
  return [
    h(
      "p.value",
      h("span.value-name", "oxygen, dry basis"),
      " ",
      h("b", format.oxygen(answer.dry_fraction, expanded, answer.coverage_factor)),
    ),
    proof(answer.stored),
    section("From the signal to the value", steps(answer)),
    section("What the uncertainty is made of", budget(answer)),
    section("Conditions", conditions(answer)),
    section("The same on other bases", others(answer)),
    notes(answer),
  ];
}

/** One bar of a row; the drawing stretches with its cell, so it holds no text. */
function bar(axis, from, to, kind) {
  const x = axis.place(Math.min(from, to));
  const width = Math.max(axis.place(Math.max(from, to)) - x, 0.6);
  return h(
    "svg",
    { class: "bar", viewBox: "0 0 100 10", preserveAspectRatio: "none", "aria-hidden": "true" },
    h("line", { x1: 0, x2: 100, y1: 9.9, y2: 9.9, class: "bar-ground" }),
    h("rect", { x, width, y: 1, height: 8, class: `bar-${kind}` }),
  );
}

function steps(answer) {
  const rows = waterfall(answer);
  if (!rows.length) return empty("The transmitter corrects its own cell: there are no factors of ours.");
  const axis = axisOf(rows);
  return [
    table(
      "Steps of the correction",
      ["step", "factor", "oxygen", "drawn"],
      rows.map((row) => ({
        key: row.name,
        class: row.total ? "total" : "",
        cells: [
          row.name,
          row.factor === null ? "" : format.factor(row.factor),
          `${format.toDecimals(row.to * 100, 3)}\u202f%`,
          bar(axis, row.total ? axis.low : row.from, row.to, row.total ? "total" : row.to >= row.from ? "up" : "down"),
        ],
      })),
    ),
    h(
      "p.hint",
      `The bars run from ${format.toDecimals(axis.low * 100, 2)}\u202f% to ${format.toDecimals(axis.high * 100, 2)}\u202f%, not from zero.`,
    ),
  ];
}

function budget(answer) {
  const rows = budgetRows(answer.budget ?? []);
  if (!rows.length) return empty("No budget was given.");
  const axis = axisOf(
    [
      { from: 0, to: 0 },
      { from: 0, to: rows[0].share },
    ],
    0,
  );
  const share = (row) => (row.share < 0.001 ? "< 0.1" : format.toDecimals(row.share * 100, 1));
  return [
    h(
      "p",
      `Standard uncertainty ${format.significant(answer.u.dry_fraction * 100, 2)}\u202f% oxygen; expanded ${format.significant(answer.expanded.dry_fraction * 100, 2)}\u202f% (k = ${answer.coverage_factor}).`,
    ),
    table(
      "Uncertainty budget",
      ["input", "contribution", "share of the variance", "drawn"],
      rows.map((row) => ({
        key: row.input,
        cells: [
          inputName(row.input),
          `${format.significant(Math.abs(row.contribution) * 100, 2)}\u202f%`,
          `${share(row)}\u202f%`,
          bar(axis, 0, row.share, "total"),
        ],
      })),
    ),
  ];
}
function inputName(name) {
  if (name.startsWith("cal-")) return `${spoken(name.slice(4))} at calibration`;
  return name.startsWith("low-") ? `${spoken(name.slice(4))} at the low point` : spoken(name);
}

function conditions(answer) {
  const row = (name, now, then, from) => ({ key: name, cells: [name, now, then, from ?? ""] });
  const q = format.quantities;
  return table(
    "Conditions now and at calibration",
    ["quantity", "now", "at calibration", "now obtained from"],
    [
      row(
        "signal",
        q.raw_mv.text(answer.signal_mv),
        q.raw_mv.text(answer.cal_signal_mv),
        `zero ${q.raw_mv.text(answer.zero_mv)}`,
      ),
      row(
        "temperature",
        q.temperature_c.text(answer.temperature_c),
        q.temperature_c.text(answer.cal_temperature_c),
        answer.temperature_from,
      ),
      row(
        "humidity",
        q.humidity_percent.text(answer.humidity_percent),
        q.humidity_percent.text(answer.cal_humidity_percent),
        answer.humidity_from,
      ),
      row(
        "station pressure",
        q.pressure_kpa.text(answer.pressure_kpa),
        [
          q.pressure_kpa.text(answer.cal_pressure_kpa),
          answer.cal_pressure_from ? h("div.quiet.small", answer.cal_pressure_from) : null,
        ],
        answer.pressure_from,
      ),
      row(
        "vapour pressure",
        q.pressure_kpa.text(answer.vapour_pressure_kpa),
        q.pressure_kpa.text(answer.cal_vapour_pressure_kpa),
        "",
      ),
    ],
  );
}

function others(answer) {
  const both = (value, expanded, scale, unit) => {
    const texts = format.rounded(
      typeof value === "number" ? value * scale : null,
      typeof expanded === "number" ? expanded * scale : null,
    );
    return texts.value
      ? `${texts.value}\u202f${unit}${texts.expanded ? ` ± ${texts.expanded}\u202f${unit}` : ""}`
      : "no value";
  };
  const e = answer.expanded ?? {};
  return h(
    "ul.plain",
    h("li", "wet basis ", both(answer.wet_fraction, e.wet_fraction, 100, "%")),
    h("li", "partial pressure ", both(answer.po2_kpa, e.po2_kpa, 1, "kPa")),
    h("li", "sea-level equivalent ", both(answer.sea_level_equivalent, e.sea_level_equivalent, 100, "%")),
    h(
      "li",
      "amount ",
      both(answer.molar_mol_m3, e.molar_mol_m3, 1, "mol/m³"),
      ", mass ",
      both(answer.mass_g_m3, e.mass_g_m3, 1, "g/m³"),
    ),
  );
}

function proof(stored) {
  if (!stored) return null;
  const source = stored.calibration
    ? stored.calibration.number === null
      ? "the calibration of the settings file"
      : `calibration record ${stored.calibration.number}`
    : "no calibration";
  const again = stored.derivation
    ? h(
        "p",
        `Formed anew by derivation ${stored.derivation.number}, ${stored.derivation.author}: ${stored.derivation.reason}`,
      )
    : null;
  if (stored.every_digit_agrees)
    return [
      h(
        "p",
        icon("check"),
        ` Formed anew from the recorded inputs with ${source}: every digit agrees with the record.`,
      ),
      again,
    ];
  return [
    trouble(`Formed anew with ${source}, it does NOT agree with the record.`),
    h("pre", JSON.stringify({ recorded: stored.recorded, formed_anew: stored.formed_anew }, null, 2)),
    again,
  ];
}

function notes(answer) {
  const list = (title, lines) =>
    lines?.length
      ? section(
          title,
          h(
            "ul",
            lines.map((line) => h("li", line)),
          ),
        )
      : null;
  return [
    list("Doubts", [...(answer.warnings ?? []), ...(answer.stored?.reasons ?? [])]),
    list("Taken as given", answer.assumed),
  ];
}

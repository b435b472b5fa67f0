// The whole life of one cell: how its sensitivity went, what comes next, every record of it.
import { h } from "../dom.js";
import { isByHand, pointWords } from "../calibration_data.js";
import { empty, mark, section, table, when } from "../pieces.js";
import { hashOf } from "../router.js";
import { state } from "../state.js";
import { day } from "../times.js";
import { gases, spoken } from "../words.js";

export function life({ cell, records }) {
  return section(
    "Life of the cell",
    h(
      "p",
      `Serial number ${cell.serial || "not given"}; in use since ${cell.first_use ? day(cell.first_use) : "an unknown day"}.`,
    ),
    h(
      "ul.plain",
      forecast("worn", cell.worn),
      forecast("spent", cell.spent),
      cell.replace_by ? h("li", `replace by ${day(cell.replace_by)}`) : null,
    ),
    records?.length
      ? table(
          "Records of the cell",
          ["record", "act", "gas, as found, as left", "standing"],
          [...records].reverse().map(row),
        )
      : empty("Nothing is on record of it."),
  );
}

function forecast(words, one) {
  if (!one || (!one.expected && !one.unknown)) return null;
  return h(
    "li",
    one.expected
      ? `${words} about ${day(one.expected)} (${one.earliest ? day(one.earliest) : "?"} to ${one.latest ? day(one.latest) : "?"})`
      : `${words}: ${one.unknown}`,
  );
}

function row({ standing, by, record }) {
  const role = state.session.user?.role ?? "engineer"; // whoever has not signed in yet is asked who it is
  const may = standing === "stands" && record.act !== "withdrawal" && role === "engineer";
  return {
    key: String(record.number),
    cells: [
      [h("b", String(record.number)), h("div", when(record.performed))],
      [
        spoken(record.act),
        record.supersedes
          ? h("div", `${record.act === "withdrawal" ? "of" : "replaces"} record ${record.supersedes}`)
          : null,
        h("div.quiet", record.author),
        record.reason ? h("div", record.reason) : null,
      ],
      record.points.map((point) => {
        const words = pointWords(point);
        const byHand = isByHand(point) ? ", by hand" : "";
        return h("div", `${gases[words.gas] ?? words.gas}${byHand}: ${words.found}, ${words.left}`);
      }),
      [
        standing === "stands" ? "stands" : mark("hidden", "cross", `${standing}${by ? ` by ${by}` : ""}`),
        record.act === "withdrawal"
          ? null
          : h(
              "div",
              h(
                "a",
                {
                  href: hashOf("certificate", [record.room, record.sensor, String(record.number)]),
                  "aria-label": `Certificate of record ${record.number}`,
                },
                "Certificate",
              ),
            ),
        may
          ? h(
              "div",
              h(
                "button",
                {
                  type: "button",
                  "data-do": "calibration_withdraw",
                  "data-number": record.number,
                  "aria-label": `Withdraw record ${record.number}`,
                },
                "Withdraw",
              ),
            )
          : null,
      ],
    ],
  };
}

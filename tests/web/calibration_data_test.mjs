// What is typed for a calibration, and what its records say in words.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { dueWords, isByHand, pointOf, pointWords } from "../../daemon/web/page/calibration_data.js";
import { conditionsOf, sensitivity, standingWords } from "../../daemon/web/page/record_words.js";
import { siOf, units } from "../../daemon/web/page/units.js";

process.env.TZ = "Europe/Amsterdam";

test("a typed value is read in SI, in every unit that the daemon knows", () => {
  const near = (text, kind, si) => {
    const read = siOf(text, kind).si;
    assert.ok(Math.abs(read - si) <= 1e-9 * Math.abs(si), `${text}: ${read}`);
  };
  near("12.6 mV", "voltage", 0.0126);
  near("29.1 inHg", "pressure", 98543.90943);
  near("99.8kPa", "pressure", 99800);
  near("54 °F", "temperature", 285.372222222);
  near("\u22122 °C", "temperature", 271.15);
  near("0.9 °F", "difference", 0.5);
  near("45 %", "humidity", 0.45);
  near("800 ppm", "ratio", 0.0008);
});
test("the page spells every unit as the daemon does, and makes as much of it", () => {
  const source = readFileSync(new URL("../../compensation/unit_table.cpp", import.meta.url), "utf8");
  const kinds = { temperature_difference: "difference" };
  const table = [...source.matchAll(/Unit\{"([^"]+)", Dimension::(\w+)(?:, ([^,}]+))?/g)].map(
    ([, symbol, dimension, scale = "1"]) => ({
      symbol: JSON.parse(`"${symbol}"`),
      kind: kinds[dimension] ?? dimension,
      factor: Number(scale), // NaN for a named constant
    }),
  );
  const mine = table.filter(({ kind }) => kind in units);
  assert.ok(mine.length > 40, `${mine.length} spellings were found in the table`);
  for (const { symbol, kind, factor } of mine) {
    assert.ok(symbol in units[kind], `${symbol} of ${kind}`);
    if (!Number.isNaN(factor)) assert.equal(units[kind][symbol].factor, factor, `${symbol} of ${kind}`);
  }
});
test("a typed value without its unit, with a comma or of another kind is refused in words", () => {
  assert.match(siOf("20.9", "ratio").problem, /has no unit/);
  assert.match(siOf("1,013 hPa", "pressure").problem, /comma/);
  assert.match(siOf("20 °C", "pressure").problem, /another unit; .*"99\.8 kPa"/);
  assert.match(siOf("two %", "ratio").problem, /does not start with a number/);
  assert.match(siOf("", "ratio").problem, /missing/);
});
test("a span gas is refused without its oxygen; its uncertainty is 1 % of that where none is typed", () => {
  assert.match(pointOf({ gas: "span-gas" }).problem, /Oxygen of the gas: missing/);
  assert.deepEqual(pointOf({ gas: "span-gas", oxygen: "2 %" }).step.oxygen, [0.02, 0.0002]);
  assert.deepEqual(pointOf({ gas: "span-gas", oxygen: "2 %", u_oxygen: "0.01 %" }).step.oxygen, [0.02, 0.0001]);
  assert.match(pointOf({ gas: "span-gas", oxygen: "2 %", u_oxygen: "1" }).problem, /Uncertainty of oxygen of the gas/);
});
test("fresh air needs nothing, and takes no cylinder along", () => {
  assert.deepEqual(pointOf({ gas: "fresh-air", cylinder: "CY-4471" }).step, { gas: "fresh-air" });
});
test("a certificate is good until the end of the day on which it expires", () => {
  const { step } = pointOf({ gas: "nitrogen", cylinder: "CY-4402", certificate: "LK-CERT-70", expires: "2027-03-31" });
  assert.deepEqual(step, {
    gas: "nitrogen",
    cylinder: "CY-4402",
    certificate: "LK-CERT-70",
    expires: "2027-03-31T23:59:59Z",
  });
});
test("conditions typed by hand go along with their uncertainty, the usual one where none is typed", () => {
  const { step } = pointOf({ gas: "fresh-air", pressure: "99.8 kPa", temperature: "21 °C", u_temperature: "0.2 K" });
  assert.deepEqual(step, { gas: "fresh-air", pressure: [99800, 100], temperature: [294.15, 0.2] });
});
test("a point by hand needs all that was written down then, and cylinder gas no humidity", () => {
  const given = {
    how: "by-hand",
    gas: "fresh-air",
    signal: "12.6 mV",
    temperature: "21 °C",
    humidity: "45 %",
    pressure: "99.8 kPa",
    performed: "2026-03-01T08:00",
  };
  const { step } = pointOf(given);
  assert.deepEqual(step.signal, [0.0126, 0.00002]);
  assert.equal(step.performed, new Date("2026-03-01T08:00").toISOString());
  for (const key of ["signal", "temperature", "humidity", "pressure", "performed"]) {
    const { [key]: left, ...rest } = given;
    assert.ok(pointOf(rest).problem, `without ${key} (${left})`);
  }
  const { humidity, ...dry } = given;
  assert.equal(pointOf({ ...dry, gas: "nitrogen" }).problem, undefined, `the humidity ${humidity} is for air`);
});
test("a record says of each condition where it came from, and of a point by hand that it is one", () => {
  const uncertain = (value, u) => ({ value, u });
  const point = {
    values: {
      gas: {
        temperature_K: uncertain(294.25, 0.3),
        humidity: uncertain(0.41, 0.03),
        pressure_Pa: uncertain(97210, 100),
      },
    },
    stability: { samples: 0 },
    temperature_from: "typed",
    humidity_from: "cryo-annexe/air",
    pressure_from: "",
  };
  const plain = conditionsOf(point).map((one) => `${one.text}, ${one.from}`.replaceAll("\u202f", " "));
  assert.deepEqual(plain, [
    "21.10 °C ± 0.60 °C, typed by hand",
    "41.0 % ± 6.0 %, from cryo-annexe/air",
    "97.21 kPa ± 0.20 kPa, source not recorded",
  ]);
  assert.equal(isByHand(point), true);
  assert.equal(isByHand({ stability: { samples: 120 } }), false);
});
test("a sensitivity is shown in the unit of the trade", () => {
  const one = { sensitivity: 1.4436e-3, u_sensitivity: 6.9e-6, sensitivity_unit: "V/(mol/m3)" };
  assert.equal(sensitivity(one).replaceAll("\u202f", " "), "1.444 mV/(mol/m³) ± 0.014 mV/(mol/m³)");
});
test("a record that stands no more says so, and by which it was replaced", () => {
  assert.equal(standingWords({ standing: "superseded", by: 9 }), "SUPERSEDED by record 9. Do not use.");
  assert.equal(standingWords({ standing: "stands", by: null }), "");
});
test("what a cell showed of a gas is rounded to its uncertainty, k = 2", () => {
  const words = pointWords({
    gas: { kind: "fresh-air", oxygen: { value: 0.20946, u: 0.00006 } },
    as_found: { value: 0.2101, u: 0.0007 },
    as_left: null,
  });
  assert.equal(words.found.replaceAll("\u202f", " "), "21.01 % ± 0.14 % (k = 2)");
  assert.equal(words.left, "–");
});
test("a cell that is not calibrated says so before anything else", () => {
  assert.equal(dueWords({ calibrated: false, status: "failure", reasons: [{ text: "spent" }] })[0], "NOT CALIBRATED");
  assert.deepEqual(
    dueWords({ calibrated: true, status: "ok", check_overdue: false, calibration_overdue: false, failed_check: false }),
    [],
  );
});

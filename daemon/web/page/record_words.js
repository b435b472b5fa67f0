// What a calibration record says, in words and rounded numbers: for the judgement before it, and for its certificate. Pure.
import { rounded } from "./format.js";

const NARROW = "\u202f";

/** "12.211 mV ± 0.040 mV" of {value, u} in SI; U = 2 u, as everywhere on a certificate. */
export function withExpanded(one, unit, factor = 1, offset = 0) {
  if (!one || typeof one.value !== "number") return "–";
  const texts = rounded(one.value * factor + offset, 2 * Math.abs(one.u * factor));
  const uncertainty = texts.expanded ? ` ± ${texts.expanded}${NARROW}${unit}` : " ± unknown";
  return `${texts.value.replace("-", "\u2212")}${NARROW}${unit}${uncertainty}`;
}
export const percent = (one) => withExpanded(one, "%", 100);
export const millivolts = (one) => withExpanded(one, "mV", 1e3);

/** The conditions of a point with where each came from; by hand where a person typed it. */
export function conditionsOf(point) {
  const gas = point.values?.gas ?? {};
  const from = (source) => (source === "typed" ? "typed by hand" : source ? `from ${source}` : "source not recorded");
  return [
    {
      name: "temperature",
      text: withExpanded(gas.temperature_K, "°C", 1, -273.15),
      from: from(point.temperature_from),
    },
    { name: "relative humidity", text: withExpanded(gas.humidity, "%", 100), from: from(point.humidity_from) },
    { name: "station pressure", text: withExpanded(gas.pressure_Pa, "kPa", 1e-3), from: from(point.pressure_from) },
  ];
}

export const titles = {
  adjustment: "Calibration certificate",
  check: "Calibration check certificate",
  "bump-test": "Bump test report",
};

export const methods = {
  adjustment:
    "The signal of the cell was taken in each gas after it was shown to be level. Its sensitivity follows from the straight line through the points, with temperature, humidity and station pressure at the cell. Readings rest on it from the time of performance on.",
  check:
    "The corrected reading of the cell, with the calibration in force, was compared with each gas after the signal was shown to be level. Nothing was adjusted.",
  "bump-test":
    "Gas was applied to show that it reaches the cell and that the alarm acts. This has no measured result, and nothing was adjusted.",
};

export const byHandWords =
  "What is marked as entered by hand was measured elsewhere: nothing shows here that its signal was level.";

/** What makes the oxygen of a gas believable. */
export function traceability({ kind, certificate, expires }) {
  if (kind === "fresh-air") return "natural composition of outdoor air; no certified gas was used";
  if (!certificate) return "no certificate was recorded: traceability is not shown";
  return `certificate ${certificate}; ${expires ? `valid until ${expires.slice(0, 10)}` : "no date of expiry was recorded"}`;
}

/** The daemon's unit of a sensitivity, in that of the trade. */
export function sensitivity({ sensitivity, u_sensitivity, sensitivity_unit }) {
  const [factor, unit] = {
    "V/(mol/m3)": [1e3, "mV/(mol/m³)"],
    "V/Pa": [1e6, "mV/kPa"],
    V: [10, "mV per % oxygen"],
  }[sensitivity_unit] ?? [1, sensitivity_unit];
  return withExpanded({ value: sensitivity, u: u_sensitivity }, unit, factor);
}

/** Why it must not be used any more; empty while it stands. */
export const standingWords = ({ standing, by }) =>
  standing === "stands" ? "" : `${standing.toUpperCase()}${by ? ` by record ${by}` : ""}. Do not use.`;

export const uncertaintyWords =
  "The figure after ± is the expanded uncertainty U = k u with the coverage factor k = 2, which for a normal distribution covers about 95 %. It does not include how the cell changes afterwards.";
export const scopeWords =
  "The results apply to this item only, as it was at the stated time, place and conditions. This is an internal record: no accreditation is claimed.";

// What the life of cells and a calibration under way amount to. Pure.
import { oxygen } from "./format.js";
import { day, fromInput } from "./times.js";
import { siOf } from "./units.js";

/** Why a person must see to a cell, in words; empty when nothing is due. */
export function dueWords(cell) {
  const words = [];
  if (!cell.calibrated) words.push("NOT CALIBRATED");
  const said = cell.status && cell.status !== "ok" ? (cell.reasons ?? []).map((reason) => reason.text) : [];
  if (said.length) return [...new Set([...words, ...said])]; // the daemon says it better
  if (cell.failed_check) words.push("failed its check");
  if (cell.calibration_overdue) words.push(`calibration overdue since ${day(cell.next_calibration)}`);
  if (cell.check_overdue) words.push(`check overdue since ${day(cell.next_check)}`);
  return words;
}

export const dueCells = (cells) =>
  cells.map((cell) => ({ cell, words: dueWords(cell) })).filter((one) => one.words.length);

/** The first word of what is wrong, or what `read` makes of each field. Every value is [value, standard uncertainty] in SI. */
class Fields {
  problem = "";
  constructor(given) {
    this.given = given;
  }
  /** Empty where nothing is typed and it is not needed. An uncertainty that is not typed is `usual`. */
  pair(key, label, kind, usual, { u_kind = kind, needed = false } = {}) {
    if (!this.given[key] && !needed) return undefined;
    const value = siOf(this.given[key], kind);
    if (value.problem) return this.complain(`${label}: ${value.problem}`);
    if (!this.given[`u_${key}`]) return [value.si, typeof usual === "function" ? usual(value.si) : usual];
    const u = siOf(this.given[`u_${key}`], u_kind);
    if (u.problem) return this.complain(`Uncertainty of ${label.toLowerCase()}: ${u.problem}`);
    return [value.si, u.si];
  }
  complain(words) {
    this.problem ||= words;
    return undefined;
  }
}
const withoutGaps = (object) => Object.fromEntries(Object.entries(object).filter(([, value]) => value !== undefined));

/** Standard uncertainties where none is typed, as `oxherd calibrate` takes them. */
const usual = { temperature_K: 0.3, humidity: 0.03, pressure_Pa: 100, signal_V: 0.02e-3, of_gas: (x) => x * 0.01 };

/** {step} of the daemon's calibration from the fields of the form, or {problem} in words. Conditions that are not typed are
 * those of the probes; the humidity of cylinder gas is not asked for. A point by hand needs all of them. */
export function pointOf(given) {
  const fields = new Fields(given);
  const byHand = given.how === "by-hand";
  const cylinder = given.gas !== "fresh-air";
  const step = {
    gas: given.gas,
    oxygen:
      given.gas === "span-gas"
        ? fields.pair("oxygen", "Oxygen of the gas", "ratio", usual.of_gas, { needed: true })
        : undefined,
    cylinder: cylinder ? given.cylinder : undefined,
    certificate: cylinder ? given.certificate : undefined,
    expires: cylinder && given.expires ? `${given.expires}T23:59:59Z` : undefined, // good until the end of that day
    temperature: fields.pair("temperature", "Temperature", "temperature", usual.temperature_K, {
      u_kind: "difference",
      needed: byHand,
    }),
    humidity: cylinder
      ? undefined
      : fields.pair("humidity", "Relative humidity", "humidity", usual.humidity, { needed: byHand }),
    pressure: fields.pair("pressure", "Station pressure", "pressure", usual.pressure_Pa, { needed: byHand }),
  };
  if (byHand) {
    step.signal = fields.pair("signal", "Signal", "voltage", usual.signal_V, { needed: true });
    const at = fromInput(given.performed ?? "");
    if (at === null) fields.complain("When it was taken: give the day and the time.");
    else step.performed = new Date(at).toISOString();
  }
  return fields.problem ? { problem: fields.problem } : { step: withoutGaps(step) };
}

/** Whether a point was written down elsewhere: nothing of its signal was seen here. */
export const isByHand = (point) => point.stability?.samples === 0;

/** A point of a record in a line: gas, what the cell showed of it before and after. */
export function pointWords(point) {
  const percent = (one) => (one ? oxygen(one.value, 2 * one.u, 2) : "–");
  return {
    gas: point.gas.kind,
    oxygen: percent(point.gas.oxygen),
    found: percent(point.as_found),
    left: percent(point.as_left),
  };
}

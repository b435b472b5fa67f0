// What the life of cells and a calibration under way amount to. Pure.
import { oxygen } from "./format.js";
import { day } from "./times.js";

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

/** "2.01 %" or "0.0201" as a ratio; null for anything else. */
export function ratioOf(text) {
  const match = /^\s*([0-9]+(?:\.[0-9]+)?)\s*(%?)\s*$/.exec(text ?? "");
  if (!match) return null;
  const value = Number(match[1]) / (match[2] ? 100 : 1);
  return value <= 1 ? value : null;
}

/** {gas} of a step from the fields of the form, or {problem} in words. */
export function gasOf(fields) {
  const gas = { gas: fields.gas };
  for (const key of ["certificate", "cylinder"]) if (fields[key]) gas[key] = fields[key];
  if (fields.expires) gas.expires = `${fields.expires}T00:00:00Z`;
  if (fields.gas !== "span-gas") return { gas };
  const oxygen = ratioOf(fields.oxygen);
  const u = ratioOf(fields.u_oxygen);
  if (oxygen === null) return { problem: 'Oxygen of the gas: write it with its unit, such as "2.01 %".' };
  if (u === null) return { problem: 'Its standard uncertainty: write it with its unit, such as "0.02 %".' };
  return { gas: { ...gas, oxygen: [oxygen, u] } };
}

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

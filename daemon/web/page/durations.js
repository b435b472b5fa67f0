// How long an alarm may be hidden or tested, as a list to choose from. Pure.
import { duration } from "./format.js";

const steps_s = [900, 3600, 14400, 28800, 86400, 259200];

/** What the alarm itself permits for an act, in seconds. A safety alarm may not be shelved at all. */
export function atMost(alarm, act) {
  if (act === "remove_from_service") return alarm.out_of_service_at_most_s ?? 0;
  return alarm.safety ? 0 : (alarm.shelve_at_most_s ?? 0);
}

/** {options, chosen}: times up to the longest that is permitted, which is always offered; an hour where that may be. */
export function hidingTimes(at_most_s) {
  const times = [...steps_s.filter((s) => s < at_most_s), at_most_s];
  return {
    options: times.map((s) => [String(s), duration(s)]),
    chosen: String(times.filter((s) => s <= 3600).at(-1) ?? times[0]),
  };
}

/** A test must outlast the delay of the alarm; ten minutes are the longest. */
export const testTimes = { options: [60, 300, 600].map((s) => [String(s), duration(s)]), chosen: "300" };

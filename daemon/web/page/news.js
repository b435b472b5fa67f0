// What a person must hear of though they look elsewhere: alarms, and that the numbers are old.
import { byId, h } from "./dom.js";
import { lastBeatAt, state, whyOld } from "./state.js";
import { bothTimes } from "./times.js";
import { priorityOf, spoken, stateOf } from "./words.js";

/** The last thing that an act came to; the frame shows it until it is dismissed. */
export let notice = null;
export function say(words, kind = "done") {
  notice = words ? { words, kind } : null;
  if (words) announce(words, kind === "trouble");
}
/** What was done is old news in another view; a trouble stays until somebody closes it. */
export function forgetWhatWasDone() {
  if (notice?.kind === "done") notice = null;
}

/** Each line for itself, so that two alarms of one moment are both read out. */
export function announce(words, interrupts = false) {
  const region = byId(interrupts ? "news-critical" : "news");
  region.append(h("p", words));
  while (region.childElementCount > 6) region.firstElementChild.remove();
}

/** Tells a transition; critical alarms that nobody has seen interrupt. */
export function tellAlarm(alarm, before) {
  const unseen = stateOf(alarm).rank <= 2;
  if (before ? before.state === alarm.state : !unseen) return;
  const words = `${alarm.room}, ${spoken(alarm.alarm)}: ${priorityOf(alarm).words}, ${stateOf(alarm).words}. ${unseen ? alarm.text : ""}`;
  announce(words, unseen && alarm.priority === "critical");
}

let told = null;
/** Whether the numbers became old, or current again, since the last call; says so. */
export function tellTrust() {
  const why = whyOld();
  if (why === told) return false;
  const first = told === null && state.trust.beat === null;
  if (why && !first)
    announce(`The numbers are not current${lastBeatAt() ? ` since ${bothTimes(lastBeatAt())}` : ""}: ${why}.`, true);
  if (!why && told) announce("The numbers are current again.", false);
  told = why;
  return true;
}

// Every alarm that asks, stands or is hidden, most urgent first; what may be done with each.
import { h } from "../dom.js";
import * as format from "../format.js";
import { actButtons, atSite, empty, live as liveNumber, oldNote, roomLink, section, since } from "../pieces.js";
import { knownRooms } from "../state.js";
import { asks, byUrgency } from "../urgency.js";
import { count, stateOf } from "../words.js";
import { alarmLine } from "./room_parts.js";
import { hiddenWords } from "./room.js";

export const title = () => "Alarms";
export const live = true;

export function render() {
  const known = knownRooms();
  if (!known.length) return [h("h1", "Alarms"), empty("Waiting for the rooms.")]; // none is known, which is not none
  const all = known
    .flatMap((one) => one.room.alarms.map((alarm) => ({ alarm, one })))
    .sort((a, b) => byUrgency(a.alarm, b.alarm));
  const asking = all.filter(({ alarm }) => asks(alarm));
  const seen = all.filter(({ alarm }) => alarm.state === "acknowledged");
  const hidden = all.filter(({ alarm }) => stateOf(alarm).hidden);
  const calm = all.filter(({ alarm }) => alarm.state === "normal");
  return [
    h("h1", "Alarms"),
    h(
      "p.summary",
      asking.length
        ? h("strong", `${count(asking.length, "alarm asks", "alarms ask")} for a person.`)
        : "No alarm asks for a person. That shows nothing of the air in any room.",
    ),
    atSite("This page only shows: acknowledge, reset and shelve at the page of the site's own daemon."),
    group("To be acknowledged or reset", asking, "Nothing to acknowledge, nothing to reset."),
    group("Standing, acknowledged", seen, "None."),
    group("Hidden: you are not warned by these", hidden, "None is shelved, suppressed or out of service."),
    h("details", { "data-key": "calm" }, h("summary", `Normal: ${count(calm.length, "alarm")}`), list(calm)),
  ];
}

const group = (name, some, none) =>
  h("div", { "data-key": name }, section(name, some.length ? list(some) : empty(none)));
const list = (some) =>
  h(
    "ul.alarm-list",
    some.map(({ alarm, one }) => item(alarm, one)),
  );

function item(alarm, { current, since: oldSince }) {
  const calm = alarm.state === "normal";
  return h(
    "li",
    {
      "data-key": `${alarm.room}/${alarm.alarm}`,
      class: calm ? "calm" : `tone-${stateOf(alarm).hidden ? "hidden" : alarm.priority}`,
    },
    h(
      "div.alarm-line",
      alarmLine(alarm),
      " ",
      h("span", "in "),
      roomLink(alarm.room),
      alarm.safety ? h("span.quiet", " safety") : h("span.quiet", " process"),
      alarm.sounding ? h("b", " SOUNDING") : null,
      alarm.chattering ? h("span.quiet", " chattering") : null,
    ),
    calm ? null : h("p", "since ", since(alarm.since)),
    current ? null : oldNote(oldSince),
    numbers(alarm, current),
    calm ? null : h("p.alarm-text", alarm.text),
    alarm.suppression ? h("p", hiddenWords(alarm.suppression)) : null,
    h("div.acts", actButtons(alarm, current)),
  );
}

function numbers(alarm, current) {
  if (typeof alarm.limit !== "number") return null;
  const value =
    typeof alarm.value === "number"
      ? [h("span.quiet", "value "), liveNumber(format.alarmValue(alarm), current), " "]
      : null;
  return h("p", value, h("span.quiet", "limit "), format.alarmLimit(alarm));
}

// All rooms at a glance, the one that most needs a person first.
import { h } from "../dom.js";
import { icon } from "../icons.js";
import { empty, since, mark } from "../pieces.js";
import { knownRooms, whyOld } from "../state.js";
import { count, priorityOf, spoken, stateOf } from "../words.js";
import { asksForPerson, byUrgency, isSeen, roomRank, standingAlarms, worstAlarm, worstFirst } from "../urgency.js";
import { controlNews } from "./room_control.js";
import { doubts, facts, regimeLine, roomValue } from "./room_parts.js";

export const title = () => "Rooms";
export const live = true;

export function render() {
  const known = new Map(knownRooms().map((one) => [one.room.room, one]));
  const order = worstFirst([...known.values()].map((one) => one.room));
  return [
    h("h1", { class: "unseen-text" }, "All rooms"),
    order.length ? h("p.summary", summary(order)) : null,
    order.length
      ? h(
          "ul.cards",
          { class: order.length <= 4 ? "few" : order.length <= 9 ? "some" : "" },
          order.map((room) => card(known.get(room.room))),
        )
      : empty("Waiting for the rooms."),
  ];
}

function summary(rooms) {
  if (!rooms.length) return "";
  const names = (some) => some.map((room) => room.room).join(", ");
  const asking = rooms.filter(asksForPerson);
  const seen = rooms.filter(isSeen);
  return [
    whyOld() ? "As it was last known: " : "",
    asking.length
      ? [h("strong", `${count(asking.length, "room asks", "rooms ask")} for a person: ${names(asking)}. `)]
      : seen.length
        ? ""
        : `${count(rooms.length, "room")}, none asks for a person.`,
    seen.length ? `Stands, acknowledged: ${names(seen)}.` : "",
  ];
}

const inColour = (room) => asksForPerson(room) || isSeen(room);
const toneOf = (room) => {
  if (!inColour(room)) return roomRank(room) < 40 ? "watch" : "calm";
  return worstAlarm(room)?.priority ?? "none";
};

function card(one) {
  const { room, current } = one;
  const worst = worstAlarm(room);
  const unseen = worst && stateOf(worst).rank <= 2;
  const classes = [`tone-${toneOf(room)}`, unseen ? "unseen" : "", isSeen(room) ? "seen" : "", current ? "" : "is-old"];
  return h(
    "li.card",
    { "data-key": room.room, class: classes.filter(Boolean).join(" ") },
    head(room, worst),
    h("h2", h("a", { href: `#/room/${encodeURIComponent(room.room)}` }, room.room)),
    regimeLine(room),
    roomValue(one),
    others(room, worst),
    h("ul.doubts", controlNews(room), doubts(room).slice(0, 3)),
    h("p.facts", facts(room).join(" · ")),
  );
}

function head(room, worst) {
  if (worst)
    return h(
      "div.card-head",
      icon(priorityOf(worst).shape),
      h(
        "p",
        h("strong", spoken(worst.alarm).toUpperCase()),
        h("span", stateOf(worst).words),
        h("span.small", since(worst.since)),
      ),
    );
  const words = !room.monitored
    ? "no alarm stands yet"
    : toneOf(room) === "watch"
      ? "no alarm stands; see below"
      : "no alarm stands";
  return h("div.card-head.plain-head", h("p", words));
}

/** The alarms that the head does not name, each in a word. */
function others(room, worst) {
  const rest = standingAlarms(room)
    .filter((alarm) => alarm !== worst)
    .sort(byUrgency);
  const hidden = room.alarms.filter((alarm) => alarm.state === "shelved" || alarm.state === "out_of_service");
  if (!rest.length && !hidden.length) return null;
  return h(
    "ul.others",
    rest
      .slice(0, 3)
      .map((alarm) =>
        h(
          "li",
          { "data-key": alarm.alarm },
          icon(priorityOf(alarm).shape),
          h("span", `${spoken(alarm.alarm)}: ${stateOf(alarm).words}`),
        ),
      ),
    rest.length > 3 ? h("li", `and ${rest.length - 3} more`) : null,
    hidden.map((alarm) =>
      h("li", { "data-key": alarm.alarm }, mark("hidden", "shelf", `${spoken(alarm.alarm)}: ${stateOf(alarm).words}`)),
    ),
  );
}

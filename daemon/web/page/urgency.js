// Who needs a person first. Pure.
import { atMost } from "./durations.js";
import { isHeld, isTripped } from "./control_data.js";
import { priorityOf, stateOf } from "./words.js";

const standing = (alarm) => alarm.state !== "normal" && !stateOf(alarm).hidden;

export const standingAlarms = (room) => room.alarms.filter(standing);
export const asks = (alarm) => standing(alarm) && stateOf(alarm).asks !== "";

/** What needs a hand first: not seen before seen, then priority, then the oldest. */
export function byUrgency(a, b) {
  const unseen = (alarm) => (stateOf(alarm).rank <= 2 ? 0 : 1);
  return (
    unseen(a) - unseen(b) ||
    hiddenLast(a) - hiddenLast(b) ||
    priorityOf(a).rank - priorityOf(b).rank ||
    stateOf(a).rank - stateOf(b).rank ||
    Date.parse(a.since) - Date.parse(b.since) ||
    `${a.room}/${a.alarm}`.localeCompare(`${b.room}/${b.alarm}`)
  );
}
const hiddenLast = (alarm) => (stateOf(alarm).hidden ? 1 : alarm.state === "normal" ? 2 : 0);

/** The alarm that speaks for the room, or null. */
export const worstAlarm = (room) => standingAlarms(room).sort(byUrgency)[0] ?? null;

const qualityRank = { bad: 0, uncertain: 1, good: 2 };
export const doubtful = (room) => room.sensors.filter((s) => s.quality !== "good");

/** 0 asks most: alarms that nobody has seen, rooms that nobody watches, alarms that somebody has seen, what waits or
 * is worked by hand, doubt, rest. */
export function roomRank(room) {
  const worst = worstAlarm(room);
  if (worst) return (asks(worst) ? 0 : 10) + priorityOf(worst).rank * 2 + (room.monitored ? 1 : 0);
  if (!room.monitored) return 9;
  if (room.control.some(isTripped)) return 29; // an alarm of its own says so, too, unless somebody has hidden that
  const quality = Math.min(2, ...room.sensors.map((s) => qualityRank[s.quality] ?? 0));
  if (quality < 2) return 30 + quality;
  if (room.alarms.some((alarm) => alarm.state === "shelved" || alarm.state === "out_of_service")) return 33;
  if (room.control.some(isHeld)) return 34;
  return room.sensors.some((s) => s.status !== "ok") ? 35 : 40;
}

/** Worst first; equals keep the order of their names. */
export const worstFirst = (rooms) =>
  [...rooms].sort((a, b) => roomRank(a) - roomRank(b) || a.room.localeCompare(b.room));

/** Asks for a person now; and has somebody's attention already. Both are shown in colour, everything else is grey. */
export const asksForPerson = (room) => roomRank(room) < 10;
export const isSeen = (room) => roomRank(room) >= 10 && roomRank(room) < 20;

/** How many things ask for a person: alarms, and unmonitored rooms that no alarm speaks for yet. */
export function askingCount(rooms) {
  let count = 0;
  for (const room of rooms) {
    const alarms = room.alarms.filter(asks).length;
    const spokenFor = room.alarms.some((a) => a.alarm === "not-monitored" && a.state !== "normal");
    count += alarms + (room.monitored || spokenFor ? 0 : 1);
  }
  return count;
}

/** What may be done with an alarm in its state, by whom. Safety alarms are never shelved. */
export function actsFor(alarm, role) {
  if (role === "viewer") return [];
  const out = [];
  const s = alarm.state;
  if (["unacknowledged", "latched_unacknowledged", "returned_to_normal_unacknowledged"].includes(s))
    out.push("acknowledge");
  if (alarm.sounding) out.push("silence");
  if (s === "latched_acknowledged") out.push("reset");
  if (s === "shelved") out.push("unshelve");
  if (alarm.test) out.push("end_test");
  const open = !stateOf(alarm).hidden;
  if (open && atMost(alarm, "shelve") > 0) out.push("shelve", "shelve_once");
  if (open && !alarm.test && s === "normal") out.push("test");
  if (role === "operator") return out; // out of service is the engineer's
  if (s === "out_of_service") out.push("return_to_service");
  else if (open && atMost(alarm, "remove_from_service") > 0) out.push("remove_from_service");
  return out;
}

/** Why shelving is not offered; empty where it is, or where the alarm is hidden already. */
export const whyNotShelved = (alarm) =>
  alarm.safety && !stateOf(alarm).hidden ? "A safety alarm cannot be shelved." : "";

/** Acts that a person may comment on, and need not. */
export const mayBeCommented = (act) => act === "acknowledge" || act === "reset";

/** Acts that hide an alarm: they need a reason and a time. */
export const hides = (act) => act === "shelve" || act === "shelve_once" || act === "remove_from_service";

// What is said of actuators and their loops, and which orders a person is offered. Pure.
import { NARROW, duration, toDecimals } from "./format.js";
import { spoken } from "./words.js";

const engineers = ["start", "release"]; // what lets something harmful work; the daemon asks for the role again

/** "off", "on", "42 %". */
export function doing(fraction) {
  if (fraction <= 0) return "off";
  return fraction >= 1 ? "on" : `${Math.min(99, Math.max(1, Math.round(fraction * 100)))}${NARROW}%`;
}

/** "22.9 °C", or null where there is no value. */
export const inUnit = (loop, key) =>
  typeof loop[key] === "number" ? `${toDecimals(loop[key], loop.decimals)}${NARROW}${loop.unit}` : null;

/** Who decides, as the beginning of a sentence that its reason ends. */
export const deciders = {
  interlock: "an interlock decides",
  "safe-state": "its loop cannot measure",
  person: "a person decides",
  loop: "its loop decides",
  rest: "nobody asks for it",
};

export const isTripped = (actuator) => actuator.tripped !== null;
export const isHeld = (actuator) => actuator.held !== null;
export const isBlocked = (actuator) => actuator.decided_by === "interlock" && actuator.blocked_by.length > 0;

/** {shape, words} of what stands out of normal; `needs`: a person has to do something. */
export function stateMarks(actuator) {
  const marks = [];
  if (isTripped(actuator)) marks.push({ shape: "triangle", words: "STOPPED: waits for a person", needs: true });
  else if (isBlocked(actuator)) marks.push({ shape: "lock", words: "BLOCKED by an interlock" });
  else if (actuator.decided_by === "interlock") marks.push({ shape: "lock", words: "DRIVEN by an interlock" });
  if (actuator.decided_by === "safe-state")
    marks.push({ shape: "unseen", words: `FALLEN BACK to ${doing(actuator.fraction)}` });
  if (isHeld(actuator)) marks.push({ shape: "hand", words: "BY HAND" });
  return marks;
}

/** Why it does what it does, where the lines below do not say it already. */
export function reasonOf(actuator) {
  const inTheWay = actuator.blocked_by.map((one) => one.text).join("; ");
  if (actuator.because === inTheWay || (actuator.decided_by === "person" && isHeld(actuator))) return "";
  return actuator.because;
}

/** Every condition that does not hold; what waits for its release is told by the trip itself. */
export const inTheWay = (actuator) =>
  actuator.blocked_by.filter((one) => one.condition !== "not-tripped" || !isTripped(actuator));

export const needsStart = (actuator) => actuator.blocked_by.some((one) => one.condition === "started-by-person");

/** The orders that make sense to an actuator now; `forEngineers`: those that this person may not give. */
export function ordersFor(actuator, role) {
  if (role === "viewer") return { orders: [], forEngineers: [] };
  const all = [];
  if (isTripped(actuator)) all.push("release");
  else if (!actuator.started && needsStart(actuator)) all.push("start");
  if (actuator.started) all.push("end");
  if (isHeld(actuator)) all.push("automatic");
  all.push("hold");
  const barred = (act) => role === "operator" && engineers.includes(act);
  return { orders: all.filter((act) => !barred(act)), forEngineers: all.filter(barred) };
}

const programs = {
  waiting: { words: "waits to be started", orders: ["program-start"] },
  following: { words: "is followed", orders: ["program-hold", "program-stop"] },
  held: { words: "held by a person: its set-point stands still", orders: ["program-resume", "program-stop"] },
  finished: { words: "is over; its last set-point stands", orders: ["program-start"] },
  stopped: { words: "stopped; its set-point stands still", orders: ["program-resume", "program-start"] },
  "stopped-by-outage": {
    words: "STOPPED BY AN OUTAGE: a person decides how it goes on",
    orders: ["program-resume", "program-start"],
    needs: true,
  },
};
/** {words, needs, orders} of the program of a loop, or null where it has none. */
export function programOf(loop, role) {
  if (!loop?.program) return null;
  const known = programs[loop.program] ?? { words: spoken(loop.program), orders: [] };
  return { needs: false, ...known, orders: role === "viewer" ? [] : known.orders };
}

/** What a button says, and what a person reads before they give the order. */
export const orders = {
  start: {
    words: "Start",
    means:
      "It then works whenever its loop asks for it, until a person ends it or a condition fails: whatever ends it ends it for good. Nobody may be in the room; look yourself.",
    needsReason: true,
  },
  end: {
    words: "End",
    means:
      "It stops now and stays off until a person starts it anew. That it is off does not mean that the air may be breathed.",
  },
  hold: {
    words: "Work by hand",
    means:
      "It is held so for the time below, whatever its loop asks for, and then goes back to its loop. No interlock is passed: what must stop it stops it at once.",
    needsReason: true,
  },
  automatic: { words: "Give back", means: "It is no longer worked by hand: its loop decides from now on." },
  release: {
    words: "Release",
    means:
      "What stopped it is taken back, and nothing starts by that. Find the cause and look at the room from outside before.",
    needsReason: true,
    reason: "What was found, and why it may work again",
  },
  "program-start": { words: "Start the program", means: "It begins at its first step, from the set-point of now." },
  "program-stop": {
    words: "Stop the program",
    means: "The set-point stays what it is now. Only a program of elapsed time can be stopped.",
  },
  "program-hold": {
    words: "Hold the set-point",
    means: "The set-point stays what it is now, for the time below.",
  },
  "program-resume": {
    words: "Go on with the program",
    means: "A program of the day goes on where the clock has it; one of elapsed time where it stood.",
  },
};

const times = [600, 1800, 3600, 7200, 14400, 28800].map((s) => [String(s), duration(s)]);
/** How long an output may be worked by hand: eight hours are the longest that the daemon permits. */
export const holdTimes = { options: times, chosen: "1800" };
export const programHoldTimes = { options: [["", "until somebody goes on with it"], ...times], chosen: "" };

/** A share of 0 to 1 that was typed in percent, or null. */
export function shareOf(text) {
  const typed = String(text ?? "")
    .replace(/\s*%$/, "")
    .trim();
  const percent = /^\d+(\.\d+)?$/.test(typed) ? Number(typed) : NaN;
  return percent >= 0 && percent <= 100 ? percent / 100 : null;
}

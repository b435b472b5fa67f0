// Larkfield's actuators as the daemon tells them, and what it would do with orders. Every value is made up.
const at = (seconds) => new Date(Date.now() + seconds * 1000).toISOString();

export const said = (by, because, since_s = -60, until_s = null) => ({
  by,
  because,
  since: at(since_s),
  until: until_s === null ? null : at(until_s),
});
export const block = (condition, text) => ({ condition, text });
const notStarted = block("started-by-person", "nobody has started it");

const actuator = (output, duty, more) => ({
  output,
  duty,
  fraction: 0,
  decided_by: "loop",
  because: "",
  blocked_by: [],
  started: null,
  held: null,
  tripped: null,
  held_back: "",
  forecast: "",
  loop: null,
  ...more,
});
const loop = (name, holds, unit, more) => ({
  loop: name,
  holds,
  unit,
  decimals: 1,
  method: "on-off",
  value: null,
  set_point: null,
  uncertain: false,
  trouble: "",
  demand: 0,
  program: null,
  target: null,
  next_target: null,
  next_at: null,
  tuning: null,
  report: null,
  ...more,
});

/** By room: nothing of it asks for a person. */
export const larkfieldControl = () => ({
  "growth-chamber-1": [
    actuator("chamber-heater", "heating", {
      fraction: 0.42,
      because: "temperature is 22.9 °C, to be held at 23.4 °C",
      loop: loop("heat", "temperature", "°C", {
        method: "continuous",
        value: 22.9,
        set_point: 23.4,
        demand: 0.42,
        program: "following",
        target: 24,
        next_target: 18,
        next_at: at(4 * 3600),
      }),
    }),
  ],
  "pear-store-2": [
    actuator("pear-nitrogen", "nitrogen-purge", {
      fraction: 1,
      because: "oxygen is 2.01 %, to be held at 2.00 %",
      started: said("R. Okafor", "pull-down after loading", -7200),
      forecast: "oxygen falls as forecast: 2.01 % now, 2.00 % in 3 min",
      loop: loop("oxygen", "oxygen", "%", { decimals: 2, value: 2.013, set_point: 2, demand: 1 }),
    }),
    actuator("pear-scrubber", "scrubbing", {
      decided_by: "rest",
      because: notStarted.text,
      blocked_by: [notStarted],
      loop: loop("carbon-dioxide", "carbon-dioxide", "%", { decimals: 2, value: 1.2, set_point: 1.5 }),
    }),
  ],
  "bay-3": [
    actuator("bay-vents", "ventilation", {
      because: "temperature is 24.3 °C, to be held at 26.0 °C",
      held_back: "stays off for its least off-time, 41 s more",
      loop: loop("vents", "temperature", "°C", { value: 24.3, set_point: 26 }),
    }),
    actuator("bay-dosing", "carbon-dioxide-dosing", {
      decided_by: "interlock",
      because: "bay-vents airs the room; the lights are off",
      blocked_by: [block("vents-closed", "bay-vents airs the room"), block("lights-on", "the lights are off")],
      loop: loop("carbon-dioxide", "carbon-dioxide", "ppm", {
        decimals: 0,
        method: "time-proportioned",
        value: 1012,
        set_point: 1100,
        demand: 0.3,
      }),
    }),
  ],
});

export const nitrogenTripped = () => {
  const why = "the door is open";
  return {
    fraction: 0,
    decided_by: "interlock",
    because: `${why}; nobody has started it; it waits to be released after: ${why}`,
    blocked_by: [block("door-closed", why), notStarted, block("not-tripped", `it waits to be released after: ${why}`)],
    started: null,
    tripped: said("", why, -300),
    forecast: "",
  };
};
export const ventsByHand = () => ({
  fraction: 1,
  decided_by: "person",
  because: "mira: heat after cleaning",
  held: said("mira", "heat after cleaning", 0, 1200),
  held_back: "",
});
export const heaterFallenBack = (loop) => ({
  loop: { ...loop, value: null, trouble: "growth-chamber-1/air: no reply for 6 s" },
  decided_by: "safe-state",
  because: "temperature is not known: growth-chamber-1/air: no reply for 6 s",
  fraction: 0,
});

const answer = (status, body) => ({
  status,
  type: status === 200 ? "application/json" : "application/problem+json",
  body,
});
const refused = (detail, status = 409) => answer(status, { type: "about:blank", title: "Refused", status, detail });

/** What the daemon makes of an order to an output; changes it. */
export function orderOutput(standIn, name, { act, comment = "", fraction = 0, duration_s = 0 }, user) {
  const room = standIn.rooms.find((one) => one.control.some((it) => it.output === name));
  const one = room?.control.find((it) => it.output === name);
  if (!one) return refused(`there is no actuator ${name}: \`oxherd control\` lists them`, 404);
  if (["start", "release"].includes(act) && user.role !== "engineer")
    return refused(`${user.name} is ${user.role}: this needs the role engineer`, 403);
  const others = one.blocked_by.filter((it) => !["started-by-person", "not-tripped"].includes(it.condition));
  const sentence = others.map((it) => it.text).join("; ");
  const left = one.tripped ? `it waits to be released after: ${one.tripped.because}` : sentence;
  if (act === "start") {
    if (left) return refused(`the ${one.duty} cannot be started: ${left}`);
    const others = { blocked_by: [], decided_by: "loop", because: "its loop asks for it" };
    Object.assign(one, others, { started: said(user.name, comment, 0) });
  } else if (act === "end") {
    Object.assign(one, { started: null, fraction: 0, decided_by: "rest", blocked_by: [notStarted] });
    one.because = notStarted.text;
  } else if (act === "hold") {
    if (fraction > 0 && left) return refused(`the ${one.duty} is blocked, and no one works it past that: ${left}`);
    const held = said(user.name, comment, 0, duration_s);
    Object.assign(one, { held, fraction, decided_by: "person", because: `${user.name}: ${comment}` });
  } else if (act === "automatic") {
    Object.assign(one, { held: null, fraction: 0, decided_by: "loop", because: "its loop asks for it" });
  } else {
    if (sentence) return refused(`what tripped it, or something else, still stands: ${sentence}`);
    Object.assign(one, { tripped: null, decided_by: "rest", blocked_by: [notStarted], because: notStarted.text });
  }
  standIn.tellRoom(room.room);
  return answer(200, { room: room.room, control: room.control, recorded: true });
}

/** What it makes of an order to the program of a loop. */
export function orderProgram(standIn, name, loopName, { act }) {
  const room = standIn.room(name);
  const found = room?.control.find((it) => it.loop?.loop === loopName);
  if (!found) return refused(`there is no loop ${name}/${loopName}: \`oxherd control\` lists them`, 404);
  if (act === "program-stop")
    return refused(`loop ${loopName} of ${name} has no program for which that can be done now`);
  found.loop.program = act === "program-hold" ? "held" : "following";
  standIn.tellRoom(name);
  return answer(200, { room: name, control: room.control, recorded: true });
}

// What the daemon's names are called in front of a person, and the shape beside each word. Pure.

/** Every alarm state: its words, what it asks of a person, whether it is hidden from warning. */
export const states = {
  unacknowledged: { words: "NOT ACKNOWLEDGED", asks: "acknowledge", rank: 0 },
  latched_unacknowledged: { words: "over, not acknowledged", asks: "acknowledge, then reset", rank: 1 },
  returned_to_normal_unacknowledged: { words: "over, never acknowledged", asks: "acknowledge", rank: 2 },
  latched_acknowledged: { words: "over, waits for its reset", asks: "inspect, then reset", rank: 4 },
  acknowledged: { words: "stands, acknowledged", asks: "", rank: 3 },
  shelved: { words: "shelved", asks: "", rank: 6, hidden: true },
  out_of_service: { words: "out of service", asks: "", rank: 5, hidden: true },
  suppressed_by_design: { words: "suppressed by design", asks: "", rank: 7, hidden: true },
  normal: { words: "normal", asks: "", rank: 9 },
};

/** Priorities with their shape: a person who sees no colours tells them apart all the same. */
export const priorities = {
  critical: { words: "CRITICAL", shape: "octagon", rank: 0 },
  high: { words: "HIGH", shape: "triangle", rank: 1 },
  medium: { words: "MEDIUM", shape: "diamond", rank: 2 },
  low: { words: "LOW", shape: "circle", rank: 3 },
};

export const regimes = {
  occupied: "occupied",
  enriched: "enriched with carbon dioxide",
  "sealed-low-oxygen": "sealed at low oxygen",
  "ventilated-before-entry": "ventilated before entry",
};

export const statuses = {
  ok: { words: "in order", shape: "" },
  maintenance_required: { words: "maintenance required", shape: "spanner" },
  out_of_specification: { words: "out of specification", shape: "triangle" },
  function_check: { words: "function check", shape: "diamond" },
  failure: { words: "failure", shape: "cross" },
};

/** What a reading may be used for. */
export const qualities = {
  good: "good",
  uncertain: "uncertain: it counts, but is in doubt",
  bad: "bad: it counts for nothing",
};

export const acts = {
  acknowledge: {
    words: "Acknowledge",
    doing: "acknowledging",
    means: "A person has seen it. The room's beacon stays on.",
  },
  silence: { words: "Silence", means: "Stops the sound only." },
  reset: { words: "Reset", doing: "resetting", means: "Ends a latched alarm after the room was inspected." },
  shelve: { words: "Shelve", means: "Hides the alarm for a time. You will not be warned." },
  shelve_once: {
    words: "Shelve until it returns",
    means: "Hides the alarm until it returns, for a time at most. You will not be warned.",
  },
  unshelve: { words: "Unshelve", means: "Ends the shelving." },
  remove_from_service: {
    words: "Out of service",
    means: "For work on the alarm. You will not be warned; for a safety alarm the room counts as not monitored.",
  },
  return_to_service: { words: "Return to service", means: "The alarm warns again." },
  test: { words: "Test", means: "Simulates the condition, so that the whole route can be seen to work." },
  end_test: { words: "End test", means: "Ends the simulated condition." },
};

export const gases = { "fresh-air": "fresh air", nitrogen: "nitrogen", "span-gas": "span gas" };

/** "cryo-annexe" stays as the site calls it; "low-oxygen" reads as "low oxygen". */
export const spoken = (name) => String(name ?? "").replaceAll(/[-_]/g, " ");

export const stateOf = (alarm) => states[alarm.state] ?? { words: spoken(alarm.state), asks: "look", rank: 0 };
export const priorityOf = (alarm) =>
  priorities[alarm.priority] ?? { words: spoken(alarm.priority), shape: "octagon", rank: 0 };

/** "(2)" of several things, "1 room" and "2 rooms". */
export const count = (n, one, many = `${one}s`) => `${n} ${n === 1 ? one : many}`;

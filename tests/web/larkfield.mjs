// The invented Larkfield site, as the daemon tells it. Every value is made up.

import { larkfieldControl } from "./larkfield_control.mjs";

export const caution =
  "Supplementary monitor. Do not use it to decide that a room is safe. Test the air with a certified monitor and follow the entry procedure.";
const ago = (seconds) => new Date(Date.now() - seconds * 1000).toISOString();

export function alarm(room, name, more = {}) {
  return {
    room,
    alarm: name,
    state: "normal",
    priority: "high",
    safety: true,
    sounding: false,
    present: false,
    first_out: false,
    chattering: false,
    test: false,
    in_force: true,
    since: ago(86400),
    value: null,
    expanded: null,
    coverage_factor: 2,
    limit: null,
    unit: "/",
    quantity: quantities.find(([words]) => words.test(name))?.[1] ?? "oxygen",
    shelve_at_most_s: 8 * 3600,
    out_of_service_at_most_s: 7 * 86400,
    suppression: null,
    text: "",
    caution,
    ...more,
  };
}
/** What the scenario's alarms judge; the page itself must not tell it by their names. */
const quantities = [
  [/co2/, "carbon-dioxide"],
  [/door/, "door"],
  [/not-monitored|degraded|disagreement/, "monitoring"],
];

const nothing = {
  dry_fraction: null,
  u_dry_fraction: null,
  wet_fraction: null,
  po2_kpa: null,
  uncorrected_fraction: null,
  raw_mv: null,
  temperature_c: null,
  humidity_percent: null,
  pressure_kpa: null,
  co2_fraction: null,
  over_pressure_pa: null,
  door_open: null,
  people_in: null,
  lights_on: null,
  air_flowing: null,
  relief_isolated: null,
};
function sensor(name, measures, last, more = {}) {
  const at = new Date().toISOString();
  return {
    sensor: name,
    measures,
    status: "ok",
    quality: "good",
    reasons: [],
    age_s: 0.4,
    last: { at, ...nothing, ...last },
    ...more,
  };
}
const cell = (name, dry, mv, more) =>
  sensor(
    name,
    ["oxygen"],
    {
      dry_fraction: dry,
      u_dry_fraction: 0.00066,
      wet_fraction: dry * 0.99,
      po2_kpa: dry * 97,
      uncorrected_fraction: dry * 0.97,
      raw_mv: mv,
    },
    more,
  );
const climate = (t, rh, kpa) =>
  kpa
    ? sensor("air", ["temperature", "humidity", "pressure"], {
        temperature_c: t,
        humidity_percent: rh,
        pressure_kpa: kpa,
      })
    : sensor("air", ["temperature", "humidity"], { temperature_c: t, humidity_percent: rh });

function room(name, more) {
  return {
    at: new Date().toISOString(),
    room: name,
    regime: "occupied",
    regime_since: ago(90000),
    regime_by: "",
    regime_because: "",
    seal_broken: false,
    door: null,
    entry_lock: null,
    monitored: true,
    reason: "",
    dry_fraction: null,
    u_expanded: null,
    coverage_factor: 2,
    co2_fraction: null,
    relay_energised: true,
    sensors: [],
    control: larkfieldControl()[name] ?? [],
    alarms: [],
    caution,
    ...more,
  };
}

export function larkfieldRooms() {
  return [
    room("cryo-annexe", {
      dry_fraction: 0.20947,
      u_expanded: 0.0013218,
      sensors: [
        cell("cell-a", 0.2096, 12.211),
        cell("cell-b", 0.20947, 11.554),
        cell("cell-c", 0.2093, 12.724),
        climate(21.1, 41, 97.21),
      ],
      alarms: [
        alarm("cryo-annexe", "low-oxygen", { priority: "critical", limit: 0.195, value: 0.20947, expanded: 0.0013218 }),
        alarm("cryo-annexe", "very-low-oxygen", { priority: "critical", limit: 0.18 }),
        alarm("cryo-annexe", "high-oxygen", { limit: 0.235 }),
        alarm("cryo-annexe", "not-monitored", { priority: "critical" }),
        alarm("cryo-annexe", "degraded", { safety: false, priority: "medium" }),
      ],
    }),
    room("growth-chamber-1", {
      dry_fraction: 0.2095,
      u_expanded: 0.0014,
      co2_fraction: 0.000779,
      sensors: [
        cell("cell", 0.2095, 9.983),
        climate(22.9, 59),
        sensor("co2", ["carbon-dioxide"], { co2_fraction: 0.000779 }),
      ],
      alarms: [
        alarm("growth-chamber-1", "low-oxygen", { limit: 0.195 }),
        alarm("growth-chamber-1", "high-co2", { limit: 0.005, value: 0.000779 }),
        alarm("growth-chamber-1", "not-monitored"),
      ],
    }),
    room("pear-store-2", {
      regime: "sealed-low-oxygen",
      regime_by: "R. Okafor",
      regime_because: "harvest is in, seen empty",
      door: "closed",
      dry_fraction: 0.02013,
      u_expanded: 0.00021,
      relay_energised: null,
      entry_lock: {
        withheld: true,
        reasons: ["oxygen 2.01 % is less than 20.50 %", "the room is sealed at low oxygen"],
        fresh_for_s: null,
        hold_s: 900,
      },
      sensors: [
        cell("cell", 0.02013, 1.21, {
          status: "maintenance_required",
          reasons: [{ status: "maintenance_required", text: "check is due since 2026-11-20" }],
        }),
        climate(1.2, 93),
        sensor("door", ["door"], { door_open: false }),
      ],
      alarms: [
        alarm("pear-store-2", "low-oxygen", { in_force: false, limit: 0.195 }),
        alarm("pear-store-2", "high-oxygen", {
          safety: false,
          priority: "medium",
          limit: 0.05,
          shelve_at_most_s: 7200,
        }),
        alarm("pear-store-2", "door-open", { safety: false, priority: "high", unit: "" }),
        alarm("pear-store-2", "not-monitored"),
      ],
    }),
    room("bay-3", {
      regime: "enriched",
      co2_fraction: 0.001012,
      relay_energised: null,
      sensors: [sensor("co2", ["carbon-dioxide"], { co2_fraction: 0.001012 }), climate(24.3, 71)],
      alarms: [alarm("bay-3", "high-co2", { priority: "critical", limit: 0.005 }), alarm("bay-3", "not-monitored")],
    }),
  ];
}

export const lowOxygen = {
  state: "unacknowledged",
  sounding: true,
  present: true,
  first_out: true,
  value: 0.1929,
  expanded: 0.0013,
  limit: 0.195,
  text: "LOW OXYGEN cryo-annexe: 19.29 % (could be 19.16 %), limit 19.5 %. Leave now. Stay out. Do not go in to help someone who has collapsed: call 112 and rescuers with breathing apparatus. This message supplements the room's certified monitor.",
};

const proof = (more) => ({
  test_by: "",
  driving: false,
  awaiting_answer: false,
  last: null,
  last_at: null,
  last_by: "",
  worked_at: null,
  due: null,
  overdue: false,
  ...more,
});
const output = (name, kind, rooms, more = {}) => ({
  name,
  bus: "plant",
  kind,
  rooms,
  written: true,
  confirmed: true,
  trouble: "",
  proof: null,
  decision_to_write: {
    count: 12,
    p50_ms: 4.1,
    p99_ms: 9.7,
    max_ms: 11.2,
    total_ms: 55.4,
    within: [
      { ms: 5, count: 8 },
      { ms: 25, count: 12 },
    ],
  },
  ...more,
});

export const larkfieldOutputs = () => [
  output("cryo-beacon", "alarm-relay", ["cryo-annexe"], {
    proof: proof({
      last: "worked",
      last_at: ago(864000),
      last_by: "R. Okafor",
      worked_at: ago(864000),
      due: ago(-6e6),
    }),
  }),
  output("chamber-beacon", "alarm-relay", ["growth-chamber-1"], {
    proof: proof({
      last: "worked",
      last_at: ago(9e6),
      last_by: "R. Finch",
      worked_at: ago(9e6),
      due: ago(86400),
      overdue: true,
    }),
  }),
  output("site-horn", "sounder", ["cryo-annexe", "growth-chamber-1", "pear-store-2", "bay-3"], {
    proof: proof({}),
  }),
  output("heartbeat", "heartbeat", []),
];

export function larkfieldSite(rooms, outputs = larkfieldOutputs()) {
  return {
    site: "larkfield",
    version: "0.1.0",
    started: ago(90000),
    now: new Date().toISOString(),
    caution,
    rooms,
    buses: [
      { name: "plant", connected: true, trouble: "", polls: 899, failures: 0 },
      { name: "stores", connected: true, trouble: "", polls: 180, failures: 0 },
    ],
    outputs,
    mqtt: {
      configured: true,
      connected: true,
      trouble: "",
      disk_trouble: "",
      waiting: 0,
      on_disk: 0,
      journal_waiting: 0,
      dropped: 0,
    },
    sparkplug: { configured: false, connected: false, trouble: "", births: 0, commands_ignored: 0 },
    notify: { configured: false },
    store: { writing: true, trouble: "", waiting: 9, dropped: 0, bytes: 3.21e9, free_share: 0.412, shortened: false },
    http: {
      configured: true,
      listening: true,
      address: "http://127.0.0.1:8120",
      trouble: "",
      certificate_until: null,
      connections: 3,
      streams: 2,
    },
    evaluations: 4321,
    polls_dropped: 0,
  };
}

export function larkfieldCells() {
  const one = (room, name, serial, more = {}) => ({
    room,
    sensor: name,
    serial,
    status: "ok",
    calibrated: true,
    in_force: { number: 3, performed: ago(40 * 86400) },
    first_use: ago(300 * 86400),
    age_months: 10,
    sensitivities: [],
    drift: { per_month: -0.0043, low: -0.006, high: -0.0025, significant: true },
    worn: {},
    spent: {},
    replace_by: ago(-430 * 86400),
    next_check: ago(-10 * 86400),
    check_overdue: false,
    next_calibration: ago(-50 * 86400),
    calibration_overdue: false,
    failed_check: false,
    reasons: [],
    ...more,
  });
  return [
    one("pear-store-2", "cell", "LK-0034", {
      status: "maintenance_required",
      next_check: ago(6 * 86400),
      check_overdue: true,
      reasons: [{ status: "maintenance_required", text: "check is due since 2026-11-20" }],
    }),
    one("cryo-annexe", "cell-a", "LK-0007"),
    one("cryo-annexe", "cell-b", "LK-0008", {
      drift: { unknown: "one calibration tells no drift" },
      in_force: { number: 0, performed: null },
    }),
    one("cryo-annexe", "cell-c", "LK-0009"),
    one("growth-chamber-1", "cell", "LK-0021"),
  ];
}

export function larkfieldJournal() {
  const record = (sequence, age, room, name, event, from, to, more = {}) => ({
    at: ago(age),
    sequence,
    room,
    alarm: name,
    event,
    from,
    to,
    cause: "condition",
    author: "",
    comment: "",
    priority: "critical",
    value: 0.1929,
    expanded: 0.0013,
    limit: 0.195,
    unit: "/",
    text: "",
    ...more,
  });
  return [
    record(1, 7300, "cryo-annexe", "low-oxygen", "raised", "normal", "unacknowledged"),
    record(2, 7200, "cryo-annexe", "low-oxygen", "acknowledged", "unacknowledged", "acknowledged", {
      author: "mira",
      comment: "seen at the door, nobody inside",
    }),
    record(3, 6000, "cryo-annexe", "low-oxygen", "returned", "acknowledged", "latched_acknowledged", { value: 0.2081 }),
    record(4, 5900, "cryo-annexe", "low-oxygen", "reset", "latched_acknowledged", "normal", {
      author: "mira",
      comment: "inspected, dewar valve closed",
      value: 0.209,
    }),
    record(5, 3000, "pear-store-2", "high-oxygen", "shelved", "unacknowledged", "shelved", {
      author: "R. Okafor",
      comment: "flushing",
      priority: "medium",
      value: 0.06,
      limit: 0.05,
    }),
  ];
}

/** A trend with noise that is the same every time, a gap and a bad stretch. */
export function larkfieldTrend({ from_ms, to_ms, points, quantity, room }) {
  const sealed = room === "pear-store-2" && quantity === "dry_fraction";
  const level = sealed
    ? 0.0201
    : {
        dry_fraction: 0.2095,
        u_dry_fraction: 0.0007,
        po2_kpa: 20.3,
        co2_fraction: 0.0008,
        temperature_c: 21,
        humidity_percent: 45,
        pressure_kpa: 97.2,
        over_pressure_pa: 40,
        raw_mv: 12.2,
      }[quantity];
  const step_ms = (to_ms - from_ms) / points;
  const out = { from_ms, to_ms, step_ms, at_ms: [], mean: [], min: [], max: [], bad: [] };
  for (let i = 0; i < points; ++i) {
    const share = i / points;
    const gap = share > 0.3 && share < 0.36;
    const bad = share > 0.62 && share < 0.68;
    const noise = Math.sin(i * 12.9898) * 43758.5453;
    const mean = level * (1 + 0.002 * Math.sin(share * 12) + 0.0006 * (noise - Math.floor(noise) - 0.5));
    out.at_ms.push(from_ms + (i + 0.5) * step_ms);
    for (const [key, value] of [
      ["mean", mean],
      ["min", mean - level * 0.0012],
      ["max", mean + level * 0.0012],
    ])
      out[key].push(gap || bad ? null : value);
    out.bad.push(bad ? 7 : 0);
  }
  return out;
}

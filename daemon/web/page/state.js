// Everything the page knows. Events come in, views read; only this file changes it.
import * as freshness from "./freshness.js";

export const state = {
  trust: freshness.initial,
  rooms: new Map(), // by name: {room, told: {epoch, at}}
  site: null,
  siteTold: null, // when
  hello: null,
  session: { user: null, may_view: true, users: true, only_shows: false },
  caution: "",
  clockOffset_ms: 0, // the daemon's clock minus this screen's
};

/** Whether this is the page of the historian of many sites, which orders nothing. */
export const onlyShows = () => state.session.only_shows === true;

export const clocks = () => ({ wall: Date.now(), steady: performance.now() });
export const daemonNow = () => Date.now() + state.clockOffset_ms;
export const whyOld = () => freshness.whyOld(state.trust, clocks());
export const lastBeatAt = () => state.trust.beat?.wall ?? null;

/** {room, current, since}: the rooms as they were told last, and whether that is of now. */
export function knownRooms() {
  return [...state.rooms.values()].map(viewed);
}
export function knownRoom(name) {
  const entry = state.rooms.get(name);
  return entry ? viewed(entry) : null;
}
function viewed({ room, told }) {
  const current = freshness.roomIsCurrent(state.trust, told, clocks());
  return { room, told: told.at, current, since: current ? null : oldSince(told) };
}
/** From when on it is not of now: the last beat of the connection that told it, or when it was told. */
const oldSince = (told) => {
  if (told.epoch !== state.trust.epoch) return told.lastBeat ?? told.at.wall;
  return whyOld() === null ? told.at.wall : Math.max(told.at.wall, lastBeatAt() ?? 0);
};

/** Whether what is known of buses, outputs and records is of now. */
export const siteIsCurrent = () =>
  state.site !== null && whyOld() === null && freshness.elapsed(state.siteTold, clocks()) <= freshness.ROOM_LATE_MS;

export const allAlarms = () => [...state.rooms.values()].flatMap(({ room }) => room.alarms);

/** What an alarm judges; records of the journal do not say it. Empty where the room has no such alarm any more. */
export const quantityOf = (room, alarm) =>
  state.rooms.get(room)?.room.alarms.find((one) => one.alarm === alarm)?.quantity ?? "";

export function takeHello(hello) {
  for (const { told } of state.rooms.values())
    if (told.epoch === state.trust.epoch) told.lastBeat = Math.max(told.at.wall, lastBeatAt() ?? 0);
  state.trust = freshness.onHello(state.trust, hello.instance);
  state.hello = hello;
  state.caution = hello.caution || state.caution;
  takeClock(hello.now);
}

export function takeBeat(beat) {
  state.trust = freshness.onBeat(state.trust, beat.evaluations, clocks());
  takeClock(beat.now);
}

export function takeLoss() {
  state.trust = freshness.onLost(state.trust);
}

export function takeRoom(room) {
  state.rooms.set(room.room, { room, told: { epoch: state.trust.epoch, at: clocks() } });
  state.caution = room.caution || state.caution;
}

/** The air of a room, each second; the rest of it is told when it changes. */
export function takeLevel(level) {
  const entry = state.rooms.get(level.room);
  if (entry) Object.assign(entry.room, level);
}

export function takeReading(reading) {
  const entry = state.rooms.get(reading.room);
  const sensor = entry?.room.sensors.find((one) => one.sensor === reading.sensor);
  if (!sensor) return;
  const reasons = (reading.reasons ?? []).map((one) =>
    typeof one === "string" ? { status: reading.status, text: one } : one,
  );
  Object.assign(sensor, { quality: reading.quality, status: reading.status, reasons, age_s: 0, told: clocks() });
  sensor.last = { ...sensor.last, ...reading };
}

/** Returns the alarm as it was, or null: what changed is for the caller to say. */
export function takeAlarm(alarm) {
  const entry = state.rooms.get(alarm.room);
  if (!entry) return null;
  const index = entry.room.alarms.findIndex((one) => one.alarm === alarm.alarm);
  const before = index < 0 ? null : entry.room.alarms[index];
  if (index < 0) entry.room.alarms.push(alarm);
  else entry.room.alarms[index] = alarm;
  return before;
}

/** What an order came to: the actuators of its room as they stand since. */
export function takeControl(room, control) {
  const entry = state.rooms.get(room);
  if (entry) entry.room = { ...entry.room, control };
}

export function takeSite(site) {
  state.site = site;
  state.siteTold = clocks();
  state.caution = site.caution || state.caution;
  const names = new Set(site.rooms.map((room) => room.room));
  for (const name of [...state.rooms.keys()]) if (!names.has(name)) state.rooms.delete(name);
}

/** How old a sensor's sample is by now. */
export function ageOf(sensor, told) {
  if (typeof sensor.age_s !== "number") return null;
  return sensor.age_s + Math.max(0, freshness.elapsed(sensor.told ?? told, clocks())) / 1000;
}

function takeClock(now) {
  const at = Date.parse(now);
  if (!Number.isNaN(at)) state.clockOffset_ms = at - Date.now();
}

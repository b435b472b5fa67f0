// Whether the numbers on the screen are of now. Pure: the clocks come in as arguments.
//
// Trust rests on the daemon's beat: one a second, each with a count of evaluations that has grown. A beat whose count
// stands still comes from a daemon that answers but judges nothing, so it is none.

export const BEAT_LATE_MS = 3000;
export const ROOM_LATE_MS = 25000; // a room is told at least every 10 s: two were missed

/** `wall` and `steady` are two clocks of the viewer: one stands still in a sleeping machine, the other can be set. */
export const initial = { connected: false, instance: null, epoch: 0, beat: null, evaluations: null, restarted: false };

export function onHello(trust, instance) {
  const restarted = trust.instance !== null && trust.instance !== instance;
  return { ...trust, connected: true, instance, epoch: trust.epoch + 1, restarted, evaluations: null };
}

export function onBeat(trust, evaluations, clocks) {
  if (!trust.connected || trust.evaluations === evaluations) return trust;
  return { ...trust, evaluations, beat: clocks };
}

export const onLost = (trust) => ({ ...trust, connected: false });

/** How long ago by the clock that says more; a clock that was set back says nothing. */
export const elapsed = (since, clocks) => Math.max(clocks.wall - since.wall, clocks.steady - since.steady);

/** Why the numbers are old, or null. */
export function whyOld(trust, clocks) {
  if (trust.beat === null) return trust.connected ? "waiting for the first beat" : "no connection yet";
  if (!trust.connected) return "the connection to Oxherd is lost";
  if (elapsed(trust.beat, clocks) > BEAT_LATE_MS) return "Oxherd has stopped reporting";
  return null;
}

/** A room is of now when it was told on this connection, and not too long ago. */
export function roomIsCurrent(trust, told, clocks) {
  return whyOld(trust, clocks) === null && told.epoch === trust.epoch && elapsed(told.at, clocks) <= ROOM_LATE_MS;
}

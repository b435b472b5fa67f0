// Times in the viewer's own clock, with UTC beside them. Pure, but for the zone of the viewer.

const two = (n) => String(n).padStart(2, "0");
const clock = (h, m, s) => `${two(h)}:${two(m)}:${two(s)}`;
const localDay = (d) => `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}`;
const utcDay = (d) => d.toISOString().slice(0, 10);

/** "13:04:11", with its date in front when that is not today's. */
export function localTime(at, now = new Date()) {
  const d = new Date(at);
  if (Number.isNaN(d.getTime())) return "unknown";
  const time = clock(d.getHours(), d.getMinutes(), d.getSeconds());
  return localDay(d) === localDay(now) ? time : `${localDay(d)} ${time}`;
}

/** "12:04:11 UTC", with its date in front when that is not the local one. */
export function utcTime(at) {
  const d = new Date(at);
  if (Number.isNaN(d.getTime())) return "";
  const time = `${clock(d.getUTCHours(), d.getUTCMinutes(), d.getUTCSeconds())} UTC`;
  return utcDay(d) === localDay(d) ? time : `${utcDay(d)} ${time}`;
}

/** Both, once only where the viewer lives by UTC. */
export function bothTimes(at, now = new Date()) {
  const d = new Date(at);
  if (Number.isNaN(d.getTime())) return "unknown";
  const local = localTime(at, now);
  return d.getTimezoneOffset() === 0 ? `${local} UTC` : `${local} (${utcTime(at)})`;
}

/** A date alone, such as that on which a check is due. */
export function day(at) {
  const d = new Date(at);
  return Number.isNaN(d.getTime()) ? "unknown" : localDay(d);
}

/** The value of an <input type="datetime-local"> for a moment, and back. */
export function toInput(at) {
  const d = new Date(at);
  return `${localDay(d)}T${clock(d.getHours(), d.getMinutes(), d.getSeconds())}`;
}
export function fromInput(text) {
  const at = new Date(text).getTime();
  return Number.isNaN(at) ? null : at;
}

// Numbers as a person reads them: in the unit of the trade, rounded to what their uncertainty allows. Pure.

export const NARROW = "\u202f"; // a narrow space that does not break, between a number and its unit
const known = (value) => typeof value === "number" && Number.isFinite(value);

/** Plain decimals without "-0.00"; a negative count rounds to tens, hundreds, ... */
export function toDecimals(value, decimals) {
  const step = 10 ** -Math.min(decimals, 0);
  const text = (Math.round(value / step) * step).toFixed(0);
  const out = decimals >= 0 ? value.toFixed(Math.min(decimals, 12)) : text;
  return /^-[0.]+$/.test(out) ? out.slice(1) : out;
}

/** How many decimals leave two significant digits of an expanded uncertainty. */
export function decimalsFor(expanded) {
  let decimals = 1 - Math.floor(Math.log10(expanded));
  if (Math.round(expanded * 10 ** decimals) >= 100) --decimals; // 0.0996 becomes 0.10, not 0.100
  return Math.min(decimals, 12);
}

/** {value, expanded} as texts with the same last digit; expanded is "" where none is known. */
export function rounded(value, expanded) {
  if (!known(value)) return { value: "", expanded: "" };
  if (!known(expanded) || expanded <= 0) return { value: significant(value, 4), expanded: "" };
  const decimals = decimalsFor(expanded);
  return { value: toDecimals(value, decimals), expanded: toDecimals(expanded, decimals) };
}

/** So many significant digits, never in powers of ten. */
export function significant(value, digits) {
  if (!known(value)) return "";
  if (value === 0) return "0";
  return toDecimals(value, digits - 1 - Math.floor(Math.log10(Math.abs(value))));
}

/** The parts of "19.29 % ± 0.13 % (k = 2)". A ratio, shown in percent. */
export function oxygenParts(ratio, expanded, k) {
  if (!known(ratio)) return null;
  const texts = rounded(ratio * 100, known(expanded) ? expanded * 100 : null);
  return {
    value: texts.value,
    unit: "%",
    uncertainty: texts.expanded ? `± ${texts.expanded}${NARROW}%` : "± unknown",
    coverage: texts.expanded && known(k) ? `(k = ${Number(k.toFixed(2))})` : "",
  };
}

/** "19.29 % ± 0.13 % (k = 2)", or "no value". */
export function oxygen(ratio, expanded, k) {
  const parts = oxygenParts(ratio, expanded, k);
  if (!parts) return "no value";
  return [`${parts.value}${NARROW}%`, parts.uncertainty, parts.coverage].filter(Boolean).join(" ");
}

/** Carbon dioxide of air in ppm; from 1 % on in percent. */
export function carbonDioxide(ratio) {
  if (!known(ratio)) return "no value";
  return Math.abs(ratio) < 0.01
    ? `${toDecimals(ratio * 1e6, 0)}${NARROW}ppm`
    : `${toDecimals(ratio * 100, 2)}${NARROW}%`;
}

/** What an alarm's numbers are multiplied by, and what stands behind them: oxygen in %, carbon dioxide in ppm, a partial
 * pressure in kPa; "1/min" and "Pa/min" are the same by the minute, "min" is a time that is left. */
function personsUnit(value, unit, quantity) {
  const timed = unit.endsWith("/min");
  const base = !timed ? unit : unit === "1/min" ? "/" : unit.slice(0, -4);
  const per = timed ? " per minute" : "";
  if (base === "Pa") return { factor: 1e-3, name: `kPa${per}` };
  if (base === "/" && quantity === "carbon-dioxide" && Math.abs(value) < 0.01)
    return { factor: 1e6, name: `ppm${per}` };
  if (base === "/") return { factor: 100, name: `%${per}` };
  return { factor: 1, name: base + per };
}

/** What an alarm judges, with its expanded uncertainty. A door or the monitoring itself has no number. */
export function alarmValue({ value, expanded, unit, quantity }) {
  if (!known(value)) return "no value";
  const { factor, name } = personsUnit(value, unit, quantity);
  const behind = name ? NARROW + name : "";
  if (name.startsWith("ppm") && !known(expanded)) return `${toDecimals(value * factor, 0)}${behind}`;
  const texts = rounded(value * factor, known(expanded) ? expanded * factor : null);
  return `${texts.value}${behind}` + (texts.expanded ? ` ± ${texts.expanded}${behind}` : "");
}

/** A limit is what somebody has set: as it was set, without digits of our own. */
export function alarmLimit({ limit, unit, quantity }) {
  if (!known(limit)) return "";
  const { factor, name } = personsUnit(limit, unit, quantity);
  return String(Number((limit * factor).toFixed(6))) + (name ? NARROW + name : "");
}

const quantity = (factor, decimals, unit, name, axis = unit) => ({
  name,
  axis,
  scaled: (value) => (known(value) ? value * factor : null),
  text: (value) => (known(value) ? `${toDecimals(value * factor, decimals)}${NARROW}${unit}` : "no value"),
});

/** What a trend can show, by the name that the daemon has for it. */
export const quantities = {
  dry_fraction: quantity(100, 2, "%", "Oxygen, dry basis"),
  u_dry_fraction: quantity(100, 3, "%", "Standard uncertainty of oxygen"),
  po2_kpa: quantity(1, 2, "kPa", "Partial pressure of oxygen"),
  co2_fraction: quantity(1e6, 0, "ppm", "Carbon dioxide"),
  temperature_c: quantity(1, 1, "°C", "Temperature"),
  humidity_percent: quantity(1, 0, "%RH", "Relative humidity"),
  pressure_kpa: quantity(1, 2, "kPa", "Pressure"),
  over_pressure_pa: quantity(1, 0, "Pa", "Over-pressure"),
  raw_mv: quantity(1, 3, "mV", "Signal of the cell"),
};

/** 0.4 s, 12 s, 3 min, 2 h 5 min, 4 d 3 h: two units at most. */
export function duration(seconds) {
  if (!known(seconds)) return "unknown";
  const s = Math.max(0, seconds);
  if (s < 10) return `${toDecimals(s, s > 0 && s < 1 ? 1 : 0)} s`;
  if (s < 120) return `${Math.floor(s)} s`;
  if (s < 7200) return `${Math.floor(s / 60)} min`;
  if (s < 172800) return pair(s, 3600, "h", 60, "min");
  return pair(s, 86400, "d", 3600, "h");
}

function pair(seconds, large, largeName, small, smallName) {
  const whole = Math.floor(seconds / large);
  const rest = Math.floor((seconds - whole * large) / small);
  return rest ? `${whole} ${largeName} ${rest} ${smallName}` : `${whole} ${largeName}`;
}

/** A factor such as 0.9713 as "× 0.9713" with what it does in percent. */
export function factor(value) {
  if (!known(value)) return "unknown";
  const change = (value - 1) * 100;
  const sign = change >= 0 ? "+" : "\u2212";
  return `× ${value.toFixed(4)} (${sign}${Math.abs(change).toFixed(2)}${NARROW}%)`;
}

/** How large something is: "3.21 GB", in powers of ten. */
export function size(bytes) {
  const units = ["B", "kB", "MB", "GB", "TB"];
  let step = 0;
  for (; step < units.length - 1 && bytes >= 999.5; ++step) bytes /= 1000;
  return `${bytes < 99.95 && step > 0 ? bytes.toPrecision(3) : Math.round(bytes)}${NARROW}${units[step]}`;
}

// Values as a person types them, such as "99.8 kPa" or "54 °F", in SI. The daemon reads the same spellings elsewhere; what
// it wants in SI is read here. Pure.

const scale = (factor, offset = 0) => ({ factor, offset });
const atmosphere_Pa = 101325;
const fahrenheit = 5 / 9;
const spelled = (names, unit) => Object.fromEntries(names.map((name) => [name, unit]));
const celsius = ["°C", "C", "degC", "\u2103"];
const fahrenheits = ["°F", "F", "degF", "\u2109"];
const shares = { ...spelled(["fraction", "ratio", "1", "/"], scale(1)), "%": scale(1e-2) };

export const units = {
  voltage: { mV: scale(1e-3), V: scale(1), ...spelled(["uV", "\u00b5V", "\u03bcV"], scale(1e-6)) },
  pressure: {
    kPa: scale(1e3),
    hPa: scale(1e2),
    Pa: scale(1),
    mbar: scale(1e2),
    bar: scale(1e5),
    mmHg: scale(133.322387415),
    Torr: scale(atmosphere_Pa / 760),
    inHg: scale(3386.388640341),
    psi: scale(6894.757293168),
    atm: scale(atmosphere_Pa),
  },
  temperature: {
    ...spelled(celsius, scale(1, 273.15)),
    ...spelled(fahrenheits, scale(fahrenheit, 459.67 * fahrenheit)),
    K: scale(1),
  },
  difference: { ...spelled([...celsius, "K"], scale(1)), ...spelled(fahrenheits, scale(fahrenheit)) },
  ratio: { ...shares, ...spelled(["ppm", "ppmv"], scale(1e-6)) },
  humidity: { ...shares, "%RH": scale(1e-2) },
};
const examples = {
  voltage: "12.6 mV",
  pressure: "99.8 kPa",
  temperature: "21 °C",
  difference: "0.3 K",
  ratio: "2.01 %",
  humidity: "45 %",
};

/** {si} of a typed value of that kind, or {problem} in words. */
export function siOf(text, kind) {
  const typed = (text ?? "").trim().replace(/^\u2212/, "-");
  const example = `write it with its unit, such as "${examples[kind]}"`;
  const match = /^([+-]?(?:\d+\.?\d*|\.\d+))\s*(.*)$/u.exec(typed);
  if (!match) return { problem: typed ? `"${typed}" does not start with a number; ${example}` : `missing; ${example}` };
  const [, number, symbol] = match;
  if (symbol.startsWith(",")) return { problem: `"${typed}" has a comma; write a decimal point` };
  const unit = Object.hasOwn(units[kind], symbol) ? units[kind][symbol] : null;
  if (!unit) return { problem: `"${typed}" ${symbol ? `has another unit` : "has no unit"}; ${example}` };
  const per = 1 / unit.factor; // 12.6 mV is 12.6 / 1000: exact where a product would not be
  const scaled = unit.factor < 1 && Number.isInteger(per) ? Number(number) / per : Number(number) * unit.factor;
  return { si: scaled + unit.offset };
}

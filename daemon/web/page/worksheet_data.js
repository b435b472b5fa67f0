// The values of the worksheet by the names that `oxherd explain` has for them, and which are asked for when. Pure.

export const models = [
  ["concentration", "concentration: passive galvanic cells"],
  ["partial-pressure", "partial pressure"],
  ["mole-fraction", "mole fraction: capillary cells"],
  ["nernst", "nernst: zirconia"],
];
export const pressureWays = [
  ["station", "station pressure, measured"],
  ["sea-level", "weather report, at sea level"],
  ["elevation", "none: follows from the height"],
];
export const lowWays = [
  ["zero", "zero signal: without oxygen"],
  ["low-point", "low point: little oxygen"],
];
export const firstChoice = { cell: "concentration", pressure: "station", "cal-pressure": "station", low: "zero" };

const value = (name, label, example, u = true) => ({ name, label, example, u });
const pressures = (way, prefix, place, example) => {
  const height = value(`${prefix}elevation`, "Height above sea level", "640 m");
  if (way === "station") return [value(`${prefix}pressure`, `Station pressure${place}`, example)];
  return way === "elevation"
    ? [height]
    : [value(`${prefix}sea-level-pressure`, "Pressure at sea level", "1013 hPa"), height];
};

/** The groups of fields for what was chosen: {title, fields, more}; `more` are those that few need. */
export function groups(chosen) {
  const low =
    chosen.low === "zero"
      ? [value("zero", "Zero signal", "0.4 mV")]
      : [
          value("cal-low-signal", "Signal at the low point", "0.6 mV"),
          value("cal-low-oxygen", "Oxygen of the low gas, dry", "1 %"),
        ];
  const ofLow =
    chosen.low === "zero"
      ? []
      : [
          value("cal-low-temperature", "Temperature at the low point", "as at calibration"),
          value("cal-low-humidity", "Relative humidity at the low point", "0 %: from a cylinder"),
          value("cal-low-pressure", "Station pressure at the low point", "as at calibration"),
        ];
  const out = [
    {
      title: "Now",
      fields: [
        value("signal", "Signal", "11.9 mV"),
        value("temperature", "Temperature", "54 °F"),
        value("humidity", "Relative humidity", "88 %"),
        ...pressures(chosen.pressure, "", "", "29.1 inHg"),
      ],
      more: [value("humidity-temperature", "Temperature of the humidity probe, if it has its own", "12.4 °C")],
    },
    {
      title: "At calibration",
      fields: [
        value("cal-signal", "Signal at calibration", "12.6 mV"),
        value("cal-oxygen", "Oxygen of the gas, dry", "20.946 %"),
        value("cal-temperature", "Temperature at calibration", "21 °C"),
        value("cal-humidity", "Relative humidity at calibration", "45 %"),
        ...pressures(chosen["cal-pressure"], "cal-", " at calibration", "99.8 kPa"),
        ...low,
      ],
      more: [...ofLow, value("cal-humidity-temperature", "Temperature of the humidity probe at calibration", "21 °C")],
    },
    {
      title: "The cell",
      fields: [],
      more: [
        value("resolution", "Step of the indicated signal", "0.01 mV", false),
        value("linearity", "Uncertainty midway between the points", "0.3 %", false),
        value("cal-age", "Time since the calibration", "40 d", false),
        value("drift", "Drift in a month, at most", "1 %", false),
        value("temperature-response", "Response to temperature", "0.0025,-1e-5@20C", false),
      ],
    },
  ];
  if (chosen.cell === "nernst")
    out[2].fields = [
      value("furnace", "Temperature of the cell", "700 °C"),
      value("reference-oxygen", "Oxygen of the reference air, dry", "20.946 %"),
      value("reference-temperature", "Temperature of the reference air", "20 °C"),
      value("reference-humidity", "Relative humidity of the reference air", "50 %"),
      value("reference-pressure", "Pressure on the reference side", "that of the gas"),
    ];
  return out;
}

const allOf = (chosen) => groups(chosen).flatMap((group) => [...group.fields, ...group.more]);
const choices = () =>
  pressureWays.flatMap(([way]) =>
    lowWays.map(([low]) => ({ cell: "nernst", pressure: way, "cal-pressure": way, low })),
  );
const known = new Map(choices().flatMap((chosen) => allOf(chosen).map((one) => [one.name, one])));
/** Every name that the worksheet may send, uncertainties among them. */
export const everyName = () => [
  "cell",
  ...[...known.values()].flatMap(({ name, u }) => (u ? [name, `u-${name}`] : [name])),
];

/** What the form gives for the request: only what is asked for as it is chosen now. */
export function valuesOf(given, chosen) {
  const names = new Set(["cell", ...allOf(chosen).flatMap(({ name }) => [name, `u-${name}`])]);
  return Object.fromEntries(Object.entries(given).filter(([name]) => names.has(name)));
}

/** The daemon speaks of options, such as "--cal-signal is missing"; a person here sees the label of the field. */
export const problemLines = (words) =>
  words.split(/; (?=--)/).map((line) =>
    line.replaceAll(/--(u-)?([a-z]+(?:-[a-z]+)*)/g, (option, u = "", name) => {
      const field = known.get(name);
      return field ? `\u201c${u ? "u of " : ""}${field.label}\u201d` : option;
    }),
  );

// Prints what psychrolib says over the span of use, one row a line: t_C h p_Pa vapour_Pa humidity_ratio
// dry_air_kg_per_m3 dew_point_C. Its humidity is over ice below 0.01 °C, and its dew point is then a frost point.
// With "altitudes": altitude_m pressure_Pa temperature_C.
const psychrolib = require("psychrolib");

psychrolib.SetUnitSystem(psychrolib.SI);
const lines = [];
if (process.argv[2] === "altitudes") {
  for (let z = -500; z <= 10000; z += 100)
    lines.push([z, psychrolib.GetStandardAtmPressure(z), psychrolib.GetStandardAtmTemperature(z)].join(" "));
} else {
  for (let t = -20; t <= 60; t += 2.5)
    for (let percent = 0; percent <= 100; percent += 5)
      for (let p = 60e3; p <= 110e3; p += 5e3) {
        const h = percent / 100;
        const ratio = psychrolib.GetHumRatioFromRelHum(t, h, p);
        const dry = psychrolib.GetMoistAirDensity(t, ratio, p) / (1 + ratio);
        const dew = h > 0 ? psychrolib.GetTDewPointFromRelHum(t, h) : NaN;
        lines.push([t, h, p, psychrolib.GetVapPresFromRelHum(t, h), ratio, dry, dew].join(" "));
      }
}
console.log(lines.join("\n"));

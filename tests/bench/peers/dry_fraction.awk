# Dry oxygen fraction of a galvanic cell, row by row: signal_V temperature_K humidity pressure_Pa [more columns].
# The cell of tests/compensation/examples.hpp: zero 0.4 mV, 12.6 mV in 20.946 % at 21 °C, 45 % and 99.8 kPa.
function vapour(t, h, p,    theta, a, b, c, root) { # IAPWS R7-97 equation (30) times the enhancement of CIPM-2007 A.1
  theta = t - 0.23855557567849 / (t - 650.17534844798)
  a = (theta + 1167.0521452767) * theta - 724213.16703206
  b = (-17.073846940092 * theta + 12020.824702470) * theta - 3232555.0322333
  c = (14.915108613530 * theta - 4823.2657361591) * theta + 405113.40542057
  root = 2 * c / (-b + sqrt(b * b - 4 * a * c))
  return (1.00062 + 3.14e-8 * p + 5.6e-7 * (t - 273.15) ^ 2) * h * root ^ 4 * 1e6
}
BEGIN { gain = (99800 - vapour(294.15, 0.45, 99800)) / 294.15 }
{ printf "%.17g\n", 0.20946 * ($1 - 0.4e-3) / 12.2e-3 * gain * $2 / ($4 - vapour($2, $3, $4)) }

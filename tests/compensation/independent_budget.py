#!/usr/bin/env python3
"""Readings with their budgets by another method: the model equations written anew, propagated by Python's uncertainties.

Reads one case a line, as tests/compensation/independent_budget_test.cpp writes them; prints for each the dry and wet
fraction, the partial pressure and the molar concentration, each with u, and then the budget of the dry fraction.
"""
import math
import sys

from uncertainties import ufloat
from uncertainties.umath import exp, log, sqrt

R, FARADAY = 8.31446261815324, 96485.33212331001
CONCENTRATION, PARTIAL_PRESSURE, MOLE_FRACTION, NERNST = range(4)
SLOTS = ["signal", "zero", "cal-signal", "cal-oxygen", "cal-temperature", "cal-humidity", "cal-humidity-temperature",
         "cal-pressure", "low-signal", "low-oxygen", "temperature", "humidity", "humidity-temperature", "pressure",
         "furnace", "reference-air", "resolution", "linearity", "drift"]


class Line:
    """The numbers of one case in their order."""

    def __init__(self, text):
        self.left = [float(word) for word in text.split()]

    def number(self):
        return self.left.pop(0)

    def input(self, slot):
        value, u = self.number(), self.number()
        return ufloat(value, u, slot)

    def gas(self, slots):
        """t, h, p and the temperature of the humidity probe, which may be the same thermometer."""
        own_probe = self.number() == 1.0
        t, h, probe, p = (self.input(slot) for slot in slots)
        return t, h, p, (probe if own_probe else t)


def vapour(t, h, p, probe):
    """IAPWS R7-97 equation (30), solved for the fourth root as the quadratic it comes from; CIPM-2007 A.1."""
    theta = probe + -0.23855557567849 / (probe - 650.17534844798)
    a = theta ** 2 + 1167.0521452767 * theta - 724213.16703206
    b = -17.073846940092 * theta ** 2 + 12020.824702470 * theta - 3232555.0322333
    c = 14.915108613530 * theta ** 2 - 4823.2657361591 * theta + 405113.40542057
    saturation = 1e6 * (2.0 * c / (sqrt(b ** 2 - 4.0 * a * c) - b)) ** 4
    return (1.00062 + 3.14e-8 * p + 5.6e-7 * (probe - 273.15) ** 2) * h * saturation


def together(now, then, r):
    """The input of a calibration, correlated with that of the reading: r of its unit error is the same one."""
    if r == 0.0 or now.std_dev == 0.0:
        return then
    rest = ufloat(0.0, math.sqrt(1.0 - r * r) * then.std_dev, then.tag)
    return then.nominal_value + rest + r * then.std_dev * (now - now.nominal_value) / now.std_dev


def joined(now, then, r):
    if then[3] is then[0]:
        t = together(now[0], then[0], r["t"])
        return t, together(now[1], then[1], r["h"]), together(now[2], then[2], r["p"]), t
    both_apart = now[3] is not now[0]
    probe = together(now[3], then[3], r["t"]) if both_apart else then[3]
    return together(now[0], then[0], r["t"]), together(now[1], then[1], r["h"]), together(now[2], then[2], r["p"]), probe


def reading(text):
    line = Line(text)
    model, two_points = int(line.number()), line.number() == 1.0
    signal = line.input("signal")
    now = line.gas(["temperature", "humidity", "humidity-temperature", "pressure"])
    zero = line.input("zero")
    span_signal, span_oxygen = line.input("cal-signal"), line.input("cal-oxygen")
    span = line.gas(["cal-temperature", "cal-humidity", "cal-humidity-temperature", "cal-pressure"])
    low_signal, low_oxygen = line.input("low-signal"), line.input("low-oxygen")
    low = line.gas(["low-oxygen"] * 4)
    reference_t, a1, a2 = line.number(), line.number(), line.number()
    furnace, air_oxygen = line.input("furnace"), line.input("reference-air")
    air_now = line.gas(["reference-air"] * 4)
    span_air = line.gas(["reference-air"] * 4) if line.number() == 1.0 else air_now
    low_air = line.gas(["reference-air"] * 4) if line.number() == 1.0 else air_now
    r = {key: line.number() for key in "thp"}
    step, linearity, drift = line.number(), line.number(), line.number()
    assert not line.left, line.left
    span = joined(now, span, r)

    def oxygen_Pa(x, gas):
        return x * (gas[2] - vapour(*gas))

    def stimulus(x, gas, air):
        """What the signal is linear in."""
        t = gas[0]
        g = 1.0 + a1 * (t - reference_t) + a2 * (t - reference_t) ** 2
        if model == CONCENTRATION:
            return g * oxygen_Pa(x, gas) / (R * t)
        if model == PARTIAL_PRESSURE:
            return g * oxygen_Pa(x, gas)
        if model == MOLE_FRACTION:
            return g * oxygen_Pa(x, gas) / gas[2]
        return R * furnace / (4.0 * FARADAY) * log(oxygen_Pa(air_oxygen, air) / oxygen_Pa(x, gas))

    at_span = stimulus(span_oxygen, span, span_air)
    if two_points:
        other_signal, at_other = low_signal, stimulus(low_oxygen, low, low_air)
    elif model != NERNST:
        other_signal, at_other = zero, 0.0
    else:
        other_signal, at_other = None, None
    k = 1.0 if other_signal is None else (span_signal - other_signal) / (at_span - at_other)
    without_stimulus = span_signal - k * at_span

    # The signal has errors of its own; each has the best estimate zero.
    right = signal + ufloat(0.0, step / math.sqrt(12.0), "resolution")
    if other_signal is None:
        right += ufloat(0.0, linearity, "linearity") * (signal - span_signal)
    else:
        along = (signal - other_signal) / (span_signal - other_signal)
        right += ufloat(0.0, linearity, "linearity") * 4.0 * along * (1.0 - along) * (span_signal - other_signal)
    found = (right - without_stimulus) / (k * (1.0 + ufloat(0.0, drift, "drift")))

    if model == NERNST:
        partial = oxygen_Pa(air_oxygen, air_now) * exp(-4.0 * FARADAY * found / (R * furnace))
        dry = partial / (now[2] - vapour(*now))
    else:
        dry = found / stimulus(1.0, now, None)
    partial = oxygen_Pa(dry, now)
    return dry, partial / now[2], partial, partial / (R * now[0])


def main():
    for text in sys.stdin:
        results = reading(text)
        budget = dict.fromkeys(SLOTS, 0.0)
        for variable, part in results[0].error_components().items():
            budget[variable.tag] += part * part
        numbers = [n for x in results for n in (x.nominal_value, x.std_dev)]
        print(*(repr(n) for n in numbers + [math.sqrt(budget[slot]) for slot in SLOTS]))


if __name__ == "__main__":
    main()

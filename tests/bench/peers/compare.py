#!/usr/bin/env python3
"""Readings a second, side by side with general tools that do the same work, and whether all find the same.

    compare.py [BUILD_FOLDER] [--rows N]

BUILD_FOLDER (build/dev) holds bin/oxherd_bench and bin/oxherd_bench_rows. All times are CPU times of one core. Exits
with 1 when a result differs from ours by more than its tolerance: then the comparison is void.
"""
import argparse
import json
import resource
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
from uncertainties import ufloat

HERE = Path(__file__).resolve().parent
TOLERANCE = 1e-12  # relative: the same equations in the same doubles, in another order of operations
TOLERANCE_U = 1e-9  # of the standard uncertainty: slopes by another method, also exact


def vapour(t, h, p):
    """IAPWS R7-97 equation (30) times the enhancement factor of CIPM-2007 A.1; for numbers, arrays and ufloats."""
    theta = t - 0.23855557567849 / (t - 650.17534844798)
    a = (theta + 1167.0521452767) * theta - 724213.16703206
    b = (-17.073846940092 * theta + 12020.824702470) * theta - 3232555.0322333
    c = (14.915108613530 * theta - 4823.2657361591) * theta + 405113.40542057
    root = 2 * c / (-b + (b * b - 4 * a * c) ** 0.5)
    square = root * root
    dt = t - 273.15
    return (1.00062 + 3.14e-8 * p + 5.6e-7 * dt * dt) * h * square * square * 1e6


def dry_fraction(signal, t, h, p, oxygen, zero, span, tc, hc, pc):
    """A galvanic cell: oxygen per volume, pO2/(R T)."""
    gain = oxygen / (span - zero) * (pc - vapour(tc, hc, pc)) / tc
    return (signal - zero) * gain * t / (p - vapour(t, h, p))


def ours(folder, name):
    """Readings a second of a benchmark: the median of five runs."""
    out = subprocess.run([folder / "bin/oxherd_bench", f"--benchmark_filter=^{name}$", "--benchmark_format=json",
                          "--benchmark_repetitions=5", "--benchmark_report_aggregates_only=true"],
                         check=True, capture_output=True, text=True).stdout
    return next(b["items_per_second"] for b in json.loads(out)["benchmarks"] if b["aggregate_name"] == "median")


def by_numpy(columns):
    """The median of five passes over blocks of 65536 rows, as ours has them; results of all rows."""
    blocks = [tuple(c[i:i + 65536] for c in columns) for i in range(0, len(columns[0]), 65536)]
    took = []
    for _ in range(5):
        start = time.process_time()
        dry = [dry_fraction(*block, 0.20946, 0.4e-3, 12.6e-3, 294.15, 0.45, 99800.0) for block in blocks]
        took.append(time.process_time() - start)
    return len(columns[0]) / float(np.median(took)), np.concatenate(dry)


# Standard uncertainties of signal, temperature, humidity, pressure, and of the calibration's inputs in the same order
# as dry_fraction takes them.
SPREAD = (2e-5, 0.3, 0.03, 50.0, 6e-5, 0.05e-3, 0.02e-3, 0.3, 0.03, 50.0)


def by_numpy_with_u(columns):
    """The same with standard uncertainty: slopes by a complex step, which are exact to the last digits (W. Squire and
    G. Trapp, SIAM Review 40 (1998) 110, from memory)."""
    calibration = (0.20946, 0.4e-3, 12.6e-3, 294.15, 0.45, 99800.0)
    blocks = [tuple(c[i:i + 65536] for c in columns) for i in range(0, len(columns[0]), 65536)]
    took = []
    for _ in range(5):
        start = time.process_time()
        u = []
        for block in blocks:
            inputs = block + calibration
            dry_fraction(*inputs)  # the value itself belongs to the job
            squares = 0.0
            for i, spread in enumerate(SPREAD):
                moved = tuple(x + 1e-30j * spread if k == i else x for k, x in enumerate(inputs))
                squares = squares + (dry_fraction(*moved).imag * 1e30) ** 2
            u.append(np.sqrt(squares))
        took.append(time.process_time() - start)
    return len(columns[0]) / float(np.median(took)), np.concatenate(u)


def by_awk(text, count):
    """Reading and writing text is part of it: awk has no other way."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    out = subprocess.run(["awk", "-f", HERE / "dry_fraction.awk"], input=text, check=True, capture_output=True).stdout
    took = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before
    return count / took, np.array(out.split(), dtype=float)


def by_uncertainties():
    """The worked example with its budget: readings a second, fraction and standard uncertainty."""
    took = []
    for _ in range(5):
        start = time.process_time()
        for _ in range(50):
            dry = dry_fraction(ufloat(11.9e-3, 0.02e-3), ufloat(285.35, 0.3), ufloat(0.88, 0.03), ufloat(93870.0, 800.0),
                               ufloat(0.20946, 6e-5), ufloat(0.4e-3, 0.05e-3), ufloat(12.6e-3, 0.02e-3),
                               ufloat(294.15, 0.3), ufloat(0.45, 0.03), ufloat(99800.0, 50.0))
            u = dry.std_dev
        took.append((time.process_time() - start) / 50)
    return 1.0 / float(np.median(took)), dry.nominal_value, u


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("folder", nargs="?", type=Path, default=HERE.parents[2] / "build/dev")
    arguments.add_argument("--rows", type=int, default=262144)
    given = arguments.parse_args()
    text = subprocess.run([given.folder / "bin/oxherd_bench_rows", str(given.rows)], check=True,
                          capture_output=True).stdout
    table = np.array(text.split(), dtype=float).reshape(given.rows, 6)
    columns, expected, expected_u = tuple(np.ascontiguousarray(c) for c in table.T[:4]), table.T[4], table.T[5]
    fine = True

    def row(what, per_second, difference=None, tolerance=None):
        nonlocal fine
        agrees = difference is None or difference <= tolerance
        fine = fine and agrees
        seen = "" if difference is None else f"differs by {difference:.1e}, {tolerance:.0e} allowed"
        print(f"{what:44} {per_second:14,.0f} /s   {seen}{'' if agrees else '   NOT THE SAME'}")

    print("Dry fraction of a galvanic cell, without uncertainty")
    row("  read_batch", ours(given.folder, "batch_without_uncertainty/concentration"))
    speed, dry = by_numpy(columns)
    row(f"  numpy {np.__version__}", speed, np.max(np.abs(dry / expected - 1.0)), TOLERANCE)
    speed, dry = by_awk(text, given.rows)
    row("  awk, with its text in and out", speed, np.max(np.abs(dry / expected - 1.0)), TOLERANCE)
    print("With standard uncertainty")
    row("  read_batch: dry, wet, partial pressure", ours(given.folder, "batch_with_uncertainty/concentration"))
    speed, u = by_numpy_with_u(columns)
    row("  numpy, one output", speed, np.max(np.abs(u / expected_u - 1.0)), TOLERANCE_U)
    row("  PreparedCell: all outputs, complete budget", ours(given.folder, "prepared_with_uncertainty/concentration"))
    row("  read_oxygen: calibration anew each time", ours(given.folder, "read_oxygen_with_uncertainty/concentration"))
    speed, dry, u = by_uncertainties()
    # Both figures are published with the example that the tests of the library use too.
    row("  Python's uncertainties, one output", speed,
        max(abs(dry / 0.2040702951202 - 1.0), abs(u / 0.0018788311808 - 1.0)), TOLERANCE_U)
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())

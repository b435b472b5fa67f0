#!/usr/bin/env python3
"""Measures `oxherd correct` on a logger file of five columns, and beside it the same correction in pandas and in awk.

    tests/bench/correct_peers.py OXHERD [--megabytes N] [--runs N] [--directory DIR] [--without-peers]

Prints megabytes of input for each second that passed and for each second of processor time (user and system together,
so the figure of one core), as the median and the best of several runs, and the peak memory of each. The peers compute
the oxygen fraction alone; oxherd also propagates the uncertainty, checks every field and keeps a SHA-256 of both files.
All three must agree in every row. pandas is the package python3-pandas, which the tests do not need.
"""
import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time

RECIPE = """
[time]
column = "time"
[signal]
column = "o2_mV"
unit = "mV"
[temperature]
column = "t_C"
unit = "°C"
[humidity]
column = "rh"
unit = "%"
[pressure]
column = "p_hPa"
unit = "hPa"
[cell]
model = "concentration"
zero = "0.4 mV"
[calibration]
signal = "12.6 mV"
temperature = "21 °C"
humidity = "45 %"
pressure = "99.8 kPa"
[output]
columns = ["oxygen", "u_oxygen", "quality", "remark"]
decimals = 6
"""

# IAPWS R7-97(2012), equation (30) and table 34; CIPM-2007, appendix A.1, for the enhancement factor.
N = [0.0, 0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
     0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3]

AWK = """
function vapour(t, h, p,   th, a, b, c, r) {
  th = t + n9 / (t - n10); a = (th + n1) * th + n2; b = (n3 * th + n4) * th + n5; c = (n6 * th + n7) * th + n8
  r = 2 * c / (-b + sqrt(b * b - 4 * a * c))
  return (1.00062 + 3.14e-8 * p + 5.6e-7 * (t - 273.15) ^ 2) * h * r * r * r * r * 1e6
}
BEGIN { FS = ","; OFS = ","; tc = 294.15; k = 20.946 * (99800 - vapour(tc, 0.45, 99800)) / tc / 12.2 }
NR == 1 { print $0, "oxygen_percent"; next }
{ t = $3 + 273.15; p = $5 * 100; printf "%s,%.6f\\n", $0, k * ($2 - 0.4) * t / (p - vapour(t, $4 / 100, p)) }
"""

PANDAS = """
import sys
import numpy as np
import pandas as pd
n = NUMBERS
def vapour(t, h, p):
    th = t + n[9] / (t - n[10])
    a = (th + n[1]) * th + n[2]
    b = (n[3] * th + n[4]) * th + n[5]
    c = (n[6] * th + n[7]) * th + n[8]
    r = 2 * c / (-b + np.sqrt(b * b - 4 * a * c))
    return (1.00062 + 3.14e-8 * p + 5.6e-7 * (t - 273.15) ** 2) * h * r ** 4 * 1e6
k = 20.946 * (99800 - vapour(294.15, 0.45, 99800)) / 294.15 / 12.2
d = pd.read_csv(sys.argv[1], dtype={"time": str})
t, p = d.t_C + 273.15, d.p_hPa * 100
d["oxygen_percent"] = k * (d.o2_mV - 0.4) * t / (p - vapour(t, d.rh / 100, p))
d.to_csv(sys.argv[2], index=False, float_format="%.6f")
"""


def generate(path, megabytes):
    """Rows of 60 to 80 bytes, all different in time; the values repeat after 100,000 rows, which no peer notices."""
    import math
    tails = [f",{11.9 + 0.4 * math.sin(i / 900):.4f},{18.0 + 6 * math.sin(i / 700):.2f},"
             f"{70.0 + 20 * math.sin(i / 1100):.1f},{986.4 + 9 * math.sin(i / 5000):.2f}\n" for i in range(100_000)]
    written, second = 0, 0
    with open(path, "w", encoding="ascii") as out:
        out.write("time,o2_mV,t_C,rh,p_hPa\n")
        while written < megabytes * 1e6:
            day, rest = divmod(second, 86400)
            date = time.strftime("%Y-%m-%d", time.gmtime(1767225600 + day * 86400))
            block = "".join(f"{date}T{s // 3600:02}:{s // 60 % 60:02}:{s % 60:02}.000+01:00 {tails[(second + s) % 100_000]}"
                            .replace(" ,", ",") for s in range(86400))
            out.write(block)
            written += len(block)
            second += 86400
    return os.path.getsize(path)


def watched_to_its_end(child):
    """Exit status, resource usage and peak memory in MiB. The peak in the usage would count this program's own, too."""
    peak = 0
    while True:
        try:
            with open(f"/proc/{child.pid}/status", encoding="ascii") as status:
                peak = max([peak, *(int(line.split()[1]) / 1024 for line in status if line.startswith("VmHWM"))])
        except OSError:
            pass
        pid, status, usage = os.wait4(child.pid, os.WNOHANG)
        if pid != 0:
            return status, usage, peak
        time.sleep(0.002)


def measured(name, command, size, output, runs, to_stdout=False):
    """Runs a command several times; each time its output is a new file."""
    wall, processor, memory = [], [], 0
    for _ in range(runs):
        for left in (output, output + ".record.json"):
            if os.path.exists(left):
                os.remove(left)
        with open(output if to_stdout else os.devnull, "wb") as out, tempfile.TemporaryFile() as said:
            before = time.monotonic()
            child = subprocess.Popen(command, stdout=out, stderr=said)
            status, usage, peak = watched_to_its_end(child)
            seconds = time.monotonic() - before
            child.returncode = os.waitstatus_to_exitcode(status)
            if child.returncode != 0:
                said.seek(0)
                sys.exit(f"{name} failed with exit code {child.returncode}:\n{said.read().decode(errors='replace')}")
        wall.append(size / 1e6 / seconds)
        processor.append(size / 1e6 / (usage.ru_utime + usage.ru_stime))
        memory = max(memory, peak)
    print(f"{name:10} {statistics.median(wall):7.1f} MB/s (best {max(wall):.1f})  {statistics.median(processor):7.1f} MB "
          f"per second of processor (best {max(processor):.1f})  {memory:8.1f} MiB at most")


def agree(ours, theirs, column):
    """Whether two corrected files have the same fraction in every row, to a unit of the last digit."""
    rows = 0
    with open(ours, encoding="ascii") as a, open(theirs, encoding="ascii") as b:
        next(a), next(b)
        for left, right in zip(a, b, strict=True):
            x, y = float(left.split(",")[5]), float(right.split(",")[column])
            if abs(x - y) > 1.01e-6:
                sys.exit(f"row {rows + 1}: {x} here, {y} there")
            rows += 1
    return rows


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("oxherd")
    parser.add_argument("--megabytes", type=int, default=200)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--directory", default=None, help="where the files go (default: a temporary directory)")
    parser.add_argument("--without-peers", action="store_true")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=options.directory) as directory:
        path = lambda name: os.path.join(directory, name)
        size = generate(path("in.csv"), options.megabytes)
        print(f"{size / 1e6:.0f} MB, {os.cpu_count()} processors")
        for name, text in (("recipe.toml", RECIPE), ("peer.py", PANDAS.replace("NUMBERS", repr(N))), ("peer.awk", AWK)):
            with open(path(name), "w", encoding="utf-8") as out:
                out.write(text)
        measured("oxherd", [options.oxherd, "correct", path("in.csv"), "-o", path("ours.csv"), "--recipe",
                            path("recipe.toml")], size, path("ours.csv"), options.runs)
        if options.without_peers:
            return
        measured("pandas", [sys.executable, path("peer.py"), path("in.csv"), path("pandas.csv")], size,
                 path("pandas.csv"), options.runs)
        print(f"           agrees in {agree(path('ours.csv'), path('pandas.csv'), 5)} rows")
        os.remove(path("pandas.csv"))
        numbers = [f"-vn{i}={value!r}" for i, value in enumerate(N)]
        measured("awk", ["awk", *numbers, "-f", path("peer.awk"), path("in.csv")], size, path("awk.csv"), options.runs,
                 to_stdout=True)
        print(f"           agrees in {agree(path('ours.csv'), path('awk.csv'), 5)} rows")


if __name__ == "__main__":
    main()

#!/usr/bin/env python3
"""Compares the instants that `oxherd correct` finds for local times of named zones with those of Python's zoneinfo.

    zones.py OXHERD [--seed N] [--zones N]

Random local times of 1905 to 2199, and some on both sides of changes of the clocks, in a random choice of zones.
"""
import argparse
import datetime as dt
import os
import random
import subprocess
import sys
import tempfile
import zoneinfo

UTC = dt.timezone.utc
RECIPE = """
[time]
column = "time"
zone = "{zone}"
[signal]
column = "mV"
unit = "mV"
[temperature]
value = "21 °C"
[humidity]
value = "45 %"
[pressure]
value = "99.8 kPa"
[cell]
model = "concentration"
[calibration]
signal = "12.6 mV"
temperature = "21 °C"
humidity = "45 %"
pressure = "99.8 kPa"
[output]
columns = ["time", "quality", "remark"]
"""


def change_between(zone, low, high):
    """An instant within a second of a change of the offset, or nothing."""
    if low.astimezone(zone).utcoffset() == high.astimezone(zone).utcoffset():
        return None
    while high - low > dt.timedelta(seconds=1):
        middle = low + (high - low) / 2
        if middle.astimezone(zone).utcoffset() == low.astimezone(zone).utcoffset():
            low = middle
        else:
            high = middle
    return high


def local_times(random_, zone):
    start = dt.datetime(1905, 1, 1)
    span_s = int((dt.datetime(2200, 1, 1) - start).total_seconds())
    times = [start + dt.timedelta(seconds=random_.randrange(span_s)) for _ in range(40)]
    for _ in range(40):
        low = (start + dt.timedelta(seconds=random_.randrange(span_s))).replace(tzinfo=UTC)
        change = change_between(zone, low, low + dt.timedelta(days=random_.randrange(20, 200)))
        if change:
            shown = change.astimezone(zone).replace(tzinfo=None, microsecond=0)
            times += [shown + dt.timedelta(seconds=random_.randrange(-10000, 10000)) for _ in range(6)]
    return times


def expected(zone, local):
    """The instants that this local time can stand for."""
    found = set()
    for fold in (0, 1):
        instant = local.replace(tzinfo=zone, fold=fold).astimezone(UTC)
        if instant.astimezone(zone).replace(tzinfo=None, fold=0) == local:
            found.add(instant.replace(tzinfo=None))
    return found


def check(oxherd, directory, name, random_):
    zone = zoneinfo.ZoneInfo(name)
    times = local_times(random_, zone)
    recipe = os.path.join(directory, "r.toml")
    with open(recipe, "w", encoding="utf-8") as out:
        out.write(RECIPE.format(zone=name))
    rows = "time,mV\n" + "".join(f"{t.isoformat()},12.5\n" for t in times)
    done = subprocess.run([oxherd, "correct", "-", "-o", "-", "--recipe", recipe], input=rows.encode(),
                          capture_output=True, timeout=60, check=False)
    assert done.returncode == 0, (name, done.stderr.decode())
    counts = {0: 0, 1: 0, 2: 0}
    for local, line in zip(times, done.stdout.decode().splitlines()[1:], strict=True):
        _, _, got, quality, remark = line.split(",")
        instants = expected(zone, local)
        counts[len(instants)] += 1
        where = (name, local.isoformat(), line)
        if not instants:
            assert got == "" and remark == "time that the clocks of its zone skip" and quality == "uncertain", where
            continue
        assert dt.datetime.fromisoformat(got.rstrip("Z")) in instants, (where, instants)
        if len(instants) == 1:
            assert quality == "good", where
    return counts


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("oxherd")
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(2**32))
    parser.add_argument("--zones", type=int, default=80)
    given = parser.parse_args()
    zoneinfo.reset_tzpath(["/usr/share/zoneinfo"])
    random_ = random.Random(given.seed)
    names = sorted(zoneinfo.available_timezones() - {"Factory", "localtime"})
    chosen = random_.sample(names, min(given.zones, len(names)))
    total = {0: 0, 1: 0, 2: 0}
    print(f"seed {given.seed}")
    with tempfile.TemporaryDirectory() as directory:
        for name in chosen:
            for key, count in check(given.oxherd, directory, name, random_).items():
                total[key] += count
    print(f"{len(chosen)} zones of {len(names)}: {total[1]} times once, {total[0]} skipped, {total[2]} twice")
    assert total[0] > 0 and total[2] > 0, "no change of the clocks was among them"


if __name__ == "__main__":
    sys.exit(main())

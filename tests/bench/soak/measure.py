"""Memory and the phase of polls: the real daemon for some minutes, and a week in the process on a simulated clock."""

import json
import subprocess
import time

from measuring import SITE, Place, Row, quantile, resident_bytes, sensor, slope_with_u, tcp_bus

SENSORS = 20


def settings(port):
    text = [SITE, tcp_bus("plant", port)]
    for unit in range(1, SENSORS + 1):
        text.append(f'[room.r{unit}]\nregime = "occupied"\n' + sensor(f"r{unit}", "o2", "oxygen", "plant", unit, "oxygen-percent-uint16") +
                    f'[room.r{unit}.alarm.low-oxygen]\nquantity = "oxygen"\nbelow = "19.5 %"\n')
    return "".join(text)


def moved_ms(times_us):
    """How far the polls of a unit have moved on their grid of 1 s between the first and the last quarter. Polls are late,
    never early, so the early ones of each quarter tell where the grid is."""
    phases = [(t - times_us[0] + 500_000) % 1_000_000 for t in times_us]
    quarter = len(phases) // 4
    return (quantile(phases[-quarter:], 0.1) - quantile(phases[:quarter], 0.1)) / 1e3


def real(options):
    with Place(options) as place:
        port = place.start_servers(1, "times")
        daemon = place.start_daemon(settings(port))
        place.wait_for("polls", lambda: len(place.log("servers").splitlines()) > 4 * SENSORS)
        begun, when, resident = time.monotonic(), [], []
        while (passed := time.monotonic() - begun) < max(options.seconds, 8):
            when.append(passed / 3600)
            resident.append(resident_bytes(daemon.pid) / 1024)
            time.sleep(1)
        units = {}
        for line in place.log("servers").splitlines()[:-1]:
            unit, at = line.split()
            units.setdefault(unit, []).append(int(at))
        moved = max((moved_ms(times[2:]) for times in units.values()), key=abs)
        late = len(when) // 3  # what the start takes is no growth
        slope, u = slope_with_u(when[late:], resident[late:])
        return moved, sum(map(len, units.values())), {"seconds": passed, "slope_KiB_per_h": slope, "u_KiB_per_h": u,
                                                      "resident_KiB": resident}


def week(options):
    with Place(options) as place:
        done = subprocess.run([options.bin / "oxherd_bench_week", "7", str(max(10, options.seconds)), place.path / "week"], check=True,
                              capture_output=True, text=True)
        return json.loads(done.stdout)


def measure(options):
    moved, polls, memory = real(options)
    simulated = week(options)
    resident = simulated["resident_MiB"]
    half = resident[len(resident) // 2:]
    slope, u = slope_with_u(range(len(half)), half) if len(half) > 2 else (0.0, 0.0)
    growth = abs(slope) * len(half)
    return [
        Row("soak phase", f"polls moved on their grid in {memory['seconds']:.0f} s ({polls} polls)", f"{moved:+.3f} ms",
            "1 ms, a thousandth of the period", abs(moved), 1.0, at_most=True),
        Row("soak week phase", f"{simulated['days']:.1f} simulated days, {simulated['polls']} polls, "
            f"{simulated['late_by_a_period']} held up", f"{simulated['off_the_grid']} off their grid", "none", simulated["off_the_grid"], 0,
            at_most=True, more={k: v for k, v in simulated.items() if k != "resident_MiB"}),
        Row("soak week memory", f"second half of {simulated['days']:.1f} simulated days, at {resident[-1] if resident else 0:.1f} MiB",
            f"{slope * 24 * 1024:+.1f} KiB a day, u {u * 24 * 1024:.1f}; daemon {memory['slope_KiB_per_h']:+.0f} KiB/h, "
            f"u {memory['u_KiB_per_h']:.0f}", "1 MiB more", growth, 1.0, at_most=True, more={"resident_MiB": resident, "daemon": memory}),
    ]

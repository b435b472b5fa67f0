"""Use of a serial line by the daemon, against the least time that the same polls could take."""

import json

from measuring import SITE, Place, Row, sensor, wait_for

# Eight registers a poll. More devices than the line can serve in a tenth of a second: one is always due.
DEVICES = 40
PROFILE = """
description = "probe on a busy line: eight registers"
[read]
gap_max = 4
[point.temperature]
table = "input"
address = 0
type = "float32"
unit = "°C"
uncertainty = "0.3 K"
[point.humidity]
table = "input"
address = 2
type = "float32"
unit = "%RH"
uncertainty = "3 %"
[point.pressure]
table = "input"
address = 6
type = "float32"
unit = "kPa"
uncertainty = "50 Pa"
"""


def settings(device, baud):
    text = [SITE, f'[bus.line]\nkind = "modbus-rtu"\ndevice = "{device}"\nbaud = {baud}\nparity = "none"\ntimeout = "100 ms"\n']
    for unit in range(1, DEVICES + 1):
        text.append(f'[room.r{unit}]\nregime = "occupied"\n' +
                    sensor(f"r{unit}", "air", ["temperature", "humidity", "pressure"], "line", unit, "probe", "100 ms"))
    return "".join(text)


def measure_at(options, baud):
    with Place(options) as place:
        (place.path / "profiles").mkdir()
        (place.path / "profiles/probe.toml").write_text(PROFILE)
        device = place.path / "line"
        line = place.start("line", options.bin / "oxherd_bench_line", device, baud, options.seconds + 2)
        wait_for("the line", device.is_symlink)
        place.start_daemon(settings(device, baud))
        line.wait(options.seconds + 30)
        found = json.loads(place.log("line"))
        if found["polls"] < 5:
            raise SystemExit("the daemon did not poll the line:\n" + place.log()[-2000:])
        return Row(f"line {baud}", "use of a serial line, 8 registers a poll",
                   f"{found['polls']} polls, {found['short_gaps']} short gaps", "least time of the same polls", found["utilisation"], 0.98,
                   more=found)


def measure(options):
    return [measure_at(options, baud) for baud in ((115200,) if options.quick else (9600, 19200, 115200))]

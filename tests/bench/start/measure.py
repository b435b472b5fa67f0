"""From exec to the first reading that a person can ask for, and to the first that is on the disk."""

import sqlite3
import statistics
import time

from measuring import SITE, Place, Row, sensor, tcp_bus


def settings(port):
    return (SITE + tcp_bus("plant", port) + '[room.cryo-annexe]\nregime = "occupied"\n' +
            sensor("cryo-annexe", "o2", "oxygen", "plant", 1, "oxygen-percent-uint16") +
            '[room.cryo-annexe.alarm.low-oxygen]\nquantity = "oxygen"\nbelow = "19.5 %"\n')


def readable(answer):
    return any(s["last"] for room in (answer or {}).get("rooms", []) for s in room["sensors"])


def measure_once(place, port):
    place.state.mkdir(exist_ok=True)
    begun = time.monotonic()
    daemon = place.start_daemon(settings(port))
    while not readable(place.status()):
        if time.monotonic() - begun > 30:
            raise SystemExit("no reading came:\n" + place.log()[-2000:])
        time.sleep(0.002)
    told = time.monotonic() - begun
    records = sqlite3.connect(f"file:{place.state / 'measurements.sqlite'}?mode=ro", uri=True)
    while records.execute("SELECT count(*) FROM reading").fetchone()[0] == 0:
        time.sleep(0.002)
    on_disk = time.monotonic() - begun
    records.close()
    place.stop_daemon(daemon)
    for file in place.state.iterdir():
        file.unlink()
    return told, on_disk


def measure(options):
    with Place(options) as place:
        port = place.start_servers(1)
        times = [measure_once(place, port) for _ in range(2 if options.quick else max(5, options.seconds))]
        told, on_disk = (sorted(one[i] * 1e3 for one in times) for i in (0, 1))
        more = {"told_ms": told, "on_disk_ms": on_disk}
        middle = statistics.median(told)
        return [Row("start", "from exec to the first reading", f"{middle:.0f} ms, on disk {statistics.median(on_disk):.0f} ms",
                    "300 ms", middle, 300, at_most=True, more=more)]

"""10,000 channels once a second: processor time and memory of the daemon, with store, alarms and broker.

A channel is one point of a device, as in daemon/room/channel.hpp."""

import time

from measuring import SITE, Place, Row, cpu_by_thread, cpu_s, resident_bytes, sensor, tcp_bus

BUSES = 100
PACK = "10 s"  # as the manual advises for thousands of sensors
AT_ONCE = 16  # requests: for servers that take so many
A_ROOM = 6  # channels: two of oxygen, carbon dioxide, and temperature, humidity and pressure of one probe


def settings(port, broker, channels):
    """Rooms of four devices: two oxygen transmitters, carbon dioxide, air. One poll each a second."""
    rooms = -(-channels // A_ROOM)
    buses = min(BUSES, rooms)
    text = [SITE, f'[mqtt]\nbroker = "mqtt://127.0.0.1:{broker}"\npack = "{PACK}"\n' if broker else ""]
    text += [tcp_bus(f"b{bus}", port + bus, AT_ONCE) for bus in range(buses)]
    for n in range(rooms):
        bus, place = f"b{n % buses}", n // buses
        text.append(f'[room.r{n}]\nregime = "occupied"\noxygen_vote = "1oo2"\n' +
                    sensor(f"r{n}", "o2-a", "oxygen", bus, 2 * place + 1, "oxygen-percent-uint16") +
                    sensor(f"r{n}", "o2-b", "oxygen", bus, 2 * place + 2, "oxygen-percent-uint16") +
                    sensor(f"r{n}", "co2", "carbon-dioxide", bus, 61 + place, "co2-uint16") +
                    sensor(f"r{n}", "air", ["temperature", "humidity", "pressure"], bus, 101 + place, "ambient-int16") +
                    f'[room.r{n}.alarm.low-oxygen]\nquantity = "oxygen"\nbelow = "19.5 %"\n'
                    f'[room.r{n}.alarm.high-co2]\nquantity = "carbon-dioxide"\nabove = "5000 ppm"\n')
    return "".join(text), buses


def measure(options):
    channels = 60 if options.quick else 10000
    with Place(options) as place:
        broker = place.start_broker()
        port = place.start_servers(BUSES)
        text, _ = settings(port, broker, channels)
        daemon = place.start_daemon(text)
        place.wait_for("the daemon to watch", lambda: "watching" in place.log(), patience=120)
        polls = lambda: sum(bus["polls"] for bus in place.status()["buses"])
        place.wait_for("every channel", lambda: (s := place.status()) and all(r["monitored"] for r in s["rooms"]), patience=180, every=2)
        time.sleep(0 if options.quick else 10)
        first, counted, threads0 = polls(), time.monotonic(), cpu_by_thread(daemon.pid)
        time.sleep(2)  # the question for the status costs, and is no part of it
        cpu0, begun, resident = cpu_s(daemon.pid), time.monotonic(), []
        while time.monotonic() < begun + options.seconds:
            time.sleep(1)
            resident.append(resident_bytes(daemon.pid))
        spent, passed = cpu_s(daemon.pid) - cpu0, time.monotonic() - begun
        threads1, status = cpu_by_thread(daemon.pid), place.status()
        rate = (sum(bus["polls"] for bus in status["buses"]) - first) / (time.monotonic() - counted)
        share, mib = spent / passed, max(resident) / 2**20
        more = {"polls_per_s": rate, "polls_dropped": status["polls_dropped"], "store": status["store"], "mqtt": status["mqtt"],
                "threads_share": {name: (t - threads0.get(name, 0)) / (passed + 2) for name, t in threads1.items()},
                "failures": sum(bus["failures"] for bus in status["buses"])}
        what = f"{A_ROOM * len(status['rooms'])} channels once a second ({rate:.0f} polls/s, packs of {PACK})"
        return [Row("channels processor", what, f"{share * 100:.1f} % of a core", "half of one core", share, 0.5, at_most=True, more=more),
                Row("channels memory", what, f"{mib:.1f} MiB resident", "64 MiB", mib, 64, at_most=True)]

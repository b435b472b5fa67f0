"""What goes wrong with the machine around the daemon: its clock, its memory, a person or program that reloads like mad."""

import contextlib
import datetime
import http.client
import os
import pathlib
import resource
import signal
import socket
import time
import unittest

from fault_site import FaultTest, GOOD, LOW, RAISED, RELAY_WITHIN_S
from plant import wait_for

SANITIZED = bool(os.environ.get("OXHERD_SANITIZE"))
YEAR_S = 365 * 86400


def fake_clock():
    return next(iter(sorted(pathlib.Path("/usr/lib").glob("*/faketime/libfaketimeMT.so.1"))))


class ProcessFaults(FaultTest):
    @unittest.skipIf(SANITIZED, "a sanitizer wants to be the first library, and so does the clock")
    def test_wall_clock_stepped_both_ways(self):
        plant = self.site({"room-1": "tcp", "room-2": "tcp"})
        clock = plant.dir / "clock"
        clock.write_text("+0")
        plant.start(env=dict(os.environ, LD_PRELOAD=str(fake_clock()), FAKETIME_TIMESTAMP_FILE=str(clock),
                             FAKETIME_NO_CACHE="1", FAKETIME_DONT_FAKE_MONOTONIC="1"))
        begun, last = time.time(), 0
        for offset in (3600, 0, -3600, YEAR_S, 0):
            with self.subTest(step=offset - last):
                before = max([line["sequence"] for line in plant.journal()], default=0)
                asked = plant.transmitters["room-2"].asked
                clock.write_text(f"{offset:+d}")
                plant.daemon.wait_for_text(rf"the wall clock stepped by \{offset - last:+d}\.\d s; delays and ages are not affected")
                wait_for("ten polls", lambda: plant.transmitters["room-2"].asked >= asked + 10)
                self.assertEqual(plant.transitions("room-1", before) + plant.transitions("room-2", before), [], "no false alarm")
                self.assertTrue(all(r["monitored"] and r["relay_energised"] for r in plant.status()["rooms"]))
                self.assertLess(plant.leak("room-1"), RELAY_WITHIN_S)
                wait_for("the journal", lambda: plant.transitions("room-1", before) == [("low-oxygen", *RAISED)])
                told = wait_for("the reader", lambda: [line for line in plant.reader.payloads("journal") if line["sequence"] > before])
                self.assertLess(abs(wall(told[0]["at"]) - (time.time() + offset)), 60, "with the time that the clock shows")
                plant.transmitters["room-1"].percent = GOOD
                plant.wait_for_alarm("room-1", "low-oxygen", "latched_unacknowledged")
                plant.acknowledge_and_reset("room-1")
            last = offset
        # Readings of both times are there: those of a clock that was ahead lie ahead.
        times = sorted(at - begun for at, _value, _quality in plant.readings("room-2"))
        for offset in (3600, 0, -3600):
            self.assertTrue(any(abs(at - offset) < 600 for at in times), f"readings with the clock {offset} s off")
        self.check_records()

    def test_sighup_storm(self):
        plant = self.site({"room-1": "tcp", "room-2": "tcp"})
        plant.start()
        good = plant.config.read_text()
        bad = good.replace('below = "19.5 %"', 'below = "19.5 kPa"')
        other = good.replace('below = "19.5 %"', 'below = "19.4 %"', 1)

        def storm(times, room, percent):
            for n in range(times):
                if n == times // 2:
                    plant.transmitters[room].percent = percent
                plant.config.write_text((good, bad, other)[n % 3])
                plant.daemon.kill(signal.SIGHUP)
        begun = time.monotonic()
        storm(100, "room-1", LOW)
        wait_for("the relay to drop", lambda: not plant.relay("room-1"))
        plant.wait_for_alarm("room-1", "low-oxygen", "unacknowledged")
        storm(100, "room-1", GOOD)
        plant.wait_for_alarm("room-1", "low-oxygen", "latched_unacknowledged")
        self.assertFalse(plant.relay("room-1"), "no reload energises it")
        plant.config.write_text(other)
        plant.daemon.kill(signal.SIGHUP)
        wait_for("the last file to be in force", lambda: abs(plant.alarm("room-1", "low-oxygen")["limit"] - 0.194) < 1e-9)
        print(f"201 SIGHUPs within {time.monotonic() - begun:.1f} s")
        self.assertIn("reload refused", plant.daemon.text())
        self.assertIn("reloaded: watching 2 rooms", plant.daemon.text())
        wait_for("both rooms to be monitored", lambda: all(r["monitored"] for r in plant.status()["rooms"]))
        self.assertEqual(plant.transitions("room-1"), [("low-oxygen", *RAISED), ("low-oxygen", "unacknowledged", "latched_unacknowledged")])
        self.assertEqual(plant.transitions("room-2"), [])
        plant.acknowledge_and_reset("room-1")
        self.assertLess(plant.leak("room-2"), RELAY_WITHIN_S)
        plant.transmitters["room-2"].percent = GOOD
        self.check_records()

    @unittest.skipIf(SANITIZED, "sanitizers need more address space than any limit")
    def test_memory_limit(self):
        """Without memory the daemon goes on, or ends at once with a word; it never stays and watches nothing."""
        plant = self.site({"room-1": "tcp", "room-2": "tcp"})
        plant.start()
        plant.leak("room-1")
        wait_for("the journal", lambda: plant.transitions("room-1") == [("low-oxygen", *RAISED)])
        limit = int(pathlib.Path(f"/proc/{plant.daemon.child.pid}/statm").read_text().split()[0]) * resource.getpagesize()
        resource.prlimit(plant.daemon.child.pid, resource.RLIMIT_AS, (limit, limit))  # nothing more than it has
        with contextlib.ExitStack() as open_ones:
            for _ in range(300):  # whoever looks takes memory
                if plant.daemon.child.poll() is not None:
                    break
                with contextlib.suppress(OSError, http.client.HTTPException):
                    stream = socket.create_connection(("127.0.0.1", plant.http_port), timeout=1)
                    open_ones.callback(stream.close)
                    stream.sendall(f"GET /api/stream HTTP/1.1\r\nHost: 127.0.0.1:{plant.http_port}\r\n\r\n".encode())
                    plant.asked("history/readings?limit=10000")
            for _ in range(20):  # and so does a reload
                plant.daemon.kill(signal.SIGHUP)
                asked = plant.transmitters["room-2"].asked
                wait_for("a poll, or the end", lambda: plant.daemon.child.poll() is not None or
                         plant.transmitters["room-2"].asked > asked)
            begun = time.monotonic()
            plant.transmitters["room-2"].percent = LOW
            wait_for("the relay to drop, or the end", lambda: plant.daemon.child.poll() is not None or
                     any(not on for _at, on in plant.relay_changes("room-2", begun)), patience=RELAY_WITHIN_S)
        if plant.daemon.child.poll() is None:
            print("the daemon went on")
            plant.kill_daemon()
        else:
            last = plant.daemon.text().splitlines()[-1]
            print(f"the daemon ended with {plant.daemon.child.returncode}: {last}")
            self.assertEqual(plant.daemon.child.returncode, -signal.SIGABRT)
            self.assertIn("ended by a fault: out of memory", last)
        plant.start_daemon()
        for room in ("room-1", "room-2"):
            plant.wait_for_alarm(room, "low-oxygen", "unacknowledged")
            self.assertFalse(plant.relay(room))
            self.assertEqual(plant.transitions(room).count(("low-oxygen", *RAISED)), 1)
            plant.transmitters[room].percent = GOOD
            plant.wait_for_alarm(room, "low-oxygen", "latched_unacknowledged")
            plant.acknowledge_and_reset(room)
        self.check_records()


def wall(text):
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()


if __name__ == "__main__":
    unittest.main()

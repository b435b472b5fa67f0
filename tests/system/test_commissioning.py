"""A new site from nothing: scan the bus, write register maps, answer the questions, check, run, read."""

import json
import os
import pty
import re
import select
import signal
import socket
import subprocess
import time
import unittest

from commissioning_peers import holding, refusing, silent
from plant import BIN, PATIENCE, Plant, free_port, wait_for

CELL, AIR = 11, 21  # units of the simulated site


def oxherd(*arguments, **how):
    return subprocess.run([BIN / "oxherd", *map(str, arguments)], capture_output=True, text=True, timeout=PATIENCE,
                          stdin=subprocess.DEVNULL, **how)


class AtTheSimulatedSite(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        self.plant.start_site("--speed", 1, "--story", "quiet")
        self.bus = f"tcp://127.0.0.1:{self.plant.tcp_port}"
        self.profiles = self.plant.dir / "profiles"
        self.profiles.mkdir()

    def write_profile(self, name, unit, expect):
        done = oxherd("scan", self.bus, "--units", unit, "--expect", expect, "--watch", "1s", "--elevation", "212m",
                      "--write-profile", self.profiles / f"{name}.toml")
        self.assertEqual(done.returncode, 0, done.stderr)

    def test_every_device_is_found_and_read_as_what_it_is(self):
        done = oxherd("scan", self.bus, "--watch", "2s", "--elevation", "212m", "--json")
        self.assertEqual(done.returncode, 0, done.stderr)
        found = json.loads(done.stdout)
        self.assertEqual(found["units_asked"], 247)
        values = {u["unit"]: [(v["measurand"], v["unit"], v["address"]) for v in u["values"]] for u in found["units"]}
        cell = [("oxygen", "mV", 0)]
        air = [("temperature", "°C", 0), ("humidity", "%RH", 1)]
        self.assertEqual(values, {11: cell, 12: cell, 13: cell, 21: air + [("pressure", "hPa", 2)], 31: [], 32: [], 33: [],
                                  41: cell, 42: air, 43: [("carbon-dioxide", "ppm", 0)], 44: [], 45: []})
        fits = {u["unit"]: u["profile"] for u in found["units"] if u["profile"]}
        self.assertEqual(fits[11], "millivolts-float32")
        self.assertEqual(fits[21], "ambient-int16")

    def test_from_scan_to_a_good_reading(self):
        self.write_profile("annexe-cell", CELL, "oxygen")
        self.write_profile("annexe-air", AIR, "temperature,humidity,pressure")
        text = (self.profiles / "annexe-air.toml").read_text()
        self.assertIn("confirm each in the device's own manual", text)

        settings = self.plant.dir / "new-site.toml"
        answers = self.plant.dir / "answers.toml"
        answers.write_text(f"""
site = "larkfield"
elevation = "212 m"
bus = "{self.bus}"
room = "cryo-annexe"
oxygen_profile = "annexe-cell"
oxygen_unit = {CELL}
cell_zero = "0.4 mV"
cell_serial = "LK-0007"
calibration_signal = "12.6 mV"
calibration_temperature = "21 °C"
calibration_humidity = "45 %"
calibration_pressure = "99.8 kPa"
ambient_profile = "annexe-air"
ambient_unit = "{AIR}"
relay = "31/0"
page = "off"
""")
        done = oxherd("init", settings, "--answers", answers)
        self.assertEqual(done.returncode, 0, done.stderr)
        checked = oxherd("check", "--config", settings)
        self.assertEqual(checked.returncode, 0, checked.stdout)
        self.assertIn("1 room, 2 sensors", checked.stdout)
        before = settings.read_text()
        again = oxherd("init", settings, "--answers", answers)
        self.assertEqual(again.returncode, 1)
        self.assertIn("--force replaces it", again.stderr)
        self.assertEqual(settings.read_text(), before)

        self.plant.config = settings
        self.plant.start_daemon(ready=False).wait_for_text("watching 1 room")
        room = wait_for("the room to be monitored", lambda: (lambda r: r if r["monitored"] else None)(
            self.plant.room("cryo-annexe")))
        self.assertEqual({s["sensor"]: s["quality"] for s in room["sensors"]}, {"cell": "good", "air": "good"})
        self.assertAlmostEqual(room["dry_fraction"], 0.2095, delta=0.003)

    def test_a_profile_is_never_overwritten_by_accident(self):
        self.write_profile("annexe-air", AIR, "temperature")
        file = self.profiles / "annexe-air.toml"
        file.write_text("description = 'by hand'\n")
        done = oxherd("scan", self.bus, "--units", AIR, "--write-profile", file)
        self.assertEqual(done.returncode, 2)
        self.assertIn("--force", done.stderr)
        self.assertEqual(file.read_text(), "description = 'by hand'\n")


class WithOtherDevices(unittest.TestCase):
    def peer(self, one):
        self.addCleanup(one.close)
        return f"tcp://127.0.0.1:{one.port}", one

    def test_one_that_answers_slowly_is_found_when_it_is_waited_for(self):
        bus, _ = self.peer(holding([209, 411], delay_s=0.15, units=[2]))
        done = oxherd("scan", bus, "--units", "1-3", "--registers", "0-1", "--timeout", "2s", "--watch", "1s", "--json")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertEqual([u["unit"] for u in json.loads(done.stdout)["units"]], [2])
        hurried = oxherd("scan", bus, "--units", "2", "--timeout", "20ms")
        self.assertEqual(hurried.returncode, 1)
        self.assertIn("within 20 ms:", hurried.stderr)

    def test_one_that_only_refuses_counts_as_there(self):
        bus, peer = self.peer(refusing(2))
        done = oxherd("scan", bus, "--units", "7", "--registers", "0-15")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("unit 7: no registers in the range that was looked at", done.stdout)
        self.assertLessEqual({pdu[0] for _, pdu in peer.requests}, {1, 2, 3, 4})  # reading functions only

    def test_a_gateway_that_never_answers_costs_a_known_time(self):
        bus, _ = self.peer(silent())
        begun = time.monotonic()
        done = oxherd("scan", bus, "--units", "1-10", "--timeout", "100ms")
        self.assertLess(time.monotonic() - begun, 10)
        self.assertEqual(done.returncode, 1)
        self.assertIn("none of 10 units answered", done.stderr)
        self.assertIn("the server takes connections", done.stderr)

    def test_a_closed_port_is_named_at_once(self):
        begun = time.monotonic()
        done = oxherd("scan", f"tcp://127.0.0.1:{free_port()}")
        self.assertLess(time.monotonic() - begun, 10)
        self.assertEqual(done.returncode, 1)
        self.assertIn("connection refused", done.stderr)

    def test_a_server_that_takes_no_notice_of_units_is_looked_at_once(self):
        bus, _ = self.peer(holding([209, 411]))
        done = oxherd("scan", bus, "--registers", "0-3", "--watch", "1s", "--json")
        found = json.loads(done.stdout)
        self.assertEqual([u["unit"] for u in found["units"]], [1])
        self.assertIn("takes no notice of the unit number", found["notes"][0])

    def test_ctrl_c_ends_a_scan_and_keeps_what_was_found(self):
        bus, peer = self.peer(silent())
        child = subprocess.Popen([BIN / "oxherd", "scan", bus], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        wait_for("the scan to ask", lambda: peer.requests)
        child.send_signal(signal.SIGINT)
        _, err = child.communicate(timeout=PATIENCE)
        self.assertEqual(child.returncode, 6)
        self.assertIn("interrupted", err)


class Terminal:
    """`oxherd init` at a pseudo terminal."""

    def __init__(self, *arguments):
        self.text = ""
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.execv(BIN / "oxherd", ["oxherd", *map(str, arguments)])

    def wait_for(self, pattern):
        """Reads until the pattern has come, and forgets what came before it."""
        end = time.monotonic() + PATIENCE
        while not (match := re.search(pattern, self.text)):
            ready, _, _ = select.select([self.fd], [], [], max(0, end - time.monotonic()))
            if not ready:
                raise AssertionError(f"waited in vain for {pattern!r} in:\n{self.text}")
            try:
                self.text += os.read(self.fd, 4096).decode(errors="replace")
            except OSError:  # the program has closed the terminal
                raise AssertionError(f"ended without {pattern!r}:\n{self.text}") from None
        self.text = self.text[match.end():]

    def answer(self, key, text):
        self.wait_for(rf"\n{key}: ")
        os.write(self.fd, (text + "\n").encode())

    def exit_code(self):
        try:
            while os.read(self.fd, 4096):
                pass
        except OSError:
            pass
        return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])


class TheQuestions(unittest.TestCase):
    def setUp(self):
        self.plant = Plant()
        self.addCleanup(self.plant.close)
        self.file = self.plant.dir / "asked.toml"

    def test_at_a_terminal_make_a_file_that_checks(self):
        terminal = Terminal("init", self.file)
        terminal.answer("site", "larkfield")
        terminal.answer("elevation", "212")
        terminal.wait_for("unit")  # a bare number is refused, and asked again
        terminal.answer("elevation", "212 m")
        for key, text in [("time_zone", "UTC"), ("emergency", ""), ("bus", "tcp://127.0.0.1:1502"),
                          ("room", "cryo-annexe"), ("room_kind", ""), ("oxygen_profile", "millivolts-float32"),
                          ("oxygen_unit", "11"), ("cell_model", ""), ("cell_zero", "0.4 mV"), ("cell_serial", "LK-0007"),
                          ("calibration_signal", ""), ("ambient_profile", "ambient-int16"), ("ambient_unit", "21"),
                          ("co2_profile", ""), ("relay", ""), ("mqtt", ""), ("page", "")]:
            terminal.answer(key, text)
        terminal.wait_for("wrote ")
        self.assertEqual(terminal.exit_code(), 0)
        self.assertEqual(oxherd("check", "--config", self.file).returncode, 0)

    def test_left_with_ctrl_c_write_nothing(self):
        terminal = Terminal("init", self.file)
        terminal.answer("site", "larkfield")
        terminal.wait_for(r"\nelevation: ")
        os.write(terminal.fd, b"\x03")
        terminal.wait_for("nothing was written")
        self.assertEqual(terminal.exit_code(), 1)
        self.assertFalse(self.file.exists())

    def test_without_a_terminal_say_what_to_do(self):
        done = oxherd("init", self.file)
        self.assertEqual(done.returncode, 2)
        self.assertIn("--answers", done.stderr)

    def test_in_a_file_are_all_judged_at_once(self):
        answers = self.plant.dir / "answers.toml"
        answers.write_text('elevatoin = "212 m"\n')
        self.assertIn("did you mean elevation?", oxherd("init", self.file, "--answers", answers).stderr)
        answers.write_text('site = "larkfield"\nelevation = "212"\nbus = "plant"\n')
        done = oxherd("init", self.file, "--answers", answers)
        self.assertEqual(done.returncode, 1)
        for part in ("elevation: ", "bus: ", "room: needs an answer", "oxygen_unit: needs an answer"):
            self.assertIn(part, done.stderr)
        self.assertFalse(self.file.exists())

    def test_can_be_had_as_a_form(self):
        form = oxherd("init", "--questions", self.file)
        self.assertEqual(form.returncode, 0)
        self.assertIn('\nelevation = ""\n', form.stdout)
        answers = self.plant.dir / "answers.toml"
        answers.write_text(form.stdout)  # not filled in: no example may become an answer
        unfilled = oxherd("init", self.file, "--answers", answers)
        self.assertEqual(unfilled.returncode, 1)
        self.assertIn("elevation: needs an answer", unfilled.stderr)


if __name__ == "__main__":
    unittest.main()
